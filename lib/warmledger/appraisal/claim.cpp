#include "warmledger/appraisal/claim.hpp"

#include <algorithm>

#include "warmledger/money/money.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::appraisal {

incentives::Claim claim_of(const catalog::Household& household, const catalog::Package& package, const Home& home,
                           const hotwater::SolarSystem& system, const hotwater::Year& year, double installed_cost_usd,
                           const catalog::Program& program) {
  incentives::Claim claim;
  claim.install_date = program.install_date;
  claim.installed_cost_usd = installed_cost_usd;
  claim.collector_area_m2 = system.area_m2();
  const double without_kwh = year.yearly(year.fuel_without_kwh);
  const double backup_kwh = year.yearly(year.backup_with_kwh);
  const double pump_kwh = year.yearly(year.pump_kwh);
  claim.first_year_saving_kwh = without_kwh - backup_kwh - pump_kwh;
  claim.yearly_income_usd = household.yearly_income_usd;
  claim.occupants = household.occupants;
  claim.tenure = household.tenure;
  claim.heater_fuel = household.heater_fuel;
  claim.tax_liability_usd = home.liability_usd;
  claim.state_tax_liability_usd = home.state_liability_usd;
  claim.local_tax_liability_usd = home.local_liability_usd;
  claim.liability_estimated = {home.liability_estimated, home.state_liability_estimated,
                               home.local_liability_estimated};
  claim.federal_table = home.federal_table;
  claim.filing_status = household.filing_status;
  claim.itemizes = household.itemizes;
  claim.installer = household.installed_by;
  claim.new_home = household.new_home;
  claim.ineligible_cost_usd = household.ineligible_cost_usd;
  // A quote is split as the package is.
  const double package_usd = package.installed_cost_usd();
  claim.material_usd = household.installed_by == incentives::Installer::owner ? claim.installed_cost_usd
                       : package_usd > 0 ? claim.installed_cost_usd * package.material_usd / package_usd
                                         : 0.0;
  claim.first_year_saving_therm =
      year.fuel_without == prices::Fuel::electricity
          ? 0
          : (without_kwh - (year.backup_fuel == year.fuel_without ? backup_kwh : 0)) / units::kwh_per_therm;
  claim.solar_share = year.solar_fraction_by_heat();
  claim.certified = !package.certification.empty();
  claim.yearly_discount_rate = std::max(0.0, program.nominal_discount_rate);
  claim.assistance = household.assistance;
  return claim;
}

void set_installed_cost(incentives::Claim& claim, double installed_cost_usd) {
  if (claim.installed_cost_usd > 0) claim.material_usd *= installed_cost_usd / claim.installed_cost_usd;
  claim.installed_cost_usd = installed_cost_usd;
}

PropertyTax property_tax_of(double installed_cost_usd, const incentives::TaxRules& tax, const incentives::Stack& stack,
                            std::span<const incentives::Outcome> outcomes) {
  PropertyTax result;
  if (!tax.property_tax_rate) return result;
  const double full = money::round_cents(*tax.property_tax_rate * tax.added_value_share * installed_cost_usd);
  double avoided = 0;
  double until_end = 0;
  for (const incentives::Outcome& outcome : outcomes) {
    if (outcome.avoided_usd_year <= avoided) continue;
    avoided = std::min(full, outcome.avoided_usd_year);
    until_end = stack.rules()[outcome.rule].years;
  }
  if (full - avoided >= 0.01) result.usd_year = money::round_cents(full - avoided);
  if (avoided > 0 && until_end > 0) {
    result.usd_year_after = avoided;
    result.first_year_after = static_cast<int>(until_end) + 1;
  }
  return result;
}

}  // namespace warmledger::appraisal
