#include "warmledger/whatif/trials.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <set>

#include <fmt/format.h>

#include "warmledger/appraisal/claim.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/ledger/formulas.hpp"
#include "warmledger/whatif/workers.hpp"

namespace warmledger::whatif {

namespace {

constexpr std::size_t none = static_cast<std::size_t>(-1);
constexpr int sun_points = 9;
constexpr std::size_t chunk_trials = 256;
/// Normal scores beyond which no grid is laid: 1 in 4 million draws falls outside and is moved to the bound.
constexpr double widest_score = 5;

constexpr std::array<std::string_view, input_count> input_names{"installed_cost", "hot_water", "upkeep", "system_life",
                                                                "heater_left"};

constexpr std::array<TrialColumnText, trial_column_count> column_texts{{
    {"installed_cost_usd", "dollars", "paid to the installer"},
    {"incentives_usd", "dollars", "received within the study, less the income tax on them"},
    {"due_at_install_usd", "dollars", "installed cost less incentives that arrive on the install date"},
    {"first_year_saving_usd", "dollars", "bills saved in year 1"},
    {"net_savings_usd", "dollars", "life-cycle cost without less life-cycle cost with, bought in cash"},
    {"simple_payback_years", "years", "in cash; infinite where the study ends before"},
    {"discounted_payback_years", "years", "in cash; infinite where the study ends before"},
    {"loan_amount_usd", "dollars", "lent"},
    {"paid_at_install_usd", "dollars", "what neither incentives at install nor the loan cover, and fees paid in cash"},
    {"net_savings_with_loan_usd", "dollars", "net savings with the loan, or in cash where nothing is lent"},
    {"lowest_bill_month_usd", "dollars",
     "bills saved less the loan's payment, in the worst month that has a payment; "
     "without a loan in the worst month of the system's life"},
    {"worst_month_usd", "dollars",
     "everything that comes in or goes out in the worst month after the install date, "
     "upkeep, replacements, incentives and loan included"},
    {"deepest_usd", "dollars", "lowest sum of everything since the install date, loan included"},
    {"installed_cost_times", "", "drawn: times the offer's installed cost"},
    {"hot_water_times", "", "drawn: times the household's use"},
    {"upkeep_times", "", "drawn: times the planned upkeep"},
    {"system_life_years", "years", "drawn: life of the system"},
    {"heater_left_years", "years", "drawn: years that the existing heater has left"},
    {"sun_times", "", "drawn: mean of the study's years over the typical year"},
    {"fuel_price_times", "",
     "drawn: price of the heater's fuel in the study's last year over that of the install date"},
    {"incentives_gone", "", "drawn: number of incentives that are gone"},
}};

/// The points in order, with 1 among them, so that an input as planned is met exactly.
std::vector<double> with_one(std::vector<double> points) {
  points.push_back(1.0);
  std::sort(points.begin(), points.end());
  points.erase(std::unique(points.begin(), points.end()), points.end());
  return points;
}

/// Even steps from low to high.
std::vector<double> even_nodes(double low, double high) {
  std::vector<double> points;
  for (int i = 0; i < sun_points; ++i) points.push_back(low + (high - low) * i / (sun_points - 1));
  return with_one(std::move(points));
}

/// Even steps of the normal score, so that points are dense where draws are.
std::vector<double> nodes_of(const Distribution& drawn) {
  if (drawn.shape == Shape::fixed) return with_one({value_at(drawn, 0)});
  std::vector<double> points{value_at(drawn, -widest_score), value_at(drawn, widest_score)};
  for (double score = -4; score <= 4; score += 0.25) points.push_back(value_at(drawn, score));
  return with_one(std::move(points));
}

/// Clearest mean of a month: the end of the range to which the monthly correlations of the sky were fitted.
constexpr double clearest_month = 0.8;

/// A climate with `times` the sun. No month gets clearer than the clearest there are, or than it was.
climate::Climate with_sun(climate::Climate climate, double times) {
  for (int month = 1; month <= 12; ++month) {
    double& kwh = climate.months.horizontal_kwh_m2_day[static_cast<std::size_t>(month - 1)];
    const double outside =
        climate::extraterrestrial_kwh_m2_day(climate.place.latitude_deg, climate::average_day_of_month(month));
    kwh = times <= 1 ? kwh * times : std::max(kwh, std::min(kwh * times, clearest_month * outside));
  }
  return climate;
}

/// Where a value falls between nodes.
struct Between {
  std::size_t below = 0;
  double share = 0;  ///< of the way to the next node
};
Between between(const std::vector<double>& points, double value) {
  if (points.size() == 1) return {};
  const auto above = std::upper_bound(points.begin() + 1, points.end() - 1, value);
  const auto at = static_cast<std::size_t>(above - points.begin()) - 1;
  return {at, std::clamp((value - points[at]) / (points[at + 1] - points[at]), 0.0, 1.0)};
}

double months_total(const std::vector<double>& flows) {
  double total = 0;
  for (const double flow : flows) total += flow;
  return total;
}

[[noreturn]] void refuse(std::string_view name, double value, std::string_view allowed) {
  throw errors::ValueOutOfRange(
      {{{}, {}, {}, std::string(name)}, fmt::format("{}", value), "is out of range", std::string(allowed)});
}

void check(const RiskModel& model) {
  for (std::size_t i = 0; i < input_count; ++i) check(model.inputs.at(i), input_names.at(i));
  if (!(model.sun_deviation >= 0 && model.sun_deviation <= 0.5))
    refuse("sun_deviation", model.sun_deviation, "0 to 0.5");
  for (const double year : model.sun_years) {
    if (!(year >= 0.3 && year <= 1.7)) refuse("sun_years", year, "0.3 to 1.7 times the typical year");
  }
  std::set<prices::Fuel> met;
  for (const PriceRisk& risk : model.prices) {
    if (!(risk.volatility >= 0 && risk.volatility <= 2)) refuse("volatility", risk.volatility, "0 to 2");
    if (!(risk.persistence >= 0 && risk.persistence <= 1)) refuse("persistence", risk.persistence, "0 to 1");
    if (!met.insert(risk.fuel).second) {
      throw errors::DuplicateName(
          {{{}, {}, {}, "prices"}, std::string(prices::name_of(risk.fuel)), "stands twice", "each fuel once"});
    }
  }
  for (const auto& [id, chance] : model.gone) {
    if (!(chance >= 0 && chance <= 1)) refuse("gone." + id, chance, "a chance of 0 to 1");
  }
}

}  // namespace

std::string_view name_of(Input input) {
  return input_names.at(static_cast<std::size_t>(input));
}

std::span<const TrialColumnText> trial_columns() {
  return column_texts;
}

Prospect::Prospect(const appraisal::Appraiser& appraiser, const catalog::Household& household, hotwater::Detail detail,
                   RiskModel model, const std::optional<std::string>& loan, unsigned threads)
    : appraiser_(&appraiser), model_(std::move(model)), key_(key_of(household.id)) {
  check(model_);
  if (!model_.correlation.empty()) input_root_ = correlation_root(model_.correlation, input_count, "correlation");
  if (!model_.price_correlation.empty())
    price_root_ = correlation_root(model_.price_correlation, model_.prices.size(), "price_correlation");
  const std::vector<incentives::Rule>& rules = appraiser.stack().rules();
  for (const auto& [id, chance] : model_.gone) {
    const auto found = std::find_if(rules.begin(), rules.end(), [&id = id](const auto& rule) { return rule.id == id; });
    if (found == rules.end()) throw errors::unknown_name("gone", id, {});
    gone_.push_back(static_cast<std::size_t>(found - rules.begin()));
  }

  appraisal::Scratch scratch;
  base_ = appraiser.appraise<double>(household, detail, scratch);
  catalog::Household chosen = household;
  chosen.package = appraiser.program().packages[base_.package].id;
  appraisal::Prepared prepared = appraiser.prepare(chosen, scratch);
  if (prepared.failure) std::rethrow_exception(prepared.failure);
  lay_grid(chosen, prepared.home, detail, threads);

  const int years = base_.plan.study_years;
  // A price that nobody pays is not drawn, unless it moves another.
  if (price_root_.empty()) {
    std::erase_if(model_.prices, [&](const PriceRisk& risk) {
      return risk.fuel != course_.plan.fuel_without.fuel && risk.fuel != course_.plan.fuel_with.fuel &&
             risk.fuel != course_.plan.pump.fuel;
    });
  }
  dimensions_ = input_count + gone_.size() + static_cast<std::size_t>(years) * (1 + model_.prices.size());
  price_of_.fill(none);
  for (std::size_t p = 0; p < model_.prices.size(); ++p)
    price_of_.at(static_cast<std::size_t>(model_.prices[p].fuel)) = p;
  for (const ledger::Plan::Purchase* purchase :
       {&course_.plan.fuel_without, &course_.plan.fuel_with, &course_.plan.pump}) {
    base_index_.at(static_cast<std::size_t>(purchase->fuel)) =
        prices::price_indices<double>(purchase->escalation, years);
  }
  price_shift_.assign(static_cast<std::size_t>(years) * model_.prices.size(), 0.0);
  for (std::size_t p = 0; p < model_.prices.size(); ++p) {
    double variance = 0;
    for (std::size_t y = 1; y < static_cast<std::size_t>(years); ++y) {
      const PriceRisk& risk = model_.prices[p];
      variance = risk.persistence * risk.persistence * variance + risk.volatility * risk.volatility;
      price_shift_[y * model_.prices.size() + p] = variance / 2;
    }
  }
  const std::vector<double> deflators = ledger::deflators<double>(base_.plan.inflation_rate, years * 12);
  for (int y = 0; y <= years; ++y) inflation_.push_back(1 / deflators[static_cast<std::size_t>(y) * 12]);
  monthly_rate_ = economics::monthly_rate(appraiser.program().nominal_discount_rate);
  last_discount_ = std::pow(1 + monthly_rate_, -years * 12);
  take_loan(loan);
}

void Prospect::lay_grid(const catalog::Household& household, const appraisal::Home& home, hotwater::Detail detail,
                        unsigned threads) {
  const Distribution& use = model_.inputs.at(static_cast<std::size_t>(Input::hot_water));
  use_nodes_ = nodes_of(use);
  if (use_nodes_.front() <= 0) refuse("hot_water", use_nodes_.front(), "above 0 in every draw: set `low`");
  if (!model_.sun_years.empty()) {
    const auto [low, high] = std::minmax_element(model_.sun_years.begin(), model_.sun_years.end());
    sun_nodes_ = even_nodes(*low, *high);
  } else {
    const double wide = std::min(widest_score * model_.sun_deviation, 0.5);
    sun_nodes_ = even_nodes(1 - wide, 1 + wide);
  }
  std::vector<climate::Climate> climates;
  for (const double sun : sun_nodes_) climates.push_back(with_sun(*base_.climate, sun));
  appraisal::EnergyStore store(detail, appraiser_->wants_hours_of_day());
  std::vector<std::size_t> places;
  for (const double times : use_nodes_) {
    for (std::size_t s = 0; s < sun_nodes_.size(); ++s) {
      appraisal::Job job{sun_nodes_[s] == 1 ? base_.climate : &climates[s], base_.system, base_.plant, home.demand,
                         home.heater};
      job.demand.litre_day *= times;
      places.push_back(store.add(job));
    }
  }
  store.work_out(threads);
  auto place = places.begin();
  for (const double times : use_nodes_) {
    appraisal::Home other = home;
    other.demand.litre_day *= times;
    // Who uses more than the bills say has greater bills.
    catalog::Household user = household;
    for (double& units : user.water_heating_units) units *= times;
    for (double& usd : user.water_heating_bill_usd) usd *= times;
    for (const double sun : sun_nodes_) {
      const appraisal::Energy& energy = store[*place++];
      if (energy.failure) std::rethrow_exception(energy.failure);
      appraisal::Course course =
          appraiser_->course(user, other, base_.package, base_.system, energy.year, energy.simulated);
      const auto bills = [&](const ledger::Plan::Purchase& purchase) {
        const std::array<double, 12> calendar = ledger::year_one_usd<double>(purchase);
        return ledger::split_by_bills<double>(std::span<const double, 12>(calendar), course.plan.install_date);
      };
      grid_.push_back({bills(course.plan.fuel_without), bills(course.plan.fuel_with), bills(course.plan.pump),
                       course.claim.first_year_saving_kwh, course.claim.first_year_saving_therm,
                       course.claim.solar_share});
      if (times == 1 && sun == 1) course_ = std::move(course);
    }
  }
}

void Prospect::take_loan(const std::optional<std::string>& wanted) {
  const std::vector<loans::LoanTerms>& all = appraiser_->program().loans;
  const appraisal::LoanResult<double>* found = nullptr;
  if (!wanted) {
    if (base_.best_loan) found = &base_.loans[*base_.best_loan];
  } else if (!wanted->empty()) {
    if (std::none_of(all.begin(), all.end(), [&](const auto& terms) { return terms.id == *wanted; }))
      throw errors::unknown_name("loan", *wanted, {});
    for (const appraisal::LoanResult<double>& loan : base_.loans) {
      if (all[loan.loan].id == *wanted) found = &loan;
    }
    if (found == nullptr) {
      throw errors::NotAvailable(
          {{{}, {}, {}, "loan"}, *wanted, "lends nothing to this household", "a loan that its appraisal lists"});
    }
  }
  if (found == nullptr) return;
  loan_ = found->loan;
  terms_ = all[found->loan];
  if (found->bought_down_rate) terms_.buy_down_rate = terms_.yearly_rate - *found->bought_down_rate;
  // Sums in dollars that do not follow the amount: such a loan is worked out anew in every trial.
  loan_in_proportion_ = terms_.lump_usd == 0 && !terms_.lump_from_incentives;
  if (!loan_in_proportion_) return;
  const loans::Schedule<double>& schedule = found->schedule;
  ledger::Ledger<double> book(base_.plan.install_date, base_.plan.study_years);
  std::array<ledger::Series<double>, 4> series =
      ledger::loan_series(schedule, terms_.title, base_.plan.install_date, book.months());
  const std::size_t size = static_cast<std::size_t>(book.months()) + 1;
  bills_per_usd_.assign(size, 0.0);
  for (std::size_t k = 0; k < series[2].amounts.size(); ++k) bills_per_usd_[k + 1] = series[2].amounts[k];
  book.add(std::move(series[2]));
  book.add(std::move(series[3]));
  if (terms_.interest_deduction_rate > 0) {
    book.add(ledger::interest_deduction(schedule, terms_.title, terms_.interest_deduction_rate, base_.plan.install_date,
                                        book.months()));
  }
  loan_per_usd_ = book.difference();
  for (double& flow : loan_per_usd_) flow /= schedule.amount;
  for (double& flow : bills_per_usd_) flow /= schedule.amount;
  loan_worth_per_usd_ = economics::net_present_value(monthly_rate_, std::span<const double>(loan_per_usd_));
}

/// One thread's trials.
class Prospect::Worker {
 public:
  void begin(const Prospect& prospect) {
    if (p_ != nullptr) return;
    p_ = &prospect;
    const ledger::Plan& plan = p_->course_.plan;
    months_ = static_cast<std::size_t>(plan.study_years) * 12;
    cash_.assign(months_ + 1, 0.0);
    bills_.assign(months_ + 1, 0.0);
    loan_.assign(months_ + 1, 0.0);
    payments_.assign(months_ + 1, 0.0);
    price_.assign(static_cast<std::size_t>(plan.study_years) * prices::fuel_count, 1.0);
    sun_.assign(static_cast<std::size_t>(plan.study_years), 1.0);
    x_.assign(p_->model_.prices.size(), 0.0);
    score_.assign(p_->model_.prices.size(), 0.0);
    claim_ = p_->course_.claim;
    claim_.withdrawn.assign(p_->appraiser_->stack().rules().size(), 0);
    uniforms_.assign(p_->dimensions(), 0.5);
  }

  std::span<double> uniforms() { return uniforms_; }

  void trial(std::span<const double> uniforms, std::size_t row, TrialTable& table) {
    const auto set = [&](TrialColumn column, double value) { table.at(static_cast<std::size_t>(column))[row] = value; };
    draw(uniforms);
    const ledger::Plan& plan = p_->course_.plan;
    const double years = plan.study_years;
    const double cost = money::round_cents(plan.installed_cost_usd * input(Input::installed_cost));
    const Between use = between(p_->use_nodes_, input(Input::hot_water));
    const int life = drawn_years(Input::system_life, plan.system_life_years, 1);
    const double left = p_->model_.inputs.at(static_cast<std::size_t>(Input::heater_left)).shape == Shape::fixed
                            ? plan.heater_years_left * input(Input::heater_left)
                            : drawn_years(Input::heater_left, plan.heater_years_left, 0);
    receive(cost, use);
    const Aging& aging = aging_of(life, left);

    lay_bills(use, std::min(life, plan.study_years));
    for (std::size_t m = 0; m <= months_; ++m)
      cash_[m] = bills_[m] + aging.heaters[m] + input(Input::upkeep) * aging.upkeep[m];
    double paid = cost;
    double help = 0;
    double help_at_install = 0;
    for (const auto& [month, usd] : receipts_) {
      paid -= usd;
      if (month > static_cast<int>(months_)) continue;
      help += usd;
      if (month == 0) help_at_install += usd;
      cash_[static_cast<std::size_t>(month)] += usd;
    }
    cash_[0] -= cost;
    tax_on_property(std::min(life, plan.study_years));
    const double due = cost - help_at_install;
    const double remaining = aging.left + ledger::remaining_value<double>(paid, years, life, p_->inflation_.back());

    const std::span<const double> cash(cash_);
    const double worth_at_end = remaining * p_->last_discount_;
    const double net_savings = economics::net_present_value(p_->monthly_rate_, cash) + worth_at_end;
    const auto in_years = [](const economics::Measure<double>& months) {
      return months.value ? *months.value / 12 : std::numeric_limits<double>::infinity();
    };
    double saving = 0;
    for (std::size_t m = 1; m <= 12; ++m) saving += bills_[m];
    set(TrialColumn::installed_cost, cost);
    set(TrialColumn::incentives, help);
    set(TrialColumn::due_at_install, due);
    set(TrialColumn::first_year_saving, saving);
    set(TrialColumn::net_savings, net_savings);
    set(TrialColumn::simple_payback, in_years(economics::payback(cash)));
    set(TrialColumn::discounted_payback, in_years(economics::discounted_payback(p_->monthly_rate_, cash)));

    const double amount = borrow(due);
    double paid_at_install = due;
    double with_loan = net_savings;
    if (amount > 0) {
      paid_at_install = money::round_cents(due - loan_[0]);
      with_loan += p_->loan_in_proportion_
                       ? loan_[0] + amount * p_->loan_worth_per_usd_
                       : economics::net_present_value(p_->monthly_rate_, std::span<const double>(loan_));
    }
    set(TrialColumn::loan_amount, amount);
    set(TrialColumn::paid_at_install, paid_at_install);
    set(TrialColumn::net_savings_with_loan, with_loan);
    if (amount == 0) {
      std::fill(loan_.begin(), loan_.end(), 0.0);
      std::fill(payments_.begin(), payments_.end(), 0.0);
    }
    constexpr double never = std::numeric_limits<double>::infinity();
    double sum = cash_[0] + loan_[0];
    double deepest = sum;
    double worst = never;
    double lowest_bill = never;
    for (std::size_t m = 1; m <= months_; ++m) {
      const double flow = cash_[m] + loan_[m];
      sum += flow;
      deepest = std::min(deepest, sum);
      worst = std::min(worst, flow);
    }
    const std::size_t served = static_cast<std::size_t>(std::min(life, plan.study_years)) * 12;
    for (std::size_t m = 1; m <= (amount > 0 ? months_ : served); ++m)
      lowest_bill = std::min(lowest_bill, amount > 0 && payments_[m] == 0 ? never : bills_[m] + payments_[m]);
    set(TrialColumn::lowest_bill_month, lowest_bill);
    set(TrialColumn::worst_month, worst);
    set(TrialColumn::deepest, deepest);

    set(TrialColumn::installed_cost_times, input(Input::installed_cost));
    set(TrialColumn::hot_water_times, input(Input::hot_water));
    set(TrialColumn::upkeep_times, input(Input::upkeep));
    set(TrialColumn::system_life, life);
    set(TrialColumn::heater_left, left);
    set(TrialColumn::sun_times, months_total(sun_) / years);
    set(TrialColumn::fuel_price_times,
        price_[price_.size() - prices::fuel_count + static_cast<std::size_t>(plan.fuel_without.fuel)]);
    set(TrialColumn::incentives_gone, gone_count_);
  }

 private:
  /// What ages: the same for every trial with these lives.
  struct Aging {
    std::vector<double> heaters;  ///< replacements of heaters, with less without
    std::vector<double> upkeep;   ///< planned upkeep and parts
    double left = 0;              ///< remaining value of heaters at the end, with less without
  };

  [[nodiscard]] double input(Input which) const { return inputs_.at(static_cast<std::size_t>(which)); }

  [[nodiscard]] int drawn_years(Input which, double planned, int least) const {
    return static_cast<int>(std::clamp(std::round(planned * input(which)), static_cast<double>(least), 100.0));
  }

  void draw(std::span<const double> u) {
    const RiskModel& model = p_->model_;
    std::array<double, input_count> scores{};
    const bool correlated = !p_->input_root_.empty();
    for (std::size_t i = 0; i < input_count; ++i) {
      if (correlated || model.inputs.at(i).shape != Shape::fixed) scores.at(i) = normal_quantile(u[i]);
    }
    for (std::size_t i = input_count; i-- > 0;) {
      if (correlated) {
        double mixed = 0;
        for (std::size_t k = 0; k <= i; ++k) mixed += p_->input_root_[i * input_count + k] * scores.at(k);
        scores.at(i) = mixed;
      }
      inputs_.at(i) = value_at(model.inputs.at(i), scores.at(i));
    }
    u = u.subspan(input_count);
    gone_count_ = 0;
    for (std::size_t g = 0; g < p_->gone_.size(); ++g) {
      const bool gone = u[g] < model.gone[g].second;
      claim_.withdrawn[p_->gone_[g]] = gone ? 1 : 0;
      gone_count_ += gone ? 1 : 0;
    }
    u = u.subspan(p_->gone_.size());
    const std::size_t count = model.prices.size();
    std::fill(x_.begin(), x_.end(), 0.0);
    for (std::size_t y = 0; y < sun_.size(); ++y) {
      draw_sun(y, u[y * (1 + count)]);
      if (y > 0) {
        for (std::size_t k = 0; k < count; ++k) score_[k] = normal_quantile(u[y * (1 + count) + 1 + k]);
        for (std::size_t k = count; k-- > 0;) {
          double mixed = score_[k];
          if (!p_->price_root_.empty()) {
            mixed = 0;
            for (std::size_t j = 0; j <= k; ++j) mixed += p_->price_root_[k * count + j] * score_[j];
          }
          x_[k] = model.prices[k].persistence * x_[k] + model.prices[k].volatility * mixed;
        }
      }
      for (std::size_t f = 0; f < prices::fuel_count; ++f) {
        const std::vector<double>& index = p_->base_index_.at(f);
        if (index.empty()) continue;
        const std::size_t k = p_->price_of_.at(f);
        price_[y * prices::fuel_count + f] =
            k == none || y == 0 ? index[y] : index[y] * std::exp(x_[k] - p_->price_shift_[y * count + k]);
      }
    }
  }

  void draw_sun(std::size_t year, double u) {
    const RiskModel& model = p_->model_;
    if (!model.sun_years.empty()) {
      const auto which = static_cast<std::size_t>(u * static_cast<double>(model.sun_years.size()));
      sun_[year] = model.sun_years[std::min(which, model.sun_years.size() - 1)];
    } else if (model.sun_deviation > 0) {
      sun_[year] =
          std::clamp(1 + model.sun_deviation * normal_quantile(u), p_->sun_nodes_.front(), p_->sun_nodes_.back());
    }
  }

  /// What incentives pay for a cost and a use, under the sun of the typical year, by month.
  void receive(double cost, const Between& use) {
    appraisal::set_installed_cost(claim_, cost);
    const auto sun =
        static_cast<std::size_t>(std::find(p_->sun_nodes_.begin(), p_->sun_nodes_.end(), 1.0) - p_->sun_nodes_.begin());
    const std::size_t suns = p_->sun_nodes_.size();
    const Bills& low = p_->grid_[use.below * suns + sun];
    const Bills& high = p_->grid_[(use.share > 0 ? use.below + 1 : use.below) * suns + sun];
    claim_.first_year_saving_kwh = low.saving_kwh + use.share * (high.saving_kwh - low.saving_kwh);
    claim_.first_year_saving_therm = low.saving_therm + use.share * (high.saving_therm - low.saving_therm);
    claim_.solar_share = low.solar_share + use.share * (high.solar_share - low.solar_share);
    p_->appraiser_->stack().work_out(claim_, p_->appraiser_->program().income, outcomes_, work_);
    receipts_.clear();
    const dates::Date start = p_->course_.plan.install_date;
    appraisal::for_each_receipt(outcomes_, [&](dates::Date date, double usd, std::size_t, bool) {
      receipts_.emplace_back(ledger::month_on_or_after(start, date), money::round_cents(usd));
    });
    property_ = appraisal::property_tax_of(cost, p_->appraiser_->program().tax, p_->appraiser_->stack(), outcomes_);
  }

  void tax_on_property(int served) {
    const auto pay = [&](double usd, int first_year) {
      for (int y = first_year; y < served; ++y) {
        const auto year = static_cast<std::size_t>(y);
        cash_[year * 12] += ledger::upkeep_flow<double>(usd, p_->inflation_[year]);
      }
    };
    if (property_.usd_year > 0) pay(property_.usd_year, 1);
    if (property_.usd_year_after > 0) pay(property_.usd_year_after, property_.first_year_after);
  }

  const Aging& aging_of(int life, double left) {
    const auto [at, is_new] = aging_.try_emplace({life, left});
    Aging& aging = at->second;
    if (!is_new) return aging;
    ledger::Plan plan = p_->course_.plan;
    plan.installed_cost_usd = 0;
    plan.system_life_years = life;
    plan.heater_years_left = left;
    for (ledger::Plan::Purchase* purchase : {&plan.fuel_without, &plan.fuel_with, &plan.pump}) {
      purchase->units.fill(0);
      purchase->tariff = nullptr;
    }
    const ledger::Ledger<double> book = ledger::build<double>(plan);
    aging.heaters.assign(months_ + 1, 0.0);
    aging.upkeep.assign(months_ + 1, 0.0);
    for (const ledger::Line& line : book.lines()) {
      const double sign = line.world == ledger::World::with ? 1 : -1;
      int month = line.first_month;
      for (const double amount : book.amounts(line)) {
        const auto m = static_cast<std::size_t>(month);
        if (line.cause == ledger::Cause::heater_replaced) aging.heaters[m] += sign * amount;
        if (line.cause == ledger::Cause::upkeep) aging.upkeep[m] += sign * amount;
        if (line.cause == ledger::Cause::heater_left) aging.left += sign * amount;
        month += line.step_months;
      }
    }
    return aging;
  }

  /// Bills saved by month, at the prices and under the sun of each year.
  void lay_bills(const Between& use, int served_years) {
    const std::size_t suns = p_->sun_nodes_.size();
    const Bills* const low = p_->grid_.data() + use.below * suns;
    const Bills* const high = use.share > 0 ? low + suns : low;
    blended_.resize(suns);
    for (std::size_t s = 0; s < suns; ++s) {
      for (std::size_t m = 0; m < 12; ++m) {
        blended_[s].without[m] = low[s].without[m] + use.share * (high[s].without[m] - low[s].without[m]);
        blended_[s].with[m] = low[s].with[m] + use.share * (high[s].with[m] - low[s].with[m]);
        blended_[s].pump[m] = low[s].pump[m] + use.share * (high[s].pump[m] - low[s].pump[m]);
      }
    }
    const ledger::Plan& plan = p_->course_.plan;
    std::fill(bills_.begin(), bills_.end(), 0.0);
    for (int year = 0; year < served_years; ++year) {
      const auto y = static_cast<std::size_t>(year);
      const auto index = [&](prices::Fuel fuel) {
        return price_[y * prices::fuel_count + static_cast<std::size_t>(fuel)];
      };
      const double without = index(plan.fuel_without.fuel);
      const double with = index(plan.fuel_with.fuel);
      const double pump = index(plan.pump.fuel);
      const Between sun = between(p_->sun_nodes_, sun_[y]);
      const Bills& dim = blended_[sun.below];
      const Bills& bright = blended_[sun.share > 0 ? sun.below + 1 : sun.below];
      double* const flow = bills_.data() + y * 12 + 1;
      for (std::size_t m = 0; m < 12; ++m) {
        const double backup_usd = dim.with[m] + sun.share * (bright.with[m] - dim.with[m]);
        const double pump_usd = dim.pump[m] + sun.share * (bright.pump[m] - dim.pump[m]);
        flow[m] = ledger::fuel_flow<double>(backup_usd, with) + ledger::fuel_flow<double>(pump_usd, pump) -
                  ledger::fuel_flow<double>(dim.without[m], without);
      }
    }
  }

  /// Lends what is due; the loan's flows and payments by month. 0 where nothing is lent.
  double borrow(double due) {
    if (!p_->loan_ || due <= 0) return 0;
    if (p_->loan_in_proportion_) {
      const loans::Lending<double> lending = loans::lend(due, p_->terms_);
      if (lending.amount <= 0) return 0;
      for (std::size_t m = 1; m <= months_; ++m) {
        loan_[m] = lending.amount * p_->loan_per_usd_[m];
        payments_[m] = lending.amount * p_->bills_per_usd_[m];
      }
      loan_[0] = lending.proceeds - lending.paid_at_closing;
      return lending.amount;
    }
    std::vector<loans::DatedFlow<double>> extra;
    const dates::Date start = p_->course_.plan.install_date;
    if (p_->terms_.lump_from_incentives) {
      appraisal::for_each_receipt(outcomes_, [&](dates::Date date, double usd, std::size_t, bool) {
        if (dates::days_between(start, date) > 0) extra.push_back({date, money::round_cents(usd)});
      });
      std::stable_sort(extra.begin(), extra.end(), [](const auto& a, const auto& b) { return a.date < b.date; });
    }
    const loans::Schedule<double> schedule =
        loans::make_schedule(due, p_->terms_, start, std::span<const loans::DatedFlow<double>>(extra));
    if (schedule.amount <= 0) return 0;
    ledger::Ledger<double> book(start, p_->course_.plan.study_years);
    std::fill(payments_.begin(), payments_.end(), 0.0);
    std::array<ledger::Series<double>, 4> series =
        ledger::loan_series(schedule, p_->terms_.title, start, book.months());
    for (std::size_t k = 0; k < series[2].amounts.size(); ++k) payments_[k + 1] = series[2].amounts[k];
    for (ledger::Series<double>& one : series) book.add(std::move(one));
    if (p_->terms_.interest_deduction_rate > 0) {
      book.add(ledger::interest_deduction(schedule, p_->terms_.title, p_->terms_.interest_deduction_rate, start,
                                          book.months()));
    }
    loan_ = book.difference();
    return schedule.amount;
  }

  const Prospect* p_ = nullptr;
  std::size_t months_ = 0;
  std::array<double, input_count> inputs_{};
  int gone_count_ = 0;
  std::vector<double> uniforms_, cash_, bills_, loan_, payments_, price_, sun_, x_, score_;
  std::vector<std::pair<int, double>> receipts_;
  std::vector<Bills> blended_;
  incentives::Claim claim_;
  incentives::Work work_;
  std::vector<incentives::Outcome> outcomes_;
  appraisal::PropertyTax property_;
  std::map<std::pair<int, double>, Aging> aging_;
};

TrialTable Prospect::run(std::uint64_t seed, std::uint64_t first, std::size_t count, unsigned threads) const {
  TrialTable table;
  for (std::vector<double>& column : table) column.resize(count);
  for_chunks<Worker>(count, chunk_trials, threads, [&](std::size_t from, std::size_t to, Worker& worker) {
    worker.begin(*this);
    for (std::size_t i = from; i < to; ++i) {
      fill_uniforms(seed, key_, first + i, worker.uniforms());
      worker.trial(worker.uniforms(), i, table);
    }
  });
  return table;
}

TrialTable Prospect::run(std::span<const double> uniforms, unsigned threads) const {
  if (uniforms.size() % dimensions_ != 0)
    refuse("uniforms", static_cast<double>(uniforms.size()), fmt::format("a multiple of {} numbers", dimensions_));
  for (const double u : uniforms) {
    if (!(u > 0 && u < 1)) refuse("uniforms", u, "numbers between 0 and 1, both left out");
  }
  const std::size_t count = uniforms.size() / dimensions_;
  TrialTable table;
  for (std::vector<double>& column : table) column.resize(count);
  for_chunks<Worker>(count, chunk_trials, threads, [&](std::size_t from, std::size_t to, Worker& worker) {
    worker.begin(*this);
    for (std::size_t i = from; i < to; ++i) worker.trial(uniforms.subspan(i * dimensions_, dimensions_), i, table);
  });
  return table;
}

}  // namespace warmledger::whatif
