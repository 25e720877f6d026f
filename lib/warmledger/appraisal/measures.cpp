#include "warmledger/appraisal/parts.hpp"

#include <algorithm>

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

/// Money due at install: cost less the incentives that arrive on that day.
template <class N>
N due_at_install(const ledger::Ledger<N>& book) {
  return N(N(0) - book.difference(Category::installed_cost)[0] - book.difference(Category::incentive)[0]);
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

}  // namespace

template <class N>
Measures<N> measure(const ledger::Ledger<N>& book, const Household& household, const Program& program) {
  Measures<N> m;
  const N rate = economics::monthly_rate(N(program.nominal_discount_rate));
  const auto present = [&](const std::vector<N>& flows) {
    return economics::net_present_value(rate, std::span<const N>(flows));
  };
  const std::vector<N> cost = book.difference(Category::installed_cost);
  const std::vector<N> help = book.difference(Category::incentive);
  m.installed_cost = N(-cost[0]);
  m.incentives = sum(std::span<const N>(help));
  m.net_cost = N(m.installed_cost - m.incentives);
  m.due_at_install = due_at_install(book);

  const auto year_one = [](const std::vector<N>& flows) { return sum(std::span<const N>(flows).subspan(1, 12)); };
  m.first_year_cost_without = N(-year_one(book.flows(ledger::World::without, Category::fuel)));
  m.first_year_cost_with = N(-year_one(book.flows(ledger::World::with, Category::fuel)) -
                             year_one(book.flows(ledger::World::with, Category::pump_electricity)));
  m.first_year_saving = N(m.first_year_cost_without - m.first_year_cost_with);

  m.savings_present_value =
      N(present(book.difference(Category::fuel)) + present(book.difference(Category::pump_electricity)) +
        present(book.difference(Category::upkeep)));
  m.investment_present_value = N(-(present(cost) + present(help) + present(book.difference(Category::replacement)) +
                                   present(book.difference(Category::remaining_value))));
  m.life_cycle_cost_without = N(-present(book.flows(ledger::World::without)));
  m.life_cycle_cost_with = N(-present(book.flows(ledger::World::with)));
  const std::vector<N> difference = book.difference();
  m.net_savings = present(difference);
  // A remaining value is worth, not money that comes in: it pays nothing back.
  std::vector<N> cash = difference;
  cash.back() -= book.difference(Category::remaining_value).back();

  const auto in_years = [](Measure<N> months) {
    if (months.value) months.value = N(*months.value / N(12));
    return months;
  };
  m.simple_payback_years = in_years(economics::payback(std::span<const N>(cash)));
  m.discounted_payback_years = in_years(economics::discounted_payback(rate, std::span<const N>(cash)));
  m.savings_to_investment = economics::savings_to_investment(m.savings_present_value, m.investment_present_value);
  m.adjusted_internal_rate_of_return = economics::adjusted_internal_rate_of_return(
      N(program.nominal_discount_rate), m.savings_to_investment, program.study_years);

  m.water_heating_burden_without = share_of_income(m.first_year_cost_without, household.yearly_income_usd);
  m.water_heating_burden_with = share_of_income(m.first_year_cost_with, household.yearly_income_usd);
  if (household.yearly_energy_bills_usd) {
    const N bills(*household.yearly_energy_bills_usd);
    m.energy_burden_without = share_of_income(bills, household.yearly_income_usd);
    m.energy_burden_with = share_of_income(N(bills - m.first_year_saving), household.yearly_income_usd);
  } else {
    m.energy_burden_without = m.energy_burden_with = {std::nullopt, "yearly_energy_bills_usd is not given"};
  }
  m.extra_help = extra_help(program.decision, std::span<const N>(cash), rate, m);
  return m;
}

template Measures<double> measure<double>(const ledger::Ledger<double>&, const Household&, const Program&);
template Measures<Decimal> measure<Decimal>(const ledger::Ledger<Decimal>&, const Household&, const Program&);

}  // namespace warmledger::appraisal
