#include "warmledger/appraisal/parts.hpp"

#include <array>

#include <fmt/format.h>

namespace warmledger::appraisal {

using catalog::Package;
using catalog::Program;

double sold_units(double kwh, prices::Fuel fuel, const prices::FuelTable& fuels) {
  return kwh / fuels[static_cast<std::size_t>(fuel)].kwh_per_unit;
}

namespace {

ledger::Plan::Purchase purchase(const climate::Monthly& kwh, const hotwater::HoursOfDay::Profile* hours,
                                prices::Fuel fuel, const Home& home, const Bills& bills, const Program& program,
                                const prices::FuelTable& fuels) {
  ledger::Plan::Purchase result;
  const auto slot = static_cast<std::size_t>(fuel);
  result.fuel = fuel;
  for (std::size_t m = 0; m < 12; ++m) result.units[m] = sold_units(kwh[m], fuel, fuels);
  result.usd_per_unit = home.price[slot].usd_per_unit;
  result.as_if_price = program.as_if_prices[slot].has_value();
  result.escalation = program.escalation[slot];
  if (!home.on_tariff[slot]) return result;
  result.tariff = program.tariffs[slot];
  static constexpr std::array<double, 24> even{};
  for (std::size_t m = 0; m < 12; ++m) {
    result.rate_usd_per_unit[m] = prices::mean_rate(*result.tariff, m, hours != nullptr ? (*hours)[m] : even);
    result.other_units[m] = result.tariff->tariff.other_units_month;
  }
  if (fuel == home.heater.fuel && bills.other_units) result.other_units = *bills.other_units;
  return result;
}

}  // namespace

ledger::Plan plan_of(const catalog::Household& household, const Package& package, const Home& home,
                     const hotwater::Year& year, const Bills& bills, const Program& program,
                     const catalog::Catalog& catalog) {
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
  const hotwater::HoursOfDay* hours = bills.hours.get();
  const auto buy = [&](const climate::Monthly& kwh, const hotwater::HoursOfDay::Profile* profile, prices::Fuel fuel) {
    return purchase(kwh, profile, fuel, home, bills, program, catalog.fuels);
  };
  plan.fuel_without = buy(year.fuel_without_kwh, hours ? &hours->fuel_without_kwh : nullptr, year.fuel_without);
  plan.fuel_with = buy(year.backup_with_kwh, hours ? &hours->backup_kwh : nullptr, year.backup_fuel);
  plan.pump = buy(year.pump_kwh, hours ? &hours->pump_kwh : nullptr, prices::Fuel::electricity);
  if (plan.fuel_with.fuel == prices::Fuel::electricity) {
    // One meter: the pumps come on top of the backup.
    for (std::size_t m = 0; m < 12; ++m) plan.pump.other_units[m] += plan.fuel_with.units[m];
  }
  plan.system_life_years = package.life_years;
  plan.upkeep = package.upkeep;
  plan.heater_years_left = home.heater_years_left;
  plan.heater_life_years = program.heater_life_years;
  plan.heater_replacement_usd = program.heater_replacement_usd;
  plan.heater_stays = package.system.arrangement == hotwater::Arrangement::two_tank;
  return plan;
}

}  // namespace warmledger::appraisal
