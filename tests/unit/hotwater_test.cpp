// Hot water: our own promises. Published values are in tests/reference.
#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/hotwater/cautions.hpp"
#include "warmledger/hotwater/year.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using namespace hotwater;
using climate::Climate;
using climate::Monthly;
using doctest::Approx;
using prices::Fuel;

namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
constexpr double infinite = std::numeric_limits<double>::infinity();

/// An invented place of temperate weather at 39 N.
Climate temperate() {
  Climate c;
  c.place = {"900001", "ALDER FIELD", "KS", 39, -95, 300, -6, "invented"};
  c.months.horizontal_kwh_m2_day = {2.2, 3.0, 4.0, 5.0, 5.8, 6.4, 6.4, 5.7, 4.7, 3.5, 2.4, 1.9};
  c.months.dry_bulb_c = {-2, 0, 6, 12, 18, 23, 26, 25, 20, 13, 6, 0};
  c.months.dry_bulb_range_k.fill(11);
  return c;
}

Heater gas() {
  return heater_from_rating(HeaterKind::storage, Fuel::natural_gas, 0.60, 0.78, 11700);
}
Heater electric() {
  return heater_from_rating(HeaterKind::storage, Fuel::electricity, 0.92, 0.98, 4500);
}
Heater tankless() {
  return heater_from_rating(HeaterKind::instantaneous, Fuel::propane, 0.9, 0.9, 55000);
}

const Demand family{300, 50};

template <class Call>
std::string refusal(Call&& call) {
  try {
    call();
  } catch (const errors::Error& error) {
    return error.what();
  }
  return "nothing was thrown";
}

std::string text_of(const std::vector<Caution>& list, Topic topic) {
  for (const Caution& caution : list) {
    if (caution.topic == topic) return caution.text;
  }
  return "";
}

bool holds(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("names there and back, and unknown names") {
  for (const HeaterKind kind : {HeaterKind::storage, HeaterKind::instantaneous, HeaterKind::heat_pump}) {
    CHECK(heater_kind_named(name_of(kind)) == kind);
  }
  for (const Loop loop : {Loop::drain_back, Loop::pressurized_glycol}) CHECK(loop_named(name_of(loop)) == loop);
  for (const Arrangement a : {Arrangement::two_tank, Arrangement::one_tank}) CHECK(arrangement_named(name_of(a)) == a);
  for (const Detail detail : {Detail::hourly, Detail::monthly}) CHECK(detail_named(name_of(detail)) == detail);
  CHECK_THROWS_WITH_AS(
      (void)heater_kind_named("heatpump"),
      "heater_kind: \"heatpump\" is not known (did you mean heat_pump?); allowed: storage, instantaneous, "
      "heat_pump",
      errors::UnknownName);
  CHECK_THROWS_WITH_AS(
      (void)loop_named("drainback"),
      "loop: \"drainback\" is not known (did you mean drain_back?); allowed: drain_back, pressurized_glycol",
      errors::UnknownName);
  CHECK_THROWS_AS((void)arrangement_named("three_tank "), errors::UnknownName);
  CHECK_THROWS_AS((void)detail_named("Hourly"), errors::UnknownName);
}

TEST_CASE("daily energy equation: properties") {
  const Heater heater = gas();
  CHECK(energy_in_kwh_day(heater, 0, 52) == Approx(24 * heater.standby_ua_w_k * (52 - heater.room_c) / 1000));
  // Linear in the heat, with a slope just under 1/RE because the burner's hours replace some of the standby.
  const double slope = (energy_in_kwh_day(heater, 10, 52) - energy_in_kwh_day(heater, 5, 52)) / 5;
  CHECK(slope < 1 / 0.78);
  CHECK(slope > 0.97 / 0.78);
  // A tank no warmer than its room loses nothing, and gains nothing.
  CHECK(energy_in_kwh_day(heater, 10, 15) == Approx(10 / 0.78).epsilon(1e-12));
  CHECK(energy_in_kwh_day(tankless(), 9, 52) == Approx(10).epsilon(1e-12));
  CHECK(energy_in_kwh_day(tankless(), 0, 52) == 0);
  // A heat pump takes in less than it gives.
  const Heater pump = heater_from_rating(HeaterKind::heat_pump, Fuel::electricity, 3.4, 4.0, 500);
  CHECK(energy_in_kwh_day(pump, 10, 52) < 10 / 3.0);

  CHECK(refusal([&] { (void)energy_in_kwh_day(heater, -1, 52); }) ==
        "heat_to_water_kwh: -1 is out of range; allowed: finite and not below 0 kWh");
  CHECK_THROWS_AS((void)energy_in_kwh_day(heater, nan_value, 52), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)energy_in_kwh_day(heater, infinite, 52), errors::ValueOutOfRange);
  CHECK(refusal([&] { (void)energy_in_kwh_day(heater, 5, nan_value); }) ==
        "tank_c: NaN is out of range; allowed: -20 to 120 degC");
  Heater weak = heater;
  weak.input_w = 100;
  weak.standby_ua_w_k = 5;
  CHECK(refusal([&] { (void)energy_in_kwh_day(weak, 5, 60); }) ==
        "standby_ua_w_k: 5 loses 201 W with the tank at 60 degC, which the input of 100 W cannot make up; allowed: a "
        "loss "
        "below the rated input");
}

TEST_CASE("heater from its rating: bad input, each by name and range") {
  struct Row {
    HeaterKind kind;
    Fuel fuel;
    double uef, re, input_w;
    std::string sentence;
  };
  const HeaterKind storage = HeaterKind::storage;
  const Fuel gas_fuel = Fuel::natural_gas;
  for (const Row& row : {
           Row{storage, gas_fuel, 0.78, 0.78, 11700,
               "uniform_energy_factor: 0.78 leaves no standby loss or is not above 0; allowed: above 0 and below the "
               "recovery "
               "efficiency, 0.78"},
           Row{storage, gas_fuel, 0, 0.78, 11700,
               "uniform_energy_factor: 0 leaves no standby loss or is not above 0; allowed: above 0 and below the "
               "recovery "
               "efficiency, 0.78"},
           Row{storage, gas_fuel, nan_value, 0.78, 11700,
               "uniform_energy_factor: NaN leaves no standby loss or is not above 0; allowed: above 0 and below the "
               "recovery "
               "efficiency, 0.78"},
           Row{storage, gas_fuel, 0.6, 1.2, 11700, "recovery_efficiency: 1.2 is out of range; allowed: 0.1 to 1"},
           Row{HeaterKind::heat_pump, Fuel::electricity, 3, 12, 500,
               "recovery_efficiency: 12 is out of range; allowed: 0.1 to 10"},
           Row{storage, gas_fuel, 0.6, 0.78, 5, "input_w: 5 is out of range; allowed: 100 to 1000000 W"},
           Row{storage, gas_fuel, 0.6, 0.78, 300,
               "input_w: 300 cannot make the heat of the federal test day (8.96 kWh and the standby loss); allowed: an "
               "input "
               "that fits the rating"},
           Row{HeaterKind::instantaneous, gas_fuel, 1.1, 0.9, 50000,
               "uniform_energy_factor: 1.1 is out of range; allowed: 0.1 to 1"},
           Row{HeaterKind::heat_pump, gas_fuel, 3, 4, 500,
               "fuel: natural_gas does not go with kind heat_pump; allowed: electricity for a heat pump"},
       }) {
    CHECK(refusal([&] { (void)heater_from_rating(row.kind, row.fuel, row.uef, row.re, row.input_w); }) == row.sentence);
  }
  CHECK_THROWS_AS((void)standby_ua_btu_hf_from_energy_factor(0.8, 0.78, 40000), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)standby_ua_btu_hf_from_energy_factor(0.6, 0.78, 1000), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)standby_ua_btu_hf_from_energy_factor(0.6, nan_value, 40000), errors::ValueOutOfRange);

  Heater heater = tankless();
  CHECK_NOTHROW(check(heater));
  heater.standby_ua_w_k = 2;
  CHECK(refusal([&] { check(heater); }) ==
        "standby_ua_w_k: 2 does not go with kind instantaneous, which has no store; allowed: 0 for an instantaneous "
        "heater");
  heater = gas();
  heater.room_c = 90;
  CHECK(refusal([&] { check(heater); }) == "room_c: 90 is out of range; allowed: -20 to 50 degC");
  heater = gas();
  heater.standby_ua_w_k = -1;
  CHECK(refusal([&] { check(heater); }) == "standby_ua_w_k: -1 is out of range; allowed: 0 to 100 W/K");
}

TEST_CASE("solar system and demand: bad input, each by name and range") {
  struct Row {
    void (*spoil)(SolarSystem&);
    std::string sentence;
  };
  CHECK_NOTHROW(check(SolarSystem{}));
  for (const Row& row : {
           Row{[](SolarSystem& s) { s.collector.gross_area_m2 = 0; },
               "gross_area_m2: 0 is out of range; allowed: 0.1 to 50 m2"},
           Row{[](SolarSystem& s) { s.collector.optical_efficiency = 1.1; },
               "optical_efficiency: 1.1 is out of range; allowed: 0.05 to 1"},
           Row{[](SolarSystem& s) { s.collector.loss_w_m2k = -4; },
               "loss_w_m2k: -4 is out of range; allowed: 0.1 to 40 W/(m2 K)"},
           Row{[](SolarSystem& s) { s.collector.mean_incidence_factor = 2; },
               "mean_incidence_factor: 2 is out of range; allowed: 0.5 to 1.2"},
           Row{[](SolarSystem& s) { s.collector_count = 0; },
               "collector_count: 0 is out of range; allowed: 1 to 100 collectors"},
           Row{[](SolarSystem& s) { s.tilt_deg = 120; },
               "tilt_deg: 120 is out of range; allowed: 0 to 90 degrees from the horizontal"},
           Row{[](SolarSystem& s) { s.azimuth_deg = -200; },
               "azimuth_deg: -200 is out of range; allowed: -180 to 180 degrees from south"},
           Row{[](SolarSystem& s) { s.shading_share = 1.5; }, "shading_share: 1.5 is out of range; allowed: 0 to 1"},
           Row{[](SolarSystem& s) { s.storage_l = infinite; },
               "storage_l: infinity is out of range; allowed: 20 to 20000 litres"},
           Row{[](SolarSystem& s) { s.backup_share_of_tank = 1; },
               "backup_share_of_tank: 1 is out of range; allowed: 0 to 0.9"},
           Row{[](SolarSystem& s) { s.exchanger_effectiveness = 0; },
               "exchanger_effectiveness: 0 is out of range; allowed: 0.05 to 1"},
           Row{[](SolarSystem& s) { s.flow_kg_s_m2 = nan_value; },
               "flow_kg_s_m2: NaN is out of range; allowed: 0.001 to 0.1 kg/(s m2)"},
           Row{[](SolarSystem& s) { s.pump_w = -1; }, "pump_w: -1 is out of range; allowed: 0 to 2000 W"},
           Row{[](SolarSystem& s) { s.tank_ua_w_k = 60; }, "tank_ua_w_k: 60 is out of range; allowed: 0 to 50 W/K"},
           Row{[](SolarSystem& s) { s.pipe_ua_w_k = -2; }, "pipe_ua_w_k: -2 is out of range; allowed: 0 to 200 W/K"},
           Row{[](SolarSystem& s) { s.backup_share_of_tank = 0.4; },
               "backup_share_of_tank: 0.4 does not go with arrangement two_tank, whose solar tank has no element; "
               "allowed: 0, "
               "or arrangement one_tank"},
       }) {
    SolarSystem system;
    row.spoil(system);
    CHECK(refusal([&] { check(system); }) == row.sentence);
    CHECK(refusal([&] { (void)correlate(system, family, gas(), temperate()); }) == row.sentence);
  }
  CHECK(refusal([] { check(Demand{-1, 50}); }) == "litre_day: -1 is out of range; allowed: 0 to 50000 litres a day");
  CHECK(refusal([] { check(Demand{300, 120}); }) == "set_temperature_c: 120 is out of range; allowed: 30 to 95 degC");
  CHECK(refusal([] { (void)litre_day_from_occupants(-2); }) ==
        "occupants: -2 is out of range; allowed: 0 to 100 persons");
  CHECK(litre_day_from_occupants(4) == Approx(80 * units::litre_per_gallon));
}

TEST_CASE("pipes: the combined line equals the heat balance along the loop") {
  std::mt19937 random(1978);
  std::uniform_real_distribution<double> share(0, 1);
  for (int k = 0; k < 50; ++k) {
    const double optical = 0.6 + 0.2 * share(random), loss = 2 + 4 * share(random), area = 2 + 8 * share(random);
    const double pipe = 20 * share(random), rate = 100 + 500 * share(random);
    const double sun = 1000 * share(random), air = 30 * share(random), store = air + 40 * share(random);
    // Out: the inlet pipe loses at the store's temperature, the outlet pipe at the temperature of its far end.
    const double inlet = store - pipe / 2 * (store - air) / rate;
    const double outlet = inlet + area * (optical * sun - loss * (inlet - air)) / rate;
    const double arriving = air + (outlet - air) / (1 + pipe / 2 / rate);
    const FieldLine line = with_pipes(optical, loss, area, pipe, rate);
    CHECK(area * (line.optical_efficiency * sun - line.loss_w_m2k * (store - air)) ==
          Approx(rate * (arriving - store)).epsilon(1e-9).scale(100));
  }
  const FieldLine bare = with_pipes(0.72, 4, 6, 0, 300);
  CHECK(bare.optical_efficiency == 0.72);
  CHECK(bare.loss_w_m2k == 4);
}

TEST_CASE("a year: the parts add up") {
  const Climate place = temperate();
  SolarSystem system;
  system.shading_share = 0.1;
  for (const Heater& heater : {gas(), electric(), tankless()}) {
    const Year year = correlate(system, family, heater, place);
    CHECK(year.notes.empty());
    CHECK(year.fuel_without == heater.fuel);
    CHECK(year.backup_fuel == heater.fuel);
    CHECK(year.mains_c == climate::mains_by_month_c(place));
    const Monthly tilted = climate::tilted_irradiation(place, system.tilt_deg, system.azimuth_deg);
    for (std::size_t m = 0; m < 12; ++m) {
      CAPTURE(m);
      const double days = climate::days_in_month[m];
      CHECK(year.load_kwh[m] == Approx(300 * days * heat_kwh_per_litre(50, year.mains_c[m])));
      CHECK(year.solar_kwh[m] == Approx(year.solar_fraction[m] * year.load_kwh[m]));
      CHECK(year.tilted_kwh_m2_day[m] == Approx(0.9 * tilted[m]));
      CHECK(year.fuel_without_kwh[m] == Approx(energy_in_kwh_day(heater, year.load_kwh[m] / days, 50) * days));
      CHECK(year.backup_with_kwh[m] ==
            Approx(energy_in_kwh_day(heater, (year.load_kwh[m] - year.solar_kwh[m]) / days, 50) * days));
      CHECK(year.backup_with_kwh[m] < year.fuel_without_kwh[m]);
    }
    CHECK(year.yearly(year.pump_kwh) == Approx(0.060 * 2000));
    CHECK(year.pump_kwh[6] / year.pump_kwh[11] ==
          Approx(year.tilted_kwh_m2_day[6] / year.tilted_kwh_m2_day[11]).epsilon(1e-9));
    CHECK(year.solar_fraction_by_heat() == Approx(year.yearly(year.solar_kwh) / year.yearly(year.load_kwh)));
    CHECK(year.solar_fraction_by_fuel() ==
          Approx(1 - year.yearly(year.backup_with_kwh) / year.yearly(year.fuel_without_kwh)));
  }
}

TEST_CASE("a year: each month is the correlation of its parts, for both collector fluids") {
  const Climate place = temperate();
  for (const auto& [loop, fluid_j_kgk] : {std::pair{Loop::drain_back, 4180.0}, {Loop::pressurized_glycol, 3645.0}}) {
    SolarSystem system;
    system.loop = loop;
    const Year year = correlate(system, family, gas(), place);
    const double area = 2 * 2.97, rate = 0.015 * area * fluid_j_kgk;
    const FieldLine field = with_pipes(0.72, 4, area, 8, rate);
    CorrelationInput month;
    month.area_m2 = area;
    month.optical_efficiency = field.optical_efficiency;
    month.loss_w_m2k = field.loss_w_m2k;
    month.mean_incidence_factor = 0.94;
    month.exchanger_factor = exchanger_factor(area, field.loss_w_m2k, rate, rate, 0.6);
    month.storage_factor = storage_size_factor(300 / area);
    month.set_c = 50;
    for (std::size_t m = 0; m < 12; ++m) {
      month.mains_c = year.mains_c[m];
      month.air_c = place.months.dry_bulb_c[m];
      month.tilted_kwh_m2_day = year.tilted_kwh_m2_day[m];
      month.days = climate::days_in_month[m];
      month.load_kwh = year.load_kwh[m];
      CHECK(year.solar_fraction[m] == Approx(correlate_month(month).fraction).epsilon(1e-12));
    }
  }
}

TEST_CASE("a year: shared irradiation gives the same bytes") {
  const Climate place = temperate();
  const SolarSystem system;
  const Year one = correlate(system, family, gas(), place);
  const Year two =
      correlate(system, family, gas(), place, climate::tilted_irradiation(place, system.tilt_deg, system.azimuth_deg),
                climate::mains_by_month_c(place));
  CHECK(one.solar_kwh == two.solar_kwh);
  CHECK(one.backup_with_kwh == two.backup_with_kwh);
  CHECK(one.pump_kwh == two.pump_kwh);
  CHECK(one.tilted_kwh_m2_day == two.tilted_kwh_m2_day);
}

TEST_CASE("a year: more of a good thing never gives less sun, over random systems") {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> share(0, 1);
  const Climate place = temperate();
  for (int k = 0; k < 200; ++k) {
    SolarSystem system;
    system.collector_count = 1 + static_cast<int>(3 * share(random));
    system.tilt_deg = 20 + 40 * share(random);
    system.azimuth_deg = -60 + 120 * share(random);
    system.shading_share = 0.4 * share(random);
    system.storage_l = 150 + 300 * share(random);
    const Demand demand{150 + 300 * share(random), 45 + 15 * share(random)};
    const double base = correlate(system, demand, gas(), place).solar_fraction_by_heat();
    CHECK(base >= 0);
    CHECK(base <= 1);
    const auto with = [&](auto change) {
      SolarSystem other = system;
      change(other);
      return correlate(other, demand, gas(), place).solar_fraction_by_heat();
    };
    CHECK(with([](SolarSystem& s) { s.collector.optical_efficiency += 0.05; }) >= base);
    CHECK(with([](SolarSystem& s) { s.collector.loss_w_m2k += 1; }) <= base);
    CHECK(with([](SolarSystem& s) { s.exchanger_effectiveness = 0.9; }) >= base);
    CHECK(with([](SolarSystem& s) { s.storage_l *= 1.3; }) >= base);
    CHECK(with([](SolarSystem& s) { s.shading_share += 0.2; }) <= base);
    CHECK(with([](SolarSystem& s) { s.pipe_ua_w_k = 0; }) >= base);
    CHECK(with([](SolarSystem& s) { s.loop = Loop::pressurized_glycol; }) <= base);
  }
}

TEST_CASE("a year: no load, no sun, full sun") {
  const Climate place = temperate();
  const Year idle = correlate(SolarSystem{}, Demand{0, 50}, gas(), place);
  CHECK(idle.yearly(idle.load_kwh) == 0);
  CHECK(idle.solar_fraction_by_heat() == 0);
  CHECK(idle.solar_fraction == Monthly{});
  CHECK(idle.fuel_without_kwh[0] > 0);  // standby
  CHECK(idle.backup_with_kwh == idle.fuel_without_kwh);
  const Year none = correlate(SolarSystem{}, Demand{0, 50}, tankless(), place);
  CHECK(none.solar_fraction_by_fuel() == 0);

  SolarSystem shaded;
  shaded.shading_share = 1;
  const Year dark = correlate(shaded, family, gas(), place);
  CHECK(dark.yearly(dark.solar_kwh) == 0);
  CHECK(dark.yearly(dark.pump_kwh) == 0);
  CHECK(dark.backup_with_kwh == dark.fuel_without_kwh);

  SolarSystem large;
  large.collector_count = 6;
  large.storage_l = 1500;
  const Year full = correlate(large, family, gas(), place);
  CHECK(full.solar_fraction[6] == 1);
  CHECK(full.solar_kwh[6] == full.load_kwh[6]);
  CHECK(full.backup_with_kwh[6] == Approx(31 * energy_in_kwh_day(gas(), 0, 50)));
}

TEST_CASE("a year: one tank with an element") {
  const Climate place = temperate();
  SolarSystem system;
  system.arrangement = Arrangement::one_tank;
  system.backup_share_of_tank = 0.4;
  const Year year = correlate(system, family, gas(), place);
  CHECK(year.fuel_without == Fuel::natural_gas);
  CHECK(year.backup_fuel == Fuel::electricity);
  // The solar part is that of a two-tank system with 0.6 of the volume.
  SolarSystem smaller;
  smaller.storage_l = 0.6 * system.storage_l;
  CHECK(correlate(smaller, family, gas(), place).solar_kwh == year.solar_kwh);
  const double kept_hot_w = 2.5 * 0.4 * (50 - gas().room_c);
  CHECK(year.backup_with_kwh[0] ==
        Approx((year.load_kwh[0] - year.solar_kwh[0]) / element_efficiency + 31 * 24 * kept_hot_w / 1000));
  CHECK(year.fuel_without_kwh[0] == Approx(31 * energy_in_kwh_day(gas(), year.load_kwh[0] / 31, 50)));
}

TEST_CASE("a year: notes where the correlation leaves its fitted range") {
  const Climate place = temperate();
  SolarSystem system;
  system.storage_l = 150;  // 25 l/m2
  Year year = correlate(system, family, gas(), place);
  REQUIRE(year.notes.size() == 1);
  CHECK(year.notes[0] ==
        "Monthly correlation: 25.3 litres of solar storage per m2 of collector are outside its fitted range 37.5 to "
        "300; the "
        "end of the range is used.");

  system = SolarSystem{};
  system.collector_count = 4;
  year = correlate(system, Demand{60, 50}, gas(), place);
  const bool x_noted = std::any_of(year.notes.begin(), year.notes.end(), [](const std::string& note) {
    return holds(note, "the loss ratio X reaches") && holds(note, "above its fitted range 0 to 18");
  });
  const bool y_noted = std::any_of(year.notes.begin(), year.notes.end(), [](const std::string& note) {
    return holds(note, "the gain ratio Y reaches") && holds(note, "above its fitted range 0 to 3");
  });
  CHECK(x_noted);
  CHECK(y_noted);

  // Beyond X = 18 the polynomial would turn upward; it is held there.
  CorrelationInput month;
  month.area_m2 = 10;
  month.loss_w_m2k = 8;
  month.optical_efficiency = 0.7;
  month.set_c = 50;
  month.mains_c = 10;
  month.days = 30;
  month.load_kwh = 100;
  month.tilted_kwh_m2_day = 1;
  const CorrelationMonth step = correlate_month(month);
  CHECK(step.x > 18);
  CHECK(step.fraction == Approx(std::clamp(correlation_fraction(18, step.y), 0.0, 1.0)));

  const Heater weak = heater_from_rating(HeaterKind::heat_pump, Fuel::electricity, 3.4, 4.0, 150);
  year = correlate(SolarSystem{}, Demand{800, 60}, weak, place);
  CHECK(std::any_of(year.notes.begin(), year.notes.end(),
                    [](const std::string& note) { return holds(note, "input of 150 W cannot make"); }));
}

TEST_CASE("a year: water that is not to be heated, and spoilt climates") {
  const Climate place = temperate();
  const SolarSystem system;
  const Monthly tilted = climate::tilted_irradiation(place, 40, 0);
  Monthly mains = climate::mains_by_month_c(place);
  mains[6] = 31.26;
  CHECK(refusal([&] {
          (void)correlate(system, Demand{300, 31}, gas(), place, tilted, mains);
        }) ==
        "set_temperature_c: 31 is not above the mains water, which has 31.3 degC in July; allowed: above 31.3 degC");
  mains[6] = nan_value;
  CHECK(refusal([&] { (void)correlate(system, family, gas(), place, tilted, mains); }) ==
        "mains_c: NaN is out of range; allowed: -5 to 60 degC");
  Monthly wrong = tilted;
  wrong[2] = infinite;
  CHECK(refusal([&] { (void)correlate(system, family, gas(), place, wrong, climate::mains_by_month_c(place)); }) ==
        "tilted_kwh_m2_day: infinity is out of range; allowed: 0 to 20 kWh/m2 a day");
  Climate hot = place;
  hot.months.dry_bulb_c[3] = 400;
  CHECK(refusal([&] { (void)correlate(system, family, gas(), hot, tilted, climate::mains_by_month_c(place)); }) ==
        "dry_bulb_c: 400 is out of range; allowed: -70 to 60 degC");
}

TEST_CASE("cautions: which topics fit which system") {
  const Climate place = temperate();
  Climate tropic = place;
  tropic.months.dry_bulb_c.fill(26);
  SolarSystem drain, glycol, one;
  glycol.loop = Loop::pressurized_glycol;
  one.arrangement = Arrangement::one_tank;
  one.backup_share_of_tank = 0.4;
  const auto list = [&](const SolarSystem& system, const Heater& heater, const Climate& where, const Demand& demand) {
    return cautions(system, demand, heater, correlate(system, demand, heater, where), where);
  };
  // Always: scald, pressure, roof, wiring, each with deference to code or licence.
  for (const SolarSystem& system : {drain, glycol, one}) {
    for (const Heater& heater : {gas(), electric(), tankless()}) {
      const auto found = list(system, heater, place, family);
      for (const Topic topic :
           {Topic::scald, Topic::bacteria, Topic::pressure, Topic::roof_work, Topic::wiring, Topic::freezing}) {
        CAPTURE(name_of(topic));
        const std::string text = text_of(found, topic);
        CHECK_FALSE(text.empty());
        CHECK((holds(text, "licensed") || holds(text, "code") || holds(text, "health department")));
      }
      CHECK(text_of(found, Topic::gas).empty() == (heater.fuel == Fuel::electricity));
      CHECK(text_of(found, Topic::glycol_care).empty() == (system.loop == Loop::drain_back));
    }
  }
  const auto of_drain = list(drain, gas(), place, family);
  CHECK(holds(text_of(of_drain, Topic::scald), "ASSE 1017"));
  CHECK(holds(text_of(of_drain, Topic::scald), "ASSE 1070"));
  CHECK(holds(text_of(of_drain, Topic::scald), "set temperature of 122 F is itself above 120 F"));
  CHECK_FALSE(holds(text_of(list(drain, gas(), place, Demand{300, 48}), Topic::scald), "is itself above"));
  CHECK(holds(text_of(of_drain, Topic::bacteria), "140 F"));
  CHECK(holds(text_of(of_drain, Topic::freezing), "drain-back reservoir"));
  CHECK(
      holds(text_of(of_drain, Topic::freezing), "near 19 F (-8 C)"));  // -2 degC less half of 11 K is -7.5 degC, 18.5 F
  CHECK(holds(text_of(of_drain, Topic::pressure), "150 psi and 210 F"));
  CHECK(holds(text_of(of_drain, Topic::gas), "venting"));
  const auto of_glycol = list(glycol, gas(), place, family);
  CHECK(holds(text_of(of_glycol, Topic::freezing), "lowest temperature on record"));
  CHECK(holds(text_of(of_glycol, Topic::glycol_care), "double-wall"));
  CHECK(holds(text_of(of_glycol, Topic::pressure), "expansion vessel"));
  CHECK(holds(text_of(list(one, gas(), place, family), Topic::wiring), "electric element"));
  // No frost in a place of even warmth; no bacteria in one tank kept at 60 degC.
  CHECK(text_of(list(drain, gas(), tropic, family), Topic::freezing).empty());
  CHECK(text_of(list(one, gas(), place, Demand{300, 60}), Topic::bacteria).empty());
  CHECK_FALSE(text_of(list(drain, gas(), place, Demand{300, 60}), Topic::bacteria).empty());
}

TEST_CASE("cautions: overheating at the edge") {
  SolarSystem glycol;
  glycol.loop = Loop::pressurized_glycol;
  Year year;
  year.solar_fraction.fill(0.6);
  const auto text = [&] { return text_of(cautions(glycol, family, gas(), year, temperate()), Topic::overheating); };
  year.solar_fraction[6] = 0.949;
  CHECK(text().empty());
  year.solar_fraction[6] = 0.95;
  CHECK(holds(text(), "The sun covers 95 % of the hot water in the best month, so"));
  year.solar_fraction[6] = year.solar_fraction[7] = 1;
  CHECK(holds(text(), "100 % of the hot water in the best month and all of it in 2 months, so"));
  glycol.loop = Loop::drain_back;
  CHECK(text().empty());
}

TEST_CASE("topics have names of their own") {
  std::vector<std::string_view> names;
  for (int k = 0; k <= static_cast<int>(Topic::glycol_care); ++k) names.push_back(name_of(static_cast<Topic>(k)));
  std::sort(names.begin(), names.end());
  CHECK(std::adjacent_find(names.begin(), names.end()) == names.end());
  CHECK_FALSE(names.front().empty());
}
