#include "warmledger/catalog/program_reader.hpp"

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/stack.hpp"

namespace warmledger::catalog {

void check(const Program& program) {
  const auto in_range = [](std::string_view table, std::string_view name, double value) {
    const Spec& spec = spec_named(table, name);
    errors::require_in_range(path_of(table, name), value, spec.low, spec.high, spec.unit);
  };
  const auto not_blank = [](std::string_view key, const std::string& value) {
    if (is_blank(value)) throw errors::MissingValue({{"", {}, {}, std::string(key)}, "", "is missing", "text"});
  };
  not_blank("title", program.title);
  if (!program.install_date.ok() || dates::year_of(program.install_date) < first_year ||
      dates::year_of(program.install_date) > last_year) {
    throw errors::ValueOutOfRange({{"", {}, {}, "install_date"},
                                   dates::iso(program.install_date),
                                   "is out of range",
                                   "2000-01-01 to 2100-12-31"});
  }
  in_range("", "study_years", program.study_years);
  in_range("economics", "inflation_rate", program.inflation_rate);
  // A real rate at its limit may give a nominal one beyond the limit of nominal rates: only "above -1" must hold.
  errors::require_in_range("economics.nominal_discount_rate", program.nominal_discount_rate, -0.9, 2, share);
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const std::string table = fmt::format("prices.{}", prices::name_of(fuel));
    errors::require_in_range(path_of(table, "nominal_escalation"), program.escalation[slot].yearly_rate, -0.9, 2,
                             share);
    prices::check(program.escalation[slot]);
    if (program.tariffs[slot] != nullptr) prices::check(program.tariffs[slot]->tariff);
    if (program.as_if_prices[slot]) in_range(table, "usd_per_unit", *program.as_if_prices[slot]);
    if (program.prices[slot]) in_range(table, "usd_per_unit", program.prices[slot]->usd_per_unit);
  }
  in_range("own_bills", "least_scale", program.least_own_bill_scale);
  in_range("own_bills", "most_scale", program.most_own_bill_scale);
  in_range("income", "area_median_income_usd", program.income.area_median_income_usd);
  in_range("income", "round_to_usd", program.income.round_to_usd);
  if (program.income.state_median_income_usd)
    in_range("income", "state_median_income_usd", *program.income.state_median_income_usd);
  for (const incentives::IncomeTier& tier : program.income.tiers) {
    not_blank("income.tier.name", tier.name);
    in_range("[[income.tier]]", "most_share", tier.most_share);
  }
  for (const NamedPlace& place : program.places) {
    not_blank("place.name", place.name);
    in_range("[[place]]", "latitude_deg", place.latitude_deg);
    in_range("[[place]]", "longitude_deg", place.longitude_deg);
  }
  if (program.packages.empty())
    throw errors::MissingValue({{"", {}, {}, "package"}, "", "is missing", "one package or more"});
  for (const Package& package : program.packages) {
    not_blank("package.id", package.id);
    hotwater::check(package.system);
    hotwater::check(package.plant);
    in_range("[[package]]", "material_usd", package.material_usd);
    in_range("[[package]]", "labor_usd", package.labor_usd);
    in_range("[[package]]", "least_occupants", package.least_occupants);
    in_range("[[package]]", "most_occupants", package.most_occupants);
    in_range("[[package]]", "life_years", package.life_years);
    for (const prices::Upkeep& upkeep : package.upkeep) {
      in_range("[[package.upkeep]]", "usd", upkeep.usd);
      in_range("[[package.upkeep]]", "first_year", upkeep.first_year);
      in_range("[[package.upkeep]]", "every_years", upkeep.every_years);
    }
  }
  (void)incentives::Stack(program.rules, program.tax, program.pools);  // refuses rules that name each other in a circle
  for (const loans::LoanTerms& loan : program.loans) {
    not_blank("loan.id", loan.id);
    loans::check(loan);
    (void)loans::first_period(loan, program.install_date);
  }
  const DecisionRules& decision = program.decision;
  const auto maybe_in_range = [&](std::string_view name, const std::optional<double>& value) {
    if (value) in_range("decision", name, *value);
  };
  if (!has_threshold(decision)) {
    throw errors::MissingValue({{"", {}, {}, "decision"}, "", "sets no threshold", "one threshold or more"});
  }
  maybe_in_range("longest_simple_payback_years", decision.longest_simple_payback_years);
  maybe_in_range("longest_discounted_payback_years", decision.longest_discounted_payback_years);
  maybe_in_range("least_net_savings_usd", decision.least_net_savings_usd);
  maybe_in_range("least_savings_to_investment", decision.least_savings_to_investment);
  in_range("decision", "largest_extra_help_usd", decision.largest_extra_help_usd);
  in_range("suitability", "most_degrees_off_south", program.suitability.most_degrees_off_south);
  in_range("suitability", "most_shading_share", program.suitability.most_shading_share);
  in_range("suitability", "least_occupants_for_glycol", program.suitability.least_occupants_for_glycol);
  in_range("heater", "life_years", program.heater_life_years);
  in_range("heater", "replacement_usd", program.heater_replacement_usd);
  if (program.cost_tests) check(*program.cost_tests);
}

}  // namespace warmledger::catalog
