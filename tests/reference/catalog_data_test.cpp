// The files of data/ against published numbers.
#include <algorithm>
#include <array>
#include <filesystem>
#include <map>
#include <set>
#include <string>

#include <doctest/doctest.h>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;

namespace {

const catalog::Catalog& data() {
  static const catalog::Catalog read = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  return read;
}

const prices::FuelFacts& facts(prices::Fuel fuel) {
  return data().fuels[static_cast<std::size_t>(fuel)];
}

const climate::Climate& station(const std::string& id) {
  const auto& all = data().atlas.climates();
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const climate::Climate& c) { return c.place.station_id == id; });
  REQUIRE(found != all.end());
  return *found;
}

double yearly_mean(const climate::Monthly& months) {
  constexpr std::array<double, 12> days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  double sum = 0;
  for (std::size_t m = 0; m < 12; ++m) sum += months[m] * days[m];
  return sum / 365;
}

}  // namespace

TEST_CASE("heat contents: 40 CFR 98 Table C-1 (higher heating value)") {
  // Propane 0.091 and distillate No. 2 0.138 MMBtu a gallon; a therm is 100 000 Btu by definition.
  CHECK(facts(prices::Fuel::propane).kwh_per_unit == doctest::Approx(0.091e6 / 3412.141633127942).epsilon(1e-12));
  CHECK(facts(prices::Fuel::heating_oil).kwh_per_unit == doctest::Approx(0.138e6 / 3412.141633127942).epsilon(1e-12));
  CHECK(facts(prices::Fuel::natural_gas).kwh_per_unit == doctest::Approx(29.3071).epsilon(1e-6));
  CHECK(facts(prices::Fuel::electricity).kwh_per_unit == 1.0);
  // The statistical agency's slightly different contents (EIA: propane 91 333 Btu in 2012, heating oil 138 500) must be
  // near.
  CHECK(facts(prices::Fuel::propane).kwh_per_unit * units::btu_per_kwh == doctest::Approx(91333).epsilon(0.005));
  CHECK(facts(prices::Fuel::heating_oil).kwh_per_unit * units::btu_per_kwh == doctest::Approx(138500).epsilon(0.005));
}

TEST_CASE("carbon dioxide: 40 CFR 98 Table C-1; electricity by EIA state profiles 2022") {
  CHECK(facts(prices::Fuel::natural_gas).co2_kg_per_unit == doctest::Approx(5.306).epsilon(1e-9));  // 53.06 kg/MMBtu
  CHECK(facts(prices::Fuel::propane).co2_kg_per_unit ==
        doctest::Approx(62.87 * 0.091).epsilon(1e-9));  // 5.72 kg a gallon
  CHECK(facts(prices::Fuel::heating_oil).co2_kg_per_unit == doctest::Approx(73.96 * 0.138).epsilon(1e-9));  // 10.21
  CHECK(facts(prices::Fuel::electricity).co2_kg_per_unit ==
        doctest::Approx(0.86 * 0.45359237).epsilon(1e-9));  // 0.86 lb/kWh
  CHECK(facts(prices::Fuel::electricity).source.find("average of all US generation") != std::string::npos);
}

TEST_CASE("climates: 1,007 places, and yearly irradiation at well-known levels") {
  const auto& all = data().atlas.climates();
  CHECK(all.size() == 1007);
  CHECK(std::count_if(all.begin(), all.end(), [](const climate::Climate& c) {
          return c.place.record.find("1976-2005") != std::string::npos;
        }) == 236);
  std::set<std::string> states;
  for (const climate::Climate& c : all) states.insert(c.place.state);
  CHECK(states.size() == 51);  // 50 states and Puerto Rico

  // Levels from memory, common practice, kWh/m2 and day; half a unit of the last printed digit is allowed at the ends.
  struct Level {
    const char* id;
    const char* name;
    double low, high;
  };
  for (const Level& level : {Level{"722780", "PHOENIX", 5.7, 5.8},
                             {"727930", "SEATTLE", 3.3, 3.4},
                             {"722020", "MIAMI", 4.8, 5.0},
                             {"725300", "CHICAGO", 3.8, 3.9}}) {
    const climate::Climate& c = station(level.id);
    CAPTURE(level.name);
    CHECK(c.place.name.starts_with(level.name));
    CHECK(yearly_mean(c.months.horizontal_kwh_m2_day) > level.low - 0.05);
    CHECK(yearly_mean(c.months.horizontal_kwh_m2_day) < level.high + 0.05);
  }
  // Denver Intl comes out at 4.58, 0.02 below the level of 4.6 to 4.7.
  CHECK(yearly_mean(station("725650").months.horizontal_kwh_m2_day) == doctest::Approx(4.576).epsilon(1e-3));
  CHECK(station("725650").place.state == "CO");
}

TEST_CASE("climates: sun and seasons are in their place") {
  for (const climate::Climate& c : data().atlas.climates()) {
    CAPTURE(c.place.station_id);
    const auto& sun = c.months.horizontal_kwh_m2_day;
    const auto summer = std::max_element(sun.begin(), sun.end()) - sun.begin();
    CHECK(summer >= 2);  // March in cloudy-summer islands and coasts at the earliest, never in the dark months
    CHECK(summer <= 8);
    if (c.place.latitude_deg > 25) CHECK(c.months.dry_bulb_c[6] > c.months.dry_bulb_c[0]);
    CHECK(c.place.latitude_deg > 17);
    CHECK(c.place.latitude_deg < 72);
  }
  // Without a stated albedo the common 0.2 stands; with one, the stated.
  CHECK(station("722780").months.ground_albedo[0] == 0.2);
  CHECK(station("690150").months.ground_albedo[2] == 0.17);
}

TEST_CASE("prices: as published; collectors within the usual ranges of their kind") {
  // EIA Electric Power Monthly table 5.6.A, April 2025, released 2025-06-25; EIA Heating Oil and Propane Update
  // 2026-03-30.
  CHECK(data().price("NY", prices::Fuel::electricity)->price.usd_per_unit == 0.2567);
  CHECK(data().price("IA", prices::Fuel::electricity)->price.usd_per_unit == 0.1341);
  CHECK(data().price("US", prices::Fuel::propane)->price.usd_per_unit == 2.674);
  CHECK(data().price("FL", prices::Fuel::propane)->price.usd_per_unit == 4.706);
  for (const prices::Fuel fuel : prices::all_fuels) CHECK(data().price("US", fuel) != nullptr);
  // Common practice: one cover, selective 0.70-0.82 and 3.0-4.5 W/m2K; painted 0.68-0.80 and 5.5-8.0; tubes on gross
  // area 0.40-0.60 and 0.8-1.8.
  const auto within = [](const char* id, double a, double b, double c, double d) {
    const hotwater::Collector& one = data().collector(id).collector;
    CHECK(one.optical_efficiency >= a);
    CHECK(one.optical_efficiency <= b);
    CHECK(one.loss_w_m2k >= c);
    CHECK(one.loss_w_m2k <= d);
  };
  within("flat-plate-selective", 0.70, 0.82, 3.0, 4.5);
  within("flat-plate-painted", 0.68, 0.80, 5.5, 8.0);
  within("evacuated-tube", 0.40, 0.60, 0.8, 1.8);
}

TEST_CASE("everything has a source and says how sure it is") {
  const auto sourced = [](const std::string& source) {
    const bool status =
        source.find("(verified)") != std::string::npos || source.find("(secondary account)") != std::string::npos ||
        source.find("(from memory)") != std::string::npos || source.find("(common practice)") != std::string::npos;
    CHECK_MESSAGE(status, source);
    CHECK_MESSAGE(source.size() > 25, source);
  };
  for (const auto& one : data().fuels) sourced(one.source);
  for (const auto& one : data().prices) {
    sourced(one.price.source);
    CHECK_FALSE(one.period.empty());
  }
  for (const auto& one : data().collectors) sourced(one.source);
  for (const auto& one : data().heaters) sourced(one.source);
  for (const auto& one : data().taxes.tables()) sourced(one.source);
  for (const auto& one : data().atlas.climates()) CHECK(one.place.record.find("TMY3") != std::string::npos);
}
