#include "warmledger/appraisal/parts.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace warmledger::appraisal {

using catalog::Program;
using economics::CostItem;
using economics::CostStream;
using ledger::Category;
using money::Decimal;

namespace {

/// What a rule's money is to the tests, by who bears it.
CostItem item_of(const incentives::Rule& rule) {
  switch (rule.paid_by) {
    case incentives::Payer::administrator:
      return CostItem::incentive;
    case incentives::Payer::utility:
      return CostItem::utility_rebate;
    default:
      return CostItem::tax_credit;
  }
}

/// `first_year` for each unit saved, rising once a year, on the days of the bills.
template <class N>
std::vector<N> yearly_rising(const climate::Monthly& units, const N& first_year, double escalation, int served_years,
                             int study_years) {
  std::vector<N> flows(static_cast<std::size_t>(study_years) * 12 + 1, N(0));
  N usd = first_year;
  for (int year = 0; year < served_years; ++year) {
    for (std::size_t k = 0; k < 12; ++k) flows[static_cast<std::size_t>(year) * 12 + k + 1] = N(N(units[k]) * usd);
    usd *= N(N(1) + N(escalation));
  }
  return flows;
}

template <class N>
void add_to(std::vector<N>& sums, std::span<const N> flows) {
  for (std::size_t k = 0; k < flows.size(); ++k) sums[k] += flows[k];
}

/// Units of each fuel not bought in a year, by bill.
std::array<climate::Monthly, prices::fuel_count> saved_by_fuel(const ledger::Plan& plan) {
  std::array<climate::Monthly, prices::fuel_count> saved{};
  const auto add = [&](const ledger::Plan::Purchase& purchase, double sign) {
    for (std::size_t m = 0; m < 12; ++m) saved[static_cast<std::size_t>(purchase.fuel)][m] += sign * purchase.units[m];
  };
  add(plan.fuel_without, 1);
  add(plan.fuel_with, -1);
  add(plan.pump, -1);
  for (climate::Monthly& units : saved) units = ledger::bills_from(units, plan.install_date);
  return saved;
}

}  // namespace

template <class N>
std::array<economics::CostTestOutcome<N>, economics::cost_test_count> cost_tests(
    const Appraisal<N>& a, const ledger::Sums<N>& sums, BillsByFuel<N>&& bills, const Program& program,
    const incentives::Stack& stack, const catalog::Catalog& catalog) {
  const catalog::CostTestRules& rules = *program.cost_tests;
  const ledger::Ledger<N>& book = a.ledger;
  const int study = book.years();
  const int served = std::min(study, a.plan.system_life_years);
  std::vector<CostStream<N>> streams;

  // What the household pays for equipment and upkeep, before anybody helps.
  std::vector<N> equipment(static_cast<std::size_t>(book.months()) + 1, N(0));
  for (const Category category :
       {Category::installed_cost, Category::upkeep, Category::replacement, Category::remaining_value})
    add_to(equipment, sums.difference(category));
  for (N& amount : equipment) amount = N(-amount);
  streams.push_back({CostItem::participant_cost, CostItem::avoided_equipment, std::move(equipment), {}});

  // Help, by who pays.
  const std::size_t first_help = streams.size();
  for (const CostItem item : {CostItem::incentive, CostItem::utility_rebate, CostItem::tax_credit})
    streams.push_back({item, item, std::vector<N>(static_cast<std::size_t>(book.months()) + 1, N(0)), {}});
  for (const ledger::Line& line : book.lines()) {
    if (line.category != Category::incentive) continue;
    const CostItem item = line.cause == ledger::Cause::award
                              ? item_of(stack.rules()[a.plan.awards[static_cast<std::size_t>(line.detail)].rule])
                              : CostItem::tax_credit;
    const auto stream = std::find_if(streams.begin() + static_cast<std::ptrdiff_t>(first_help), streams.end(),
                                     [item](const CostStream<N>& s) { return s.when_positive == item; });
    auto month = static_cast<std::size_t>(line.first_month);
    for (const N& amount : book.amounts(line)) {
      stream->flows[month] += amount;
      month += static_cast<std::size_t>(line.step_months);
    }
  }
  streams.push_back(
      {CostItem::administration, CostItem::administration, {N(rules.administration_usd_per_household)}, {}});

  // Fuel by fuel: what the bills, the suppliers and everybody else save.
  const std::array<climate::Monthly, prices::fuel_count> saved = saved_by_fuel(a.plan);
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    if (!bills[slot].empty())
      streams.push_back({CostItem::bill_reduction, CostItem::bill_increase, std::move(bills[slot]), {}});
    if (std::all_of(saved[slot].begin(), saved[slot].end(), [](double units) { return units == 0; })) continue;
    const catalog::CostTestRules::Supply& supply = rules.supply[slot];
    CostStream<N> avoided{CostItem::avoided_supply, CostItem::increased_supply, {}, {}};
    if (supply.avoided_usd_per_unit) {
      avoided.flows =
          yearly_rising(saved[slot], N(*supply.avoided_usd_per_unit), supply.yearly_escalation, served, study);
    } else {
      avoided.missing = fmt::format("no avoided supply cost of {0} is given: [cost_tests.{0}] avoided_usd_per_unit",
                                    prices::name_of(fuel));
    }
    streams.push_back(std::move(avoided));
    std::vector<N> outside =
        yearly_rising(saved[slot], N(N(catalog.fuels[slot].co2_kg_per_unit) / N(1000) * N(rules.co2_usd_per_tonne)),
                      rules.co2_yearly_escalation, served, study);
    if (supply.outside_usd_per_unit != 0) {
      add_to(outside, std::span<const N>(yearly_rising(saved[slot], N(supply.outside_usd_per_unit),
                                                       supply.yearly_escalation, served, study)));
    }
    streams.push_back({CostItem::outside_benefit, CostItem::outside_cost, std::move(outside), {}});
  }

  std::array<N, economics::cost_test_count> rates;
  for (std::size_t k = 0; k < rates.size(); ++k) {
    const double yearly = rules.discount_rates[k];
    // What is no rate goes on as it is: its own test refuses it.
    rates[k] = yearly > -1 ? economics::monthly_rate(N(yearly)) : N(yearly);
  }
  return economics::cost_tests(std::span<const CostStream<N>>(streams), rates);
}

#define WARMLEDGER_INSTANTIATE(N)                                                                              \
  template std::array<economics::CostTestOutcome<N>, economics::cost_test_count> cost_tests<N>(                \
      const Appraisal<N>&, const ledger::Sums<N>&, BillsByFuel<N>&&, const Program&, const incentives::Stack&, \
      const catalog::Catalog&);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::appraisal
