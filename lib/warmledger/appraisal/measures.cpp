#include "warmledger/appraisal/parts.hpp"

#include <algorithm>
#include <array>
#include <span>

#include "warmledger/ledger/formulas.hpp"

namespace warmledger::appraisal {

using catalog::Household;
using catalog::Program;
using economics::Measure;
using ledger::Category;
using money::Decimal;

namespace {

template <class N>
N sum(std::span<const N> flows) {
  N total(0);
  for (const N& flow : flows) total += flow;
  return total;
}

template <class N>
Measure<N> share_of_income(const N& cost, double income_usd) {
  if (income_usd <= 0) return {std::nullopt, "there is no income"};
  return {N(cost / N(income_usd)), {}};
}

/// Largest running sum of the first `months` months; what is missing there to zero must be added at install for the
/// money to be back by then.
template <class N>
N highest_running_sum(std::span<const N> flows, double months) {
  N running(0);
  N highest = flows[0];
  for (std::size_t month = 0; month < flows.size(); ++month) {
    const double beyond = static_cast<double>(month) - months;
    if (beyond >= 1) break;
    // The last month counts in part, as the payback's straight line does.
    running += beyond > 0 ? N(flows[month] * N(1 - beyond)) : flows[month];
    highest = std::max(highest, running);
  }
  return highest;
}

template <class N>
Measure<N> extra_help(const catalog::DecisionRules& rules, std::span<const N> cash, const N& monthly_rate,
                      const Measures<N>& measures) {
  N needed(0);
  if (rules.longest_simple_payback_years) {
    needed = std::max(needed, N(-highest_running_sum(cash, *rules.longest_simple_payback_years * 12)));
  }
  if (rules.longest_discounted_payback_years) {
    std::vector<N> discounted(cash.begin(), cash.end());
    N factor(1);
    for (N& flow : discounted) {
      flow *= factor;
      factor /= N(N(1) + monthly_rate);
    }
    needed = std::max(
        needed, N(-highest_running_sum(std::span<const N>(discounted), *rules.longest_discounted_payback_years * 12)));
  }
  if (rules.least_net_savings_usd) needed = std::max(needed, N(N(*rules.least_net_savings_usd) - measures.net_savings));
  if (rules.least_savings_to_investment && measures.investment_present_value > N(0)) {
    needed = std::max(needed, N(measures.investment_present_value -
                                measures.savings_present_value / N(*rules.least_savings_to_investment)));
  }
  if (needed > measures.due_at_install)
    return {std::nullopt, "the thresholds are not met even if the system is free at install"};
  return {money::round_cents(needed, money::Rounding::up), {}};
}

/// Flows of a ledger as a timing convention dates them, and the rate of one of its periods.
template <class N>
class Convention {
 public:
  Convention(economics::Timing timing, const N& yearly_rate)
      : timing_(timing),
        monthly_(timing == economics::Timing::monthly),
        rate_(monthly_ ? economics::monthly_rate(yearly_rate) : yearly_rate),
        factor_(monthly_ ? N(1) : economics::timing_factor(yearly_rate, timing)) {}

  [[nodiscard]] const N& rate() const { return rate_; }
  [[nodiscard]] int periods_per_year() const { return monthly_ ? 12 : 1; }

  /// Monthly flows as the convention's periods, undiscounted; `room` holds them where they are no months.
  [[nodiscard]] std::span<const N> periods(std::span<const N> monthly, std::vector<N>& room) const {
    if (monthly_) return monthly;
    room = ledger::by_year(monthly);
    return room;
  }
  /// Present value of monthly flows.
  [[nodiscard]] N present(std::span<const N> monthly) const {
    if (monthly_) return economics::net_present_value(rate_, monthly);
    const std::vector<N> yearly = ledger::by_year(monthly);
    return economics::present_value(rate_, std::span<const N>(yearly), timing_);
  }
  /// present() of each of several series, all of them months of the study.
  template <std::size_t count>
  [[nodiscard]] std::array<N, count> present_all(const std::array<std::span<const N>, count>& monthly) const {
    std::array<N, count> values;
    if (monthly_) {
      economics::net_present_values(rate_, std::span<const std::span<const N>>(monthly), std::span<N>(values));
    } else {
      std::transform(monthly.begin(), monthly.end(), values.begin(), [this](auto flows) { return present(flows); });
    }
    return values;
  }
  /// Present value of what falls at the very end of the study, whatever the convention.
  [[nodiscard]] N present_at_end(std::span<const N> monthly) const {
    if (monthly_) return economics::net_present_value(rate_, monthly);
    return economics::present_value(rate_, std::span<const N>(ledger::by_year(monthly)),
                                    economics::Timing::end_of_year);
  }
  /// The same periods, moved within their year so that discounting at their ends is right.
  [[nodiscard]] std::span<const N> moved(std::span<const N> periods, std::vector<N>& room) const {
    if (monthly_) return periods;
    room.assign(periods.begin(), periods.end());
    for (std::size_t k = 1; k < room.size(); ++k) room[k] *= factor_;
    return room;
  }
  /// Internal rates a year of undiscounted periods, `at_end` falling at the very end.
  [[nodiscard]] economics::InternalRates<N> internal_rates(std::span<const N> periods, const N& at_end) const {
    // Mid-year flows lie on a grid of half years.
    const bool halves = timing_ == economics::Timing::mid_year;
    const bool early = timing_ == economics::Timing::start_of_year;
    std::vector<N> grid(halves ? 2 * periods.size() - 1 : periods.size(), N(0));
    for (std::size_t k = 0; k < periods.size(); ++k)
      grid[k == 0 ? 0 : halves ? 2 * k - 1 : early ? k - 1 : k] += periods[k];
    grid.back() += at_end;
    economics::InternalRates<N> rates = economics::internal_rates(std::span<const N>(grid));
    const int per_year = halves ? 2 : periods_per_year();
    if (per_year > 1) {
      for (N& rate : rates.rates) rate = economics::yearly_rate(rate, per_year);
    }
    return rates;
  }

 private:
  economics::Timing timing_;
  bool monthly_;
  N rate_;
  N factor_;
};

template <class N>
Measure<N> in_years(Measure<N> periods, int periods_per_year) {
  if (periods.value && periods_per_year != 1) periods.value = N(*periods.value / N(periods_per_year));
  return periods;
}

/// Everything that timing touches, but what measure_more adds.
template <class N>
void discount(const ledger::Sums<N>& sums, const Convention<N>& convention, const Program& program, Measures<N>& m) {
  using ledger::World;
  const auto [fuel, pump, upkeep, cost, help, replacement, cash, cash_without, cash_with] =
      convention.present_all(std::array{sums.difference(Category::fuel), sums.difference(Category::pump_electricity),
                                        sums.difference(Category::upkeep), sums.difference(Category::installed_cost),
                                        sums.difference(Category::incentive), sums.difference(Category::replacement),
                                        sums.cash(), sums.cash(World::without), sums.cash(World::with)});
  const N at_end = convention.present_at_end(sums.difference(Category::remaining_value));
  m.savings_present_value = N(fuel + pump + upkeep);
  m.investment_present_value = N(-(cost + help + replacement + at_end));
  m.life_cycle_cost_without = N(-(cash_without + convention.present_at_end(sums.remaining(World::without))));
  m.life_cycle_cost_with = N(-(cash_with + convention.present_at_end(sums.remaining(World::with))));
  m.net_savings = N(cash + at_end);

  std::vector<N> room;
  std::vector<N> more_room;
  const std::span<const N> periods = convention.periods(sums.cash(), room);
  const int per_year = convention.periods_per_year();
  m.simple_payback_years = in_years(economics::payback(periods), per_year);
  m.discounted_payback_years =
      in_years(economics::discounted_payback(convention.rate(), convention.moved(periods, more_room)), per_year);
  m.savings_to_investment = economics::savings_to_investment(m.savings_present_value, m.investment_present_value);
  m.adjusted_internal_rate_of_return = economics::adjusted_internal_rate_of_return(
      N(program.nominal_discount_rate), m.savings_to_investment, program.study_years);
}

/// Sold units of the existing fuel that are saved in year 1.
template <class N>
double units_saved(const Appraisal<N>& a) {
  const ledger::Plan& plan = a.plan;
  double units = 0;
  for (std::size_t month = 0; month < 12; ++month) {
    units += plan.fuel_without.units[month];
    if (plan.fuel_with.fuel == plan.fuel_without.fuel) units -= plan.fuel_with.units[month];
    if (plan.fuel_without.fuel == prices::Fuel::electricity) units -= plan.pump.units[month];
  }
  return units;
}

template <class N>
Measure<N> break_even_fuel_price(const Appraisal<N>& a, const BillsByFuel<N>& by_fuel, const Convention<N>& convention,
                                 const N& net_savings) {
  // What changes in proportion to the price of the existing fuel.
  const std::vector<N>& bills = by_fuel[static_cast<std::size_t>(a.plan.fuel_without.fuel)];
  const double units = units_saved(a);
  if (units <= 0 || bills.empty()) return {std::nullopt, "no fuel is saved in year 1"};
  const N price = N(sum(std::span<const N>(bills).subspan(1, 12)) / N(units));
  if (price <= N(0)) return {std::nullopt, "the fuel saved costs nothing in year 1"};
  // At twice the price the bills, and so their part of the net savings, are twice what they are.
  Measure<N> found =
      economics::break_even(price, net_savings, N(price * N(2)), N(net_savings + convention.present(bills)));
  if (!found.value) return found;
  // What rounding leaves around zero is zero in both number types.
  if (*found.value < N(-1e-9)) return {std::nullopt, "net savings are positive even if the fuel is free"};
  return {std::max(*found.value, N(0)), {}};
}

template <class N>
Measure<N> break_even_installed_cost(const Appraisal<N>& a, const Convention<N>& convention, const N& net_savings) {
  // What a thousand dollars more do: they are paid, and part of them remains at the end.
  const ledger::Plan& plan = a.plan;
  const N more(1000);
  std::vector<N> left(static_cast<std::size_t>(plan.study_years) * 12 + 1, N(0));
  left.back() =
      ledger::remaining_value<N>(more, N(plan.study_years), N(plan.system_life_years),
                                 prices::price_indices<N>({plan.inflation_rate}, plan.study_years + 1).back());
  const N change = N(convention.present_at_end(left) - more);
  const N cost = N(plan.installed_cost_usd);
  Measure<N> found = economics::break_even(cost, net_savings, N(cost + more), N(net_savings + change));
  if (found.value && *found.value < N(a.measures.incentives - N(1e-6)))
    return {std::nullopt, "net savings are negative even if incentives pay the whole cost"};
  return found;
}

/// What measure_more adds, under a convention; `m` holds the rest.
template <class N>
void discount_more(const Appraisal<N>& a, const ledger::Sums<N>& sums, const BillsByFuel<N>& bills,
                   const Convention<N>& convention, const Program& program, Measures<N>& m) {
  std::vector<N> room;
  std::vector<N> more_room;
  const std::span<const N> periods = convention.periods(sums.cash(), room);
  const int per_year = convention.periods_per_year();
  m.lasting_simple_payback_years = in_years(economics::lasting_payback(periods), per_year);
  m.lasting_discounted_payback_years = in_years(
      economics::lasting_discounted_payback(convention.rate(), convention.moved(periods, more_room)), per_year);
  m.internal_rates = convention.internal_rates(periods, sums.difference(Category::remaining_value).back());
  m.internal_rate_of_return = economics::internal_rate_of_return(m.internal_rates);
  m.equivalent_annual_value =
      economics::equivalent_annual_value(N(program.nominal_discount_rate), m.net_savings, program.study_years);

  const climate::Monthly heat_kwh = ledger::bills_from(a.year.solar_kwh, a.plan.install_date);
  std::vector<N> heat(static_cast<std::size_t>(a.ledger.months()) + 1, N(0));
  const int served = std::min(a.plan.study_years, a.plan.system_life_years) * 12;
  for (int month = 1; month <= served; ++month)
    heat[static_cast<std::size_t>(month)] = N(heat_kwh[static_cast<std::size_t>(month - 1) % 12]);
  const auto [upkeep, pump, heat_value] = convention.present_all(std::array<std::span<const N>, 3>{
      sums.difference(Category::upkeep), sums.difference(Category::pump_electricity), heat});
  m.levelised_cost_of_heat = economics::levelised_cost(N(m.investment_present_value - upkeep - pump), heat_value);
  m.break_even_fuel_price = break_even_fuel_price(a, bills, convention, m.net_savings);
  m.break_even_installed_cost = break_even_installed_cost(a, convention, m.net_savings);
}

}  // namespace

template <class N>
Measures<N> measure(const ledger::Ledger<N>& book, const ledger::Sums<N>& sums, const Household& household,
                    const Program& program) {
  Measures<N> m;
  const Convention<N> monthly(economics::Timing::monthly, N(program.nominal_discount_rate));
  const N cost = sums.difference(Category::installed_cost)[0];
  const std::span<const N> help = sums.difference(Category::incentive);
  m.installed_cost = N(-cost);
  m.incentives = sum(help);
  m.net_cost = N(m.installed_cost - m.incentives);
  m.due_at_install = N(N(0) - cost - help[0]);

  const auto year_one = [&](ledger::World world, Category category) {
    return sum(std::span<const N>(book.flows(world, category, 12)).subspan(1));
  };
  m.first_year_cost_without = N(-year_one(ledger::World::without, Category::fuel));
  m.first_year_cost_with =
      N(-year_one(ledger::World::with, Category::fuel) - year_one(ledger::World::with, Category::pump_electricity));
  m.first_year_saving = N(m.first_year_cost_without - m.first_year_cost_with);

  discount(sums, monthly, program, m);

  m.water_heating_burden_without = share_of_income(m.first_year_cost_without, household.yearly_income_usd);
  m.water_heating_burden_with = share_of_income(m.first_year_cost_with, household.yearly_income_usd);
  if (household.yearly_energy_bills_usd) {
    const N bills(*household.yearly_energy_bills_usd);
    m.energy_burden_without = share_of_income(bills, household.yearly_income_usd);
    m.energy_burden_with = share_of_income(N(bills - m.first_year_saving), household.yearly_income_usd);
  } else {
    m.energy_burden_without = m.energy_burden_with = {std::nullopt, "yearly_energy_bills_usd is not given"};
  }
  m.extra_help = extra_help(program.decision, sums.cash(), monthly.rate(), m);
  return m;
}

template <class N>
void measure_more(Appraisal<N>& a, const ledger::Sums<N>& sums, const BillsByFuel<N>& bills, const Program& program) {
  const Convention<N> monthly(economics::Timing::monthly, N(program.nominal_discount_rate));
  discount_more(a, sums, bills, monthly, program, a.measures);
}

template <class N>
Measures<N> Appraiser::measures_under(const Appraisal<N>& a, economics::Timing timing) const {
  Measures<N> m = a.measures;
  const Convention<N> convention(timing, N(program_->nominal_discount_rate));
  const ledger::Sums<N> sums(a.ledger);
  discount(sums, convention, *program_, m);
  discount_more(a, sums, bills_by_fuel(a, sums), convention, *program_, m);
  return m;
}

template <class N>
BillsByFuel<N> bills_by_fuel(const Appraisal<N>& a, const ledger::Sums<N>& sums) {
  BillsByFuel<N> bills;
  const auto add = [&bills](prices::Fuel fuel, std::span<const N> flows) {
    std::vector<N>& months = bills[static_cast<std::size_t>(fuel)];
    if (months.empty()) months.assign(flows.size(), N(0));
    for (std::size_t month = 0; month < flows.size(); ++month) months[month] += flows[month];
  };
  const std::span<const N> fuel = sums.difference(Category::fuel);
  if (a.plan.fuel_with.fuel == a.plan.fuel_without.fuel) {
    add(a.plan.fuel_with.fuel, fuel);
  } else {
    // While the system lives the with world burns another fuel; after that, what the without world burns.
    std::vector<N> existing = a.ledger.flows(ledger::World::without, Category::fuel);
    std::vector<N> other(fuel.begin(), fuel.end());
    const int served = std::min(a.plan.study_years, a.plan.system_life_years) * 12;
    for (std::size_t month = 0; month < existing.size(); ++month) {
      existing[month] = static_cast<int>(month) <= served ? N(-existing[month]) : fuel[month];
      other[month] -= existing[month];
    }
    add(a.plan.fuel_without.fuel, existing);
    add(a.plan.fuel_with.fuel, other);
  }
  add(a.plan.pump.fuel, sums.difference(Category::pump_electricity));
  return bills;
}

#define WARMLEDGER_INSTANTIATE(N)                                                                                      \
  template Measures<N> measure<N>(const ledger::Ledger<N>&, const ledger::Sums<N>&, const Household&, const Program&); \
  template BillsByFuel<N> bills_by_fuel<N>(const Appraisal<N>&, const ledger::Sums<N>&);                               \
  template void measure_more<N>(Appraisal<N>&, const ledger::Sums<N>&, const BillsByFuel<N>&, const Program&);         \
  template Measures<N> Appraiser::measures_under<N>(const Appraisal<N>&, economics::Timing) const;
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::appraisal
