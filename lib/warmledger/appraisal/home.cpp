#include "warmledger/appraisal/home.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::appraisal {

using catalog::Household;
using catalog::Package;
using catalog::Program;

namespace {

/// Weather of another region is no weather of the place: coordinates further than this from every station are refused.
constexpr double most_station_km = 300;

errors::Where at(std::string_view column) {
  return {"", {}, {}, std::string(column)};
}

std::string lower(std::string_view text) {
  std::string copy(text);
  std::transform(copy.begin(), copy.end(), copy.begin(),
                 [](unsigned char c) { return static_cast<char>(c >= 'A' && c <= 'Z' ? c + 32 : c); });
  return copy;
}

/// Surface azimuth of the formulas (0 south, west positive) from a compass bearing.
double azimuth_off_south_deg(double compass_deg) {
  const double off = std::fmod(compass_deg - 180.0, 360.0);
  return off <= -180.0 ? off + 360.0 : off > 180.0 ? off - 360.0 : off;
}

}  // namespace

climate::Atlas::Found find_climate(const Household& household, const Program& program, const catalog::Catalog& catalog,
                                   Scratch& scratch) {
  if (household.latitude_deg && household.longitude_deg) {
    const climate::Atlas::Found nearest = catalog.atlas.nearest(*household.latitude_deg, *household.longitude_deg);
    if (nearest.distance_km > most_station_km) {
      throw errors::ValueOutOfRange(
          {at("latitude_deg, longitude_deg"),
           fmt::format("{}, {}", errors::plain_number(*household.latitude_deg),
                       errors::plain_number(*household.longitude_deg)),
           fmt::format("lies {:.0f} km from the nearest weather station, {}", nearest.distance_km,
                       nearest.climate->place.name),
           fmt::format("places within {:.0f} km of one (longitudes of the mainland US are negative)",
                       most_station_km)});
    }
    return nearest;
  }
  if (const auto known = scratch.places.find(household.place); known != scratch.places.end()) return known->second;
  climate::Atlas::Found found;
  const std::string wanted = lower(household.place);
  const auto named = std::find_if(program.places.begin(), program.places.end(),
                                  [&](const auto& p) { return lower(p.name) == wanted; });
  if (named != program.places.end()) {
    found = catalog.atlas.nearest(named->latitude_deg, named->longitude_deg);
  } else {
    try {
      found = catalog.atlas.named(household.place);
    } catch (const errors::UnknownName& error) {
      std::vector<std::string> names;
      for (const auto& place : program.places) names.push_back(place.name);
      const std::string nearest = errors::nearest_name(household.place, names);
      if (nearest.empty())
        throw errors::UnknownName({at("place"), error.problem().value, error.problem().what, error.problem().allowed});
      throw errors::UnknownName({at("place"), "\"" + household.place + "\"",
                                 fmt::format("is not known (did you mean {}?)", nearest),
                                 "a place of the program, a weather station, or latitude_deg and longitude_deg"});
    }
  }
  scratch.places.emplace(household.place, found);
  return found;
}

namespace {

void choose_heater(const Household& household, const Program& program, const catalog::Catalog& catalog, Home& home,
                   std::vector<std::string>& defaults) {
  double age = household.heater_age_years.value_or(0);
  if (!household.heater_age_years && !household.heater_replaced_now) {
    age = program.heater_life_years / 2;
    defaults.push_back(
        fmt::format("heater_age_years = {} (half of the program's heater life)", errors::plain_number(age)));
  }
  home.heater_years_left = std::max(0.0, program.heater_life_years - age);
  if (household.heater_replaced_now) {
    age = 0;
    home.heater_years_left = 0;
    defaults.emplace_back(
        "water heater = a new one of the same kind, bought on the install date with and without the "
        "system (heater_replaced_now)");
  }
  const catalog::HeaterEntry& entry = catalog.heater(household.heater_kind, household.heater_fuel, age);
  double factor = entry.uniform_energy_factor;
  double recovery = entry.recovery_efficiency;
  if (household.heater_uniform_energy_factor && !household.heater_replaced_now) {
    factor = *household.heater_uniform_energy_factor;
    if (factor > 0.95 * recovery && household.heater_kind != hotwater::HeaterKind::instantaneous) {
      // A heater rated better than the catalogue's typical one also recovers better.
      recovery = factor / 0.95;
      if (household.heater_kind == hotwater::HeaterKind::storage) recovery = std::min(recovery, 1.0);
      defaults.push_back(
          fmt::format("recovery efficiency = {:.3f} (the rating is above what the catalogue's {:.2f} allows)", recovery,
                      entry.recovery_efficiency));
    }
  } else {
    defaults.push_back(fmt::format("heater_uniform_energy_factor = {} (catalogue: {} on {}, {} years old)",
                                   errors::plain_number(factor), hotwater::name_of(household.heater_kind),
                                   prices::name_of(household.heater_fuel), errors::plain_number(age)));
  }
  try {
    home.heater =
        hotwater::heater_from_rating(household.heater_kind, household.heater_fuel, factor, recovery, entry.input_w);
  } catch (const errors::ValueOutOfRange& error) {
    throw errors::ValueOutOfRange(
        {at("heater_uniform_energy_factor"), errors::plain_number(factor),
         fmt::format("does not fit a {} heater on {} ({})", hotwater::name_of(household.heater_kind),
                     prices::name_of(household.heater_fuel), error.what()),
         fmt::format("a factor near {} for such a heater", errors::plain_number(entry.uniform_energy_factor))});
  }
}

/// The price that holds for the household; throws if there is none.
void choose_price(const Household& household, const Program& program, const catalog::Catalog& catalog,
                  prices::Fuel fuel, bool used, Home& home, std::vector<std::string>& defaults) {
  const auto slot = static_cast<std::size_t>(fuel);
  if (household.own_price_usd_per_unit[slot]) {
    home.price[slot] = {*household.own_price_usd_per_unit[slot], "the household's own price"};
    return;
  }
  if (program.tariffs[slot] != nullptr) {
    const prices::Tariff& tariff = program.tariffs[slot]->tariff;
    home.on_tariff[slot] = true;
    home.price[slot] = {0, fmt::format("tariff {} ({})", tariff.title, tariff.source)};
    if (used) defaults.push_back(fmt::format("{} price = {}", prices::name_of(fuel), home.price[slot].source));
    return;
  }
  if (program.prices[slot]) {
    home.price[slot] = *program.prices[slot];
  } else if (const catalog::PriceEntry* entry = catalog.price(program.state, fuel); entry != nullptr) {
    home.price[slot] = entry->price;
  } else if (used && program.as_if_prices[slot]) {
    home.price[slot] = {*program.as_if_prices[slot], std::string(prices::not_the_price)};
    return;
  } else if (used) {
    throw errors::MissingValue({at(fmt::format("{} price", prices::name_of(fuel))), "",
                                "is not in the sheet, the program or the price catalogue", "a price in one of them"});
  }
  if (used) {
    defaults.push_back(fmt::format("{} price = {} a {} ({})", prices::name_of(fuel),
                                   errors::plain_number(home.price[slot].usd_per_unit, 6), prices::unit_of(fuel),
                                   home.price[slot].source));
  }
}

void choose_prices(const Household& household, const Program& program, const catalog::Catalog& catalog, Home& home,
                   std::vector<std::string>& defaults) {
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const bool used = fuel == household.heater_fuel || fuel == prices::Fuel::electricity;
    const std::size_t told = defaults.size();
    choose_price(household, program, catalog, fuel, used, home, defaults);
    home.bill_price[slot] = home.price[slot];
    home.bill_on_tariff[slot] = home.on_tariff[slot];
    if (!program.as_if_prices[slot]) continue;
    home.price[slot] = {*program.as_if_prices[slot], std::string(prices::not_the_price)};
    home.on_tariff[slot] = false;
    if (!used) continue;
    defaults.resize(told);
    defaults.push_back(fmt::format("{} price = {} a {} ({})", prices::name_of(fuel),
                                   errors::plain_number(home.price[slot].usd_per_unit, 6), prices::unit_of(fuel),
                                   home.price[slot].source));
  }
}

/// A state's or county's income tax: given, or at the program's one rate, or not known.
std::optional<double> choose_local_tax(std::string_view column, const std::optional<double>& given,
                                       const std::optional<double>& rate, double deduction_usd, double income_usd,
                                       bool matters, bool& estimated, std::vector<std::string>& defaults) {
  if (given || !rate) return given;
  estimated = true;
  const double liability = money::round_cents(*rate * std::max(0.0, income_usd - deduction_usd));
  if (matters) {
    defaults.push_back(fmt::format("{} = {} (estimated: {} % of income above {}; not tax advice)", column,
                                   money::dollars(liability), errors::plain_number(*rate * 100),
                                   money::dollars(deduction_usd)));
  }
  return liability;
}

void choose_tax(const Household& household, const Program& program, const catalog::Catalog& catalog, Home& home,
                std::vector<std::string>& defaults) {
  const auto matters = [&](incentives::Tax tax) {
    return std::any_of(program.rules.begin(), program.rules.end(), [&](const incentives::Rule& r) {
      return incentives::is_tax(r.kind) && r.tax == tax && !r.refundable;
    });
  };
  home.federal_table = catalog.taxes.find(dates::year_of(program.install_date), household.filing_status);
  home.state_liability_usd =
      choose_local_tax("state_tax_liability_usd", household.state_tax_liability_usd, program.tax.state_rate,
                       program.tax.state_deduction_usd, household.yearly_income_usd, matters(incentives::Tax::state),
                       home.state_liability_estimated, defaults);
  home.local_liability_usd =
      choose_local_tax("local_tax_liability_usd", household.local_tax_liability_usd, program.tax.local_rate,
                       program.tax.local_deduction_usd, household.yearly_income_usd, matters(incentives::Tax::local),
                       home.local_liability_estimated, defaults);
  if (household.tax_liability_usd) {
    home.liability_usd = *household.tax_liability_usd;
    return;
  }
  if (!matters(incentives::Tax::federal)) return;
  if (home.federal_table == nullptr) {
    throw errors::MissingValue({at("tax_liability_usd"), "",
                                "is not given and the catalogue has no tax table to estimate it from",
                                "a liability in dollars"});
  }
  const double tax = incentives::schedule_tax_usd(*home.federal_table, household.yearly_income_usd);
  home.liability_usd = std::max(0.0, tax - household.other_tax_credits_usd);
  home.liability_estimated = true;
  defaults.push_back(fmt::format(
      "tax_liability_usd = {} (estimated from income by the {} federal schedule, {}{}; not tax advice)",
      money::dollars(home.liability_usd), home.federal_table->year, incentives::name_of(household.filing_status),
      household.other_tax_credits_usd > 0 ? ", less other credits" : ""));
}

std::vector<std::size_t> candidates_of(const Household& household, const Program& program) {
  std::vector<std::size_t> candidates;
  const std::vector<Package>& packages = program.packages;
  if (!household.package.empty()) {
    const auto found =
        std::find_if(packages.begin(), packages.end(), [&](const Package& p) { return p.id == household.package; });
    if (found == packages.end()) {
      std::vector<std::string> ids;
      for (const Package& package : packages) ids.push_back(package.id);
      const std::string nearest = errors::nearest_name(household.package, ids);
      throw errors::UnknownName({at("package"), "\"" + household.package + "\"",
                                 nearest.empty()
                                     ? "is not a package of the program"
                                     : fmt::format("is not a package of the program (did you mean {}?)", nearest),
                                 fmt::format("{}", fmt::join(ids, ", "))});
    }
    return {static_cast<std::size_t>(found - packages.begin())};
  }
  for (std::size_t i = 0; i < packages.size(); ++i) {
    if (household.occupants >= packages[i].least_occupants && household.occupants <= packages[i].most_occupants) {
      candidates.push_back(i);
    }
  }
  if (candidates.empty()) {
    // None is offered for its size: all are looked at, and misfits says so of the one that is shown.
    for (std::size_t i = 0; i < packages.size(); ++i) candidates.push_back(i);
  }
  return candidates;
}

}  // namespace

Home settle(const Household& household, const Program& program, const catalog::Catalog& catalog, Scratch& scratch) {
  Home home;
  std::vector<std::string>& defaults = home.defaults_used;
  defaults = household.defaults_used;
  home.station = find_climate(household, program, catalog, scratch);
  home.tilt_deg = household.roof_tilt_deg;
  home.azimuth_deg = azimuth_off_south_deg(household.roof_azimuth_deg);
  home.shading_share = household.shading_share;
  home.lift_m = household.collector_lift_m;
  if (household.hot_water_l_day) {
    home.demand.litre_day = *household.hot_water_l_day;
  } else {
    home.demand.litre_day = hotwater::litre_day_from_occupants(household.occupants);
    defaults.push_back(fmt::format("hot_water_gal_day = {} (20 gallons a person and day, common practice)",
                                   errors::plain_number(home.demand.litre_day / units::litre_per_gallon)));
  }
  home.demand.set_temperature_c = household.set_temperature_c;
  choose_heater(household, program, catalog, home, defaults);
  choose_prices(household, program, catalog, home, defaults);
  choose_tax(household, program, catalog, home, defaults);
  home.income_share = incentives::income_share(program.income, household.yearly_income_usd, household.occupants);
  home.candidates = candidates_of(household, program);
  return home;
}

std::vector<std::string> misfits(const Household& household, const Program& program, const Package& package,
                                 const Home& home) {
  std::vector<std::string> reasons;
  const catalog::SuitabilityRules& rules = program.suitability;
  if (household.tenure == incentives::Tenure::renter && !rules.renters_served) {
    reasons.emplace_back("a renter cannot have a system installed without the building's owner, who would pay for it");
  }
  // A roof that is nearly flat has no direction worth the name.
  if (std::fabs(home.azimuth_deg) > rules.most_degrees_off_south && home.tilt_deg >= 5) {
    reasons.push_back(fmt::format("the roof faces {:.0f} degrees away from south; the program takes up to {:.0f}",
                                  std::fabs(home.azimuth_deg), rules.most_degrees_off_south));
  }
  if (household.shading_share > rules.most_shading_share) {
    reasons.push_back(fmt::format("shading takes {:.0f} % of the sun; the program takes up to {:.0f} %",
                                  household.shading_share * 100, rules.most_shading_share * 100));
  }
  if (package.system.loop == hotwater::Loop::pressurized_glycol &&
      household.occupants < rules.least_occupants_for_glycol) {
    reasons.push_back(fmt::format(
        "{} occupants draw too little in summer for a pressurized glycol loop; the program asks for {} or more",
        household.occupants, rules.least_occupants_for_glycol));
  }
  if (household.occupants < package.least_occupants || household.occupants > package.most_occupants) {
    reasons.push_back(fmt::format("package {} is for {} to {} occupants; the household has {}", package.id,
                                  package.least_occupants, package.most_occupants, household.occupants));
  }
  if (household.roof_area_m2 && *household.roof_area_m2 < package.system.area_m2()) {
    reasons.push_back(fmt::format("the free roof of {:.0f} ft2 is smaller than the {:.0f} ft2 of collectors",
                                  *household.roof_area_m2 / units::m2_per_ft2,
                                  package.system.area_m2() / units::m2_per_ft2));
  }
  return reasons;
}

}  // namespace warmledger::appraisal
