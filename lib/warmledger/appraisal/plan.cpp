#include "warmledger/appraisal/parts.hpp"

#include <fmt/format.h>

namespace warmledger::appraisal {

using catalog::Package;
using catalog::Program;

double sold_units(double kwh, prices::Fuel fuel, const prices::FuelTable& fuels) {
  return kwh / fuels[static_cast<std::size_t>(fuel)].kwh_per_unit;
}

namespace {

ledger::Plan::Purchase purchase(const climate::Monthly& kwh, prices::Fuel fuel, const Home& home,
                                const Program& program, const prices::FuelTable& fuels) {
  ledger::Plan::Purchase result;
  const auto slot = static_cast<std::size_t>(fuel);
  result.fuel = fuel;
  for (std::size_t m = 0; m < 12; ++m) result.units[m] = sold_units(kwh[m], fuel, fuels);
  result.usd_per_unit = home.price[slot].usd_per_unit;
  result.escalation = program.escalation[slot];
  return result;
}

}  // namespace

ledger::Plan plan_of(const catalog::Household& household, const Package& package, const Home& home,
                     const hotwater::Year& year, const Program& program, const catalog::Catalog& catalog) {
  ledger::Plan plan;
  plan.install_date = program.install_date;
  plan.study_years = program.study_years;
  plan.inflation_rate = program.inflation_rate;
  // An owner's own labor is no cost (common practice, and the law of the credits).
  const bool own_labor = household.installed_by == incentives::Installer::owner;
  plan.installed_cost_usd =
      household.installed_cost_usd.value_or(own_labor ? package.material_usd : package.installed_cost_usd());
  plan.installed_cost_reason = household.installed_cost_usd ? "the household's quote"
                               : own_labor ? fmt::format("package {}, material; put in by the owner", package.id)
                                           : fmt::format("package {}, material and labor", package.id);
  plan.fuel_without = purchase(year.fuel_without_kwh, year.fuel_without, home, program, catalog.fuels);
  plan.fuel_with = purchase(year.backup_with_kwh, year.backup_fuel, home, program, catalog.fuels);
  plan.pump = purchase(year.pump_kwh, prices::Fuel::electricity, home, program, catalog.fuels);
  plan.system_life_years = package.life_years;
  plan.upkeep = package.upkeep;
  plan.heater_years_left = home.heater_years_left;
  plan.heater_life_years = program.heater_life_years;
  plan.heater_replacement_usd = program.heater_replacement_usd;
  plan.heater_stays = package.system.arrangement == hotwater::Arrangement::two_tank;
  return plan;
}

}  // namespace warmledger::appraisal
