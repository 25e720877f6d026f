#include "warmledger/catalog/program_reader.hpp"

#include <array>

#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

namespace {

constexpr std::array<std::string_view, prices::fuel_count> supply_tables{
    "cost_tests.electricity", "cost_tests.natural_gas", "cost_tests.propane", "cost_tests.heating_oil"};
// In the order of economics::CostTest.
constexpr std::array<std::string_view, economics::cost_test_count> rate_keys{
    "participant_discount_rate", "administrator_discount_rate", "ratepayer_discount_rate",
    "total_resource_discount_rate", "societal_discount_rate"};

/// A nominal yearly rise given as nominal or real; inflation where neither is.
double escalation_of(const Section& section, std::string_view nominal, std::string_view real, double inflation_rate) {
  const std::string_view key = section.only_one({nominal, real}, false);
  const double yearly = key.empty() ? 0 : section.number_of(key);
  return key == nominal ? yearly : nominal_from_real(yearly, inflation_rate);
}

}  // namespace

void read_cost_tests(const Section& top, Program& program) {
  const toml::table* table = top.table("cost_tests");
  if (table == nullptr) return;
  const Section section(table, "cost_tests", top.file(), {"electricity", "natural_gas", "propane", "heating_oil"});
  CostTestRules rules;
  rules.administration_usd_per_household = section.number_of("administration_usd_per_household");
  rules.discount_rates.fill(program.nominal_discount_rate);
  for (std::size_t k = 0; k < rate_keys.size(); ++k) {
    // Without a rate of their own, the last three take the administrator's.
    if (k > 1) rules.discount_rates.at(k) = rules.discount_rates[1];
    if (const auto rate = section.maybe_number(rate_keys.at(k))) rules.discount_rates.at(k) = *rate;
  }
  if (const auto usd = section.maybe_number("co2_usd_per_tonne")) {
    rules.co2_usd_per_tonne = *usd;
    rules.co2_source = section.text_of("co2_source");
    if (rules.co2_source.empty())
      section.fail<errors::MissingValue>("co2_source", "", "is missing", "where the price of CO2 is from");
  }
  rules.co2_yearly_escalation =
      escalation_of(section, "co2_nominal_escalation", "co2_real_escalation", program.inflation_rate);
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const Section of_fuel(section.table(prices::name_of(fuel)), supply_tables.at(slot), top.file());
    CostTestRules::Supply& supply = rules.supply.at(slot);
    supply.avoided_usd_per_unit = of_fuel.maybe_number("avoided_usd_per_unit");
    supply.outside_usd_per_unit = of_fuel.number_of("outside_usd_per_unit");
    supply.source = of_fuel.text_of("source");
    if (supply.source.empty() && (supply.avoided_usd_per_unit || supply.outside_usd_per_unit != 0))
      of_fuel.fail<errors::MissingValue>("source", "", "is missing", "where the amounts of this fuel are from");
    supply.yearly_escalation = escalation_of(of_fuel, "nominal_escalation", "real_escalation", program.inflation_rate);
  }
  program.cost_tests = std::move(rules);
}

void check(const CostTestRules& rules) {
  const auto in_range = [](std::string_view table, std::string_view name, double value) {
    const Spec& spec = spec_named(table, name);
    errors::require_in_range(path_of(table, name), value, spec.low, spec.high, spec.unit);
  };
  in_range("cost_tests", "administration_usd_per_household", rules.administration_usd_per_household);
  in_range("cost_tests", "co2_usd_per_tonne", rules.co2_usd_per_tonne);
  errors::require_in_range("cost_tests.co2_nominal_escalation", rules.co2_yearly_escalation, -0.9, 2, share);
  for (std::size_t slot = 0; slot < rules.supply.size(); ++slot) {
    const CostTestRules::Supply& supply = rules.supply.at(slot);
    const std::string_view table = supply_tables.at(slot);
    if (supply.avoided_usd_per_unit) in_range(table, "avoided_usd_per_unit", *supply.avoided_usd_per_unit);
    in_range(table, "outside_usd_per_unit", supply.outside_usd_per_unit);
    errors::require_in_range(path_of(table, "nominal_escalation"), supply.yearly_escalation, -0.9, 2, share);
  }
}

}  // namespace warmledger::catalog
