// The simulation against the monthly correlation, against trade facts, and synthetic weather against typical years.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <string>

#include <fmt/format.h>

#include "support/typical_years.hpp"
#include "warmledger/catalog/catalog.hpp"
#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/climate/synthesis.hpp"
#include "warmledger/climate/tilted.hpp"
#include "warmledger/hotwater/cautions.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using namespace warmledger::hotwater;

namespace {

const climate::Atlas& atlas() {
  static const catalog::Catalog data = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  return data.atlas;
}

const climate::Climate& station(const std::string& id) {
  return *atlas().named(id).climate;
}

Heater electric() {
  return heater_from_rating(HeaterKind::storage, prices::Fuel::electricity, 0.92, 0.98, 4500);
}

SolarSystem two_collectors(double tilt_deg) {
  SolarSystem system;
  system.collector_count = 2;  // 64 ft2
  system.storage_l = 80 * units::litre_per_gallon;
  system.tilt_deg = tilt_deg;
  return system;
}

/// Simulates a system under an hourly year.
SimulatedYear run(const climate::HourlyYear& year, const SolarSystem& system, const Demand& demand, int nodes = 10) {
  climate::Plane plane;
  plane.tilt_deg = system.tilt_deg;
  plane.azimuth_deg = system.azimuth_deg;
  plane.incidence_b0 = system.collector.incidence_b0;
  const climate::PlaneYear light = climate::plane_year(year, plane);
  const auto mains = climate::mains_by_day_c(year);
  Case one;
  one.system = system;
  one.demand = demand;
  one.existing = electric();
  SimulationOptions options;
  options.nodes = nodes;
  return simulate(one, Weather{light.effective_w_m2, year.dry_bulb_c, mains}, options);
}

climate::HourlyYear synthetic(const climate::Climate& place) {
  return climate::synthesize(place, std::stoul(place.place.station_id));
}

double mean_of(const climate::Monthly& months, std::initializer_list<std::size_t> which) {
  double sum = 0;
  for (const std::size_t m : which) sum += months[m];
  return sum / static_cast<double>(which.size());
}

const Demand family_of_four{80 * units::litre_per_gallon, units::celsius_from_fahrenheit(120)};

}  // namespace

TEST_CASE("the simulation with a mixed tank against the monthly correlation: twelve places, three sizes") {
  // Klein, Beckman & Duffie fitted the correlation to simulations whose store was mixed (from memory), so the
  // simulation with one node is the like of it. What layers in the tank bring above that is the simulation's own
  // finding, 7 to 17 points here. Places with mains above 20 degC lie outside the range that the water-heating factor
  // was made for (5 to 20 degC, from memory): there the correlation stays low, by 9 to 11 points in Miami.
  struct Size {
    double gallons;
    int collectors;
    double tank_gallons;
  };
  std::string table = "annual fraction by heat: monthly, simulated mixed, simulated 10 nodes";
  double worst = 0;
  for (const std::string id : {"725650", "724460", "722780", "727930", "722020", "725300", "725090", "722190", "726580",
                               "724340", "723230", "724940"}) {
    const climate::Climate& place = station(id);
    const climate::HourlyYear year = synthetic(place);
    double warmest_mains = 0;
    for (const double mains : climate::mains_by_month_c(place)) warmest_mains += mains / 12;
    for (const Size& size : {Size{40, 1, 50}, Size{80, 2, 80}, Size{120, 3, 120}}) {
      SolarSystem system = two_collectors(std::fabs(place.place.latitude_deg));
      system.collector_count = size.collectors;
      system.storage_l = size.tank_gallons * units::litre_per_gallon;
      const Demand demand{size.gallons * units::litre_per_gallon, 50};
      const double monthly = correlate(system, demand, electric(), place).solar_fraction_by_heat();
      const double mixed = run(year, system, demand, 1).year.solar_fraction_by_heat();
      const double layered = run(year, system, demand).year.solar_fraction_by_heat();
      table += fmt::format("\n{:<32} {:>3.0f} gal/day {:.3f} {:.3f} {:.3f}", place.place.name, size.gallons, monthly,
                           mixed, layered);
      if (warmest_mains <= 20) {
        worst = std::max(worst, std::fabs(mixed - monthly));
        CHECK_MESSAGE(std::fabs(mixed - monthly) < 0.05, place.place.name, " ", size.gallons);
      } else {
        CHECK_MESSAGE(mixed - monthly > 0.03, place.place.name);
        CHECK_MESSAGE(mixed - monthly < 0.13, place.place.name);
      }
      CHECK_MESSAGE(layered - monthly > 0.05, place.place.name);
      CHECK_MESSAGE(layered - monthly < 0.18, place.place.name);
    }
  }
  MESSAGE(table, "\nworst difference of mixed and monthly with mains up to 20 degC: ", worst);
}

TEST_CASE(
    "a family of four near 39 degrees north (common practice: 60 to 80 % a year, about 90 % in summer, 60 % or less in "
    "winter)") {
  // Of the fuel: what a household sees on its bill. By heat delivered the fraction is two to three points higher.
  for (const std::string id : {"724460", "724340"}) {  // Kansas City, St. Louis
    const SimulatedYear year =
        run(synthetic(station(id)), two_collectors(units::tilt_deg_from_rise_in_12(8)), family_of_four);
    const double fraction = year.year.solar_fraction_by_fuel();
    CHECK(fraction > 0.60);
    CHECK(fraction < 0.80);
    CHECK(mean_of(year.year.solar_fraction, {5, 6, 7}) > 0.88);
    CHECK(mean_of(year.year.solar_fraction, {11, 0, 1}) < 0.62);
  }
}

TEST_CASE("two people on a system for many: overheating caution for glycol, none for drain-back (common practice)") {
  const climate::Climate& place = station("724460");
  const climate::HourlyYear weather = synthetic(place);
  const Demand two{40 * units::litre_per_gallon, units::celsius_from_fahrenheit(120)};
  SolarSystem system = two_collectors(units::tilt_deg_from_rise_in_12(8));
  const auto warns = [&](Loop loop) {
    system.loop = loop;
    const SimulatedYear year = run(weather, system, two);
    for (const Caution& caution : cautions(system, two, electric(), year, place)) {
      if (caution.topic == Topic::overheating) return true;
    }
    return false;
  };
  CHECK(warns(Loop::pressurized_glycol));
  CHECK_FALSE(warns(Loop::drain_back));
}

TEST_CASE(
    "30 degrees off south costs little; a steeper roof gives more in winter and less in summer (common practice)") {
  const climate::HourlyYear weather = synthetic(station("724460"));
  SolarSystem system = two_collectors(39);
  const SimulatedYear south = run(weather, system, family_of_four);
  for (const double azimuth : {-30.0, 30.0}) {
    system.azimuth_deg = azimuth;
    const double lost =
        south.year.solar_fraction_by_heat() - run(weather, system, family_of_four).year.solar_fraction_by_heat();
    CHECK(lost > 0);
    CHECK(lost < 0.04);
  }
  system.azimuth_deg = 0;
  system.tilt_deg = 60;
  const SimulatedYear steep = run(weather, system, family_of_four);
  CHECK(mean_of(steep.year.solar_kwh, {11, 0, 1}) > mean_of(south.year.solar_kwh, {11, 0, 1}));
  CHECK(mean_of(steep.into_store_kwh, {5, 6, 7}) < mean_of(south.into_store_kwh, {5, 6, 7}));
}

TEST_CASE("a synthetic year gives the annual fraction of the typical year it stands for, within 3 points" *
          doctest::skip(support::weather_folder() == nullptr)) {
  // TMY3 files; the synthetic years are made from the monthly means of the same files.
  const auto years = support::typical_years();
  REQUIRE(!years.empty());
  for (const climate::HourlyYear& typical : years) {
    const climate::Climate place = climate::monthly_means(typical);
    for (const double azimuth : {0.0, 60.0, -60.0}) {
      SolarSystem system = two_collectors(std::fabs(place.place.latitude_deg));
      system.azimuth_deg = azimuth;
      const double real = run(typical, system, family_of_four).year.solar_fraction_by_heat();
      const double made = run(climate::synthesize(place, 1), system, family_of_four).year.solar_fraction_by_heat();
      MESSAGE(place.place.name, ", azimuth ", azimuth, ": typical ", real, ", synthetic ", made);
      CHECK(std::fabs(real - made) < 0.03);
    }
  }
}
