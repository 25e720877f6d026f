#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "warmledger/economics/measures.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/ledger/formulas.hpp"
#include "warmledger/ledger/ledger.hpp"

namespace warmledger::ledger {

using money::Decimal;

namespace {

constexpr double most_usd = 1e12;

/// The purchases whose bills hold a fixed charge, each fuel once.
std::array<const Plan::Purchase*, 3> charged_once(const Plan& plan) {
  std::array<const Plan::Purchase*, 3> purchases{&plan.fuel_without, &plan.fuel_with, &plan.pump};
  for (std::size_t i = 0; i < purchases.size(); ++i) {
    const auto twin = [&](const Plan::Purchase* other) { return other && other->fuel == purchases[i]->fuel; };
    if (std::any_of(purchases.begin(), purchases.begin() + static_cast<std::ptrdiff_t>(i), twin) ||
        purchases[i]->tariff == nullptr || purchases[i]->tariff->tariff.fixed_usd_month == 0) {
      purchases[i] = nullptr;
    }
  }
  return purchases;
}

}  // namespace

climate::Monthly bills_from(const climate::Monthly& calendar, dates::Date install_date) {
  return split_by_bills<double>(std::span<const double, 12>(calendar), install_date);
}

int month_on_or_after(dates::Date install_date, dates::Date date) {
  int month = (dates::year_of(date) - dates::year_of(install_date)) * 12 + dates::month_of(date) -
              dates::month_of(install_date);
  if (date > dates::add_months(install_date, month)) ++month;
  return std::max(month, 0);
}

void check(const Plan& plan) {
  errors::require_in_range("study_years", plan.study_years, 1, 50, "years");
  errors::require_in_range("inflation_rate", plan.inflation_rate, -0.5, 1.0, "(0.02 is 2 %)");
  errors::require_in_range("installed_cost_usd", plan.installed_cost_usd, 0, most_usd, "dollars");
  errors::require_in_range("system_life_years", plan.system_life_years, 1, 100, "years");
  errors::require_in_range("heater_years_left", plan.heater_years_left, 0, 100, "years");
  errors::require_in_range("heater_life_years", plan.heater_life_years, 1, 100, "years");
  errors::require_in_range("heater_replacement_usd", plan.heater_replacement_usd, 0, most_usd, "dollars");
  for (const Award& award : plan.awards)
    errors::require_in_range("award usd", award.usd, -most_usd, most_usd, "dollars");
  for (const Plan::Purchase* purchase : {&plan.fuel_without, &plan.fuel_with, &plan.pump}) {
    errors::require_in_range("usd_per_unit", purchase->usd_per_unit, 0, most_usd, "dollars");
    prices::check(purchase->escalation);
    for (std::size_t m = 0; m < 12; ++m) {
      errors::require_in_range("units", purchase->units[m], 0, most_usd);
      errors::require_in_range("rate_usd_per_unit", purchase->rate_usd_per_unit[m], -200, 200, "dollars");
      errors::require_in_range("other_units", purchase->other_units[m], 0, most_usd);
    }
  }
  for (const prices::Upkeep& item : plan.upkeep) {
    errors::require_in_range("upkeep usd", item.usd, 0, most_usd, "dollars");
    errors::require_in_range("first_year", item.first_year, 1, 100, "years");
    errors::require_in_range("every_years", item.every_years, 1, 100, "years");
  }
}

template <class N>
std::array<N, 12> year_one_usd(const Plan::Purchase& purchase) {
  std::array<N, 12> usd;
  for (std::size_t m = 0; m < 12; ++m) {
    usd[m] = purchase.tariff == nullptr
                 ? N(N(purchase.units[m]) * N(purchase.usd_per_unit))
                 : prices::added_charge<N>(purchase.tariff->blocks[m], N(purchase.units[m]),
                                           N(purchase.rate_usd_per_unit[m]), N(purchase.other_units[m]));
  }
  return usd;
}

namespace {

/// Builds the lines of a plan one world at a time.
template <class N>
class Builder {
 public:
  explicit Builder(const Plan& plan)
      : plan_(plan),
        ledger_(plan.install_date, plan.study_years),
        inflation_(prices::price_indices<N>({plan.inflation_rate}, plan.study_years + 1)),
        index_(static_cast<std::size_t>(plan.study_years)),
        served_years_(std::min(plan.study_years, plan.system_life_years)) {}

  Ledger<N> run() {
    const auto months = static_cast<std::size_t>(ledger_.months());
    const auto fixed = charged_once(plan_);
    const auto fixed_lines =
        2 * static_cast<std::size_t>(std::count_if(fixed.begin(), fixed.end(), [](auto* p) { return p != nullptr; }));
    // A heater's life is a year or more: replacements and upkeep together are a few amounts a year at most.
    ledger_.reserve(16 + plan_.awards.size() + plan_.upkeep.size(),
                    (3 + fixed_lines) * months + 64 + plan_.awards.size() +
                        plan_.upkeep.size() * static_cast<std::size_t>(plan_.study_years));
    first_cost();
    bills(World::without, Category::fuel, Cause::fuel_without, plan_.fuel_without, 0, plan_.study_years);
    bills(World::with, Category::fuel, Cause::fuel_with, plan_.fuel_with, 0, served_years_);
    bills(World::with, Category::pump_electricity, Cause::pump, plan_.pump, 0, served_years_);
    bills(World::with, Category::fuel, Cause::fuel_after_life, plan_.fuel_without, served_years_, plan_.study_years);
    for (const Plan::Purchase* purchase : fixed) {
      if (purchase != nullptr) fixed_charge(*purchase);
    }
    for (std::size_t i = 0; i < plan_.upkeep.size(); ++i) upkeep(plan_.upkeep[i], static_cast<int>(i));
    heaters(World::without, plan_.heater_years_left);
    if (plan_.heater_stays) {
      heaters(World::with, plan_.heater_years_left);
    } else if (served_years_ < plan_.study_years) {
      heaters(World::with, served_years_);
    }
    N paid = money::round_cents(N(plan_.installed_cost_usd));
    for (const Award& award : plan_.awards) paid -= money::round_cents(N(award.usd));
    once(World::with, Category::remaining_value, Cause::system_left, 0, ledger_.months(),
         remaining_value<N>(paid, N(plan_.study_years), N(plan_.system_life_years), inflation_.back()));
    return std::move(ledger_);
  }

 private:
  void once(World world, Category category, Cause cause, int detail, int month, const N& amount) {
    if (amount == N(0) || month > ledger_.months()) return;
    ledger_.add(Line{world, category, cause, detail, month, 1, 0, 1})[0] = amount;
  }

  void first_cost() {
    once(World::with, Category::installed_cost, Cause::installed_cost, 0, 0,
         N(-money::round_cents(N(plan_.installed_cost_usd))));
    for (std::size_t i = 0; i < plan_.awards.size(); ++i) {
      once(World::with, Category::incentive, Cause::award, static_cast<int>(i),
           month_on_or_after(plan_.install_date, plan_.awards[i].date), money::round_cents(N(plan_.awards[i].usd)));
    }
  }

  void bills(World world, Category category, Cause cause, const Plan::Purchase& purchase, int from_year, int to_year) {
    if (from_year >= to_year) return;
    if (std::all_of(purchase.units.begin(), purchase.units.end(), [](double u) { return u == 0; })) return;
    const std::array<N, 12> calendar = year_one_usd<N>(purchase);
    monthly(world, category, cause, 0, split_by_bills<N>(std::span<const N, 12>(calendar), plan_.install_date),
            purchase.escalation, from_year, to_year);
  }

  void fixed_charge(const Plan::Purchase& purchase) {
    std::array<N, 12> bill;
    bill.fill(N(purchase.tariff->tariff.fixed_usd_month));
    for (const World world : {World::without, World::with}) {
      monthly(world, Category::fixed_charge, Cause::fixed_charge, static_cast<int>(purchase.fuel), bill,
              purchase.escalation, 0, plan_.study_years);
    }
  }

  void monthly(World world, Category category, Cause cause, int detail, const std::array<N, 12>& year_one,
               const prices::Escalation& escalation, int from_year, int to_year) {
    prices::fill_price_indices(escalation, std::span<N>(index_));
    const std::span<N> room = ledger_.add(Line{world, category, cause, detail, from_year * 12 + 1, 1, 0,
                                               static_cast<std::size_t>(to_year - from_year) * 12});
    auto year = static_cast<std::size_t>(from_year);
    for (std::size_t first = 0; first < room.size(); first += 12, ++year) {
      for (std::size_t m = 0; m < 12; ++m) room[first + m] = fuel_flow<N>(year_one[m], index_[year]);
    }
  }

  void upkeep(const prices::Upkeep& item, int detail) {
    // Nothing is spent on a system in the month in which its life or the study ends.
    if (item.first_year >= served_years_) return;
    const int times = (served_years_ - 1 - item.first_year) / item.every_years + 1;
    const std::span<N> room =
        ledger_.add(Line{World::with, item.replaces_part ? Category::replacement : Category::upkeep, Cause::upkeep,
                         detail, item.first_year * 12, item.every_years * 12, 0, static_cast<std::size_t>(times)});
    auto year = static_cast<std::size_t>(item.first_year);
    for (N& amount : room) {
      amount = upkeep_flow<N>(N(item.usd), inflation_[year]);
      year += static_cast<std::size_t>(item.every_years);
    }
  }

  /// Replacements of the household's heater from `years_left` on, and what the last one is worth at the end.
  void heaters(World world, double years_left) {
    const double study = plan_.study_years;
    double at = years_left;
    double bought = years_left - plan_.heater_life_years;
    for (; at < study; at += plan_.heater_life_years) {
      const int month = static_cast<int>(std::lround(at * 12));
      once(world, Category::replacement, Cause::heater_replaced, month == 0 ? 1 : 0, month,
           upkeep_flow<N>(N(plan_.heater_replacement_usd), inflation_at(month)));
      bought = at;
    }
    once(world, Category::remaining_value, Cause::heater_left, 0, ledger_.months(),
         remaining_value<N>(N(plan_.heater_replacement_usd), N(study - bought), N(plan_.heater_life_years),
                            inflation_.back()));
  }

  [[nodiscard]] N inflation_at(int month) const {
    if (month % 12 == 0) return inflation_[static_cast<std::size_t>(month / 12)];
    return economics::single_present_value(N(plan_.inflation_rate), N(N(-month) / N(12)));
  }

  const Plan& plan_;
  Ledger<N> ledger_;
  std::vector<N> inflation_;
  std::vector<N> index_;
  int served_years_;
};

/// "natural_gas at 1.45 dollars a therm, rising 3 % a year".
std::string priced(const Plan::Purchase& purchase) {
  const std::string_view fuel = prices::name_of(purchase.fuel);
  const std::string moves = prices::in_words(purchase.escalation);
  if (purchase.tariff != nullptr) return fmt::format("{} on tariff {}, {}", fuel, purchase.tariff->tariff.title, moves);
  return fmt::format("{} at {} dollars a {}{}, {}", fuel, errors::plain_number(purchase.usd_per_unit, 6),
                     prices::unit_of(purchase.fuel),
                     purchase.as_if_price ? fmt::format(" ({})", prices::not_the_price) : "", moves);
}

}  // namespace

template <class N>
Ledger<N> build(const Plan& plan) {
  check(plan);
  return Builder<N>(plan).run();
}

template <class N>
std::string explain(const Plan& plan, const Ledger<N>& ledger, const Line& line) {
  const auto detail = static_cast<std::size_t>(line.detail);
  switch (line.cause) {
    case Cause::text:
      return ledger.text(line);
    case Cause::installed_cost:
      return plan.installed_cost_reason;
    case Cause::award:
      return plan.awards.at(detail).reason;
    case Cause::fuel_without:
      return priced(plan.fuel_without);
    case Cause::fuel_with:
      return priced(plan.fuel_with);
    case Cause::fuel_after_life:
      return priced(plan.fuel_without) + ", after the system's life as without it";
    case Cause::pump:
      return "collector pumps, " + priced(plan.pump);
    case Cause::fixed_charge: {
      for (const Plan::Purchase* purchase : {&plan.fuel_without, &plan.fuel_with, &plan.pump}) {
        if (static_cast<std::size_t>(purchase->fuel) != detail || purchase->tariff == nullptr) continue;
        return fmt::format("{} a month on tariff {}, {}; the same with and without the system",
                           money::dollars(purchase->tariff->tariff.fixed_usd_month), purchase->tariff->tariff.title,
                           prices::in_words(purchase->escalation));
      }
      return "fixed charge";
    }
    case Cause::upkeep:
      return plan.upkeep.at(detail).what;
    case Cause::heater_replaced:
      return line.detail == 1 ? "water heater replaced on the install date"
                              : "water heater replaced at the end of its life";
    case Cause::heater_left:
      return "water heater, straight line over its life";
    case Cause::system_left:
      return "system, straight line over its life on the cost after incentives";
  }
  return {};
}

template <class N>
std::vector<std::string> reasons(const Plan& plan, const Ledger<N>& ledger) {
  std::vector<std::string> all;
  all.reserve(ledger.lines().size());
  for (const Line& line : ledger.lines()) all.push_back(explain(plan, ledger, line));
  return all;
}

template <class N>
LoanMonths<N> loan_months(const loans::Schedule<N>& schedule, dates::Date study_start, int study_months) {
  LoanMonths<N> loan;
  if (schedule.amount == N(0)) return loan;
  loan.advance = schedule.amount;
  loan.charges = N(N(0) - (schedule.lending.dealer_fee + schedule.lending.points_and_fee));
  loan.payments.assign(static_cast<std::size_t>(study_months) + 1, N(0));
  // month_on_or_after of each payment, one after the other.
  dates::MonthDays month_ends(study_start);
  dates::Date month_end = month_ends.day();
  int month = 0;
  for (const loans::Payment<N>& line : schedule.payments) {
    while (month == 0 || month_end < line.date) {
      if (++month > study_months) break;
      month_ends.next();
      month_end = month_ends.day();
    }
    if (month > study_months) break;
    loan.payments[static_cast<std::size_t>(month)] -= line.payment;
  }
  loan.payments.resize(static_cast<std::size_t>(std::min(month, study_months)) + 1);
  loan.owed_at_end = N(N(0) - loans::owed_on(schedule, dates::add_months(study_start, study_months)));
  return loan;
}

template <class N>
std::vector<N> flows_of(LoanMonths<N> loan, int study_months) {
  std::vector<N> flows = std::move(loan.payments);
  flows.resize(static_cast<std::size_t>(study_months) + 1, N(0));
  flows.front() += loan.advance;
  flows.front() += loan.charges;
  flows.back() += loan.owed_at_end;
  return flows;
}

template <class N>
std::array<Series<N>, 4> loan_series(const loans::Schedule<N>& schedule, const std::string& title,
                                     dates::Date study_start, int study_months) {
  std::array<Series<N>, 4> series{
      Series<N>{World::with, Category::loan_advance, title, 0, 1, {}},
      Series<N>{World::with, Category::loan_payment, title + ", points, fees and what the dealer adds", 0, 1, {}},
      Series<N>{World::with, Category::loan_payment, title, 1, 1, {}},
      Series<N>{
          World::with, Category::loan_payment, title + ", balance owed at the end of the study", study_months, 1, {}}};
  LoanMonths<N> loan = loan_months(schedule, study_start, study_months);
  if (loan.advance != N(0)) series[0].amounts.push_back(loan.advance);
  if (loan.charges != N(0)) series[1].amounts.push_back(loan.charges);
  if (!loan.payments.empty()) series[2].amounts.assign(loan.payments.begin() + 1, loan.payments.end());
  if (loan.owed_at_end != N(0)) series[3].amounts.push_back(loan.owed_at_end);
  return series;
}

template <class N>
Series<N> interest_deduction(const loans::Schedule<N>& schedule, const std::string& title, double tax_rate,
                             dates::Date install_date, int study_months) {
  errors::require_in_range("tax_rate", tax_rate, 0, 1, "(0.22 is 22 %)");
  Series<N> series{World::with,
                   Category::tax_saving,
                   fmt::format("interest of {} deducted, {} % of it", title, errors::plain_number(tax_rate * 100)),
                   0,
                   12,
                   {}};
  int first_year = 0;
  std::vector<N> interest;  // by calendar year
  for (const loans::Payment<N>& line : schedule.payments) {
    if (month_on_or_after(install_date, line.date) > study_months) break;
    const int year = dates::year_of(line.date);
    if (interest.empty()) first_year = year;
    interest.resize(static_cast<std::size_t>(year - first_year) + 1, N(0));
    interest.back() += line.interest;
  }
  if (interest.empty() || tax_rate == 0) return series;
  series.first_month = month_on_or_after(install_date, dates::make_date(first_year + 1, 4, 15));
  for (const N& year : interest) series.amounts.push_back(money::round_cents(N(year * N(tax_rate))));
  return series;
}

#define WARMLEDGER_INSTANTIATE(N)                                                                                    \
  template std::array<N, 12> year_one_usd<N>(const Plan::Purchase&);                                                 \
  template Ledger<N> build<N>(const Plan&);                                                                          \
  template std::string explain<N>(const Plan&, const Ledger<N>&, const Line&);                                       \
  template std::vector<std::string> reasons<N>(const Plan&, const Ledger<N>&);                                       \
  template LoanMonths<N> loan_months<N>(const loans::Schedule<N>&, dates::Date, int);                                \
  template std::vector<N> flows_of<N>(LoanMonths<N>, int);                                                           \
  template std::array<Series<N>, 4> loan_series<N>(const loans::Schedule<N>&, const std::string&, dates::Date, int); \
  template Series<N> interest_deduction<N>(const loans::Schedule<N>&, const std::string&, double, dates::Date, int);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::ledger
