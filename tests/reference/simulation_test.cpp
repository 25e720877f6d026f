// The simulation against closed forms, handbook relations and the federal test.
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

#include "support/synthetic_weather.hpp"
#include "warmledger/hotwater/fluid.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using namespace hotwater;
using doctest::Approx;
using prices::Fuel;
using units::celsius_from_fahrenheit;

namespace {

double yearly(const climate::Monthly& months) {
  double sum = 0;
  for (const double month : months) sum += month;
  return sum;
}

Heater tankless() {
  return heater_from_rating(HeaterKind::instantaneous, Fuel::propane, 0.9, 0.9, 55000);
}

/// A tank, collectors without pipes, a direct exchanger and a controller that does not hold back: for closed forms.
Case bare() {
  Case c;
  c.system.pipe_ua_w_k = 0;
  c.system.exchanger_effectiveness = 1;
  c.system.flow_kg_s_m2 = 0.02;  // the collector test's flow
  c.system.storage_l = 300;
  c.plant.on_difference_k = 2;
  c.plant.off_difference_k = 0;
  c.plant.high_limit_c = 99;
  c.plant.exchanger_share_of_tank = 1;
  c.demand = {0, 60};
  c.existing = tankless();
  return c;
}

SimulationOptions traced(int step_minutes, int nodes) {
  SimulationOptions options;
  options.step_minutes = step_minutes;
  options.nodes = nodes;
  options.warm_up_days = 0;
  options.trace = true;
  return options;
}

double litre_j_k(const Case& c, double mains_c) {
  return heat_kwh_per_litre(c.demand.set_temperature_c, mains_c) * 3.6e6 / (c.demand.set_temperature_c - mains_c);
}

}  // namespace

TEST_CASE("a tank cools by the exponential law") {
  Case c = bare();
  c.system.tank_ua_w_k = 2.5;
  c.plant.tank_room_c = 20;
  const auto weather = support::steady_year(0, 20, 55);
  for (const int nodes : {1, 10, 40}) {
    for (const int step : {1, 15, 60}) {
      CAPTURE(nodes);
      CAPTURE(step);
      const SimulatedYear year = simulate(c, weather.view(), traced(step, nodes));
      const double capacity = 300 * litre_j_k(c, 55);
      for (const std::size_t hour : {1U, 24U, 240U}) {
        const double exact = 20 + 35 * std::exp(-2.5 * 3600 * static_cast<double>(hour) / capacity);
        CHECK(year.trace->tank_top_c[hour - 1] == Approx(exact).epsilon(1e-9));
        CHECK(year.trace->tank_bottom_c[hour - 1] == Approx(exact).epsilon(1e-9));
      }
      // 300 l at 4112.5 kJ/(m3 K) (IAPWS-IF97 at 60 degC), 2.5 W/K, one day: 33.575729 of 40 K are left.
      CHECK((year.trace->tank_top_c[23] - 20) / 35 == Approx(33.575729 / 40).epsilon(5e-4));
    }
  }
}

TEST_CASE("a collector in steady sun gives its test line") {
  Case c = bare();
  c.system.storage_l = 20000;  // hardly warms
  c.system.tank_ua_w_k = 0;
  for (const double sun : {500.0, 1000.0}) {
    for (const double store : {20.0, 45.0}) {
      CAPTURE(sun);
      CAPTURE(store);
      const SimulatedYear year = simulate(c, support::steady_year(sun, 5, store).view(), traced(15, 10));
      const std::size_t hour = 5;
      const double inlet = (year.trace->tank_top_c[hour - 1] + year.trace->tank_top_c[hour]) / 2;
      const double line = c.system.area_m2() * (0.72 * sun - 4.0 * (inlet - 5));
      CHECK(year.trace->solar_w[hour] == Approx(line).epsilon(1e-3));
    }
  }
  SUBCASE("with a quadratic loss, evacuated tubes and a flat plate") {
    // Efficiencies of the two curves at 0, 20, 40 K and 800 W/m2: 0.78 3.5 0.015 and 0.65 1.5 0.007 (common practice).
    struct Curve {
      double eta, a1, a2;
    };
    for (const Curve& curve : {Curve{0.78, 3.5, 0.015}, Curve{0.65, 1.5, 0.007}}) {
      for (const double over : {0.0, 20.0, 40.0}) {
        CAPTURE(over);
        c.system.collector.optical_efficiency = curve.eta;
        c.system.collector.loss_w_m2k = curve.a1;
        c.plant.loss_2_w_m2k2 = curve.a2;
        const SimulatedYear year = simulate(c, support::steady_year(800, 10, 10 + over).view(), traced(15, 10));
        const double x = (year.trace->tank_top_c[4] + year.trace->tank_top_c[5]) / 2 - 10;
        const double eta = curve.eta - curve.a1 * x / 800 - curve.a2 * x * x / 800;
        // The node stands at the outlet, some 9 K over the inlet at this flow, where a curve is lower.
        CHECK(year.trace->solar_w[5] / (c.system.area_m2() * 800) == Approx(eta).epsilon(0.025));
      }
    }
  }
}

TEST_CASE("flow, exchanger and pipes cost what their formulas say") {
  Case c = bare();
  c.system.storage_l = 20000;
  c.system.tank_ua_w_k = 0;
  const auto weather = support::steady_year(800, 5, 40);
  const auto gain = [&] { return simulate(c, weather.view(), traced(15, 10)).trace->solar_w[5]; };
  const double area = c.system.area_m2();
  const double direct = gain();

  // Duffie & Beckman (form from memory): FR over FR at test flow, with F'UL from the test.
  c.system.flow_kg_s_m2 = 0.01;
  const double test = 0.02 * 4180, use = 0.01 * 4180;
  const double f_ul = -test * std::log(1 - 4.0 / test);
  const double r = use * (1 - std::exp(-f_ul / use)) / (test * (1 - std::exp(-f_ul / test)));
  CHECK(gain() / direct == Approx(r).epsilon(1e-3));
  CHECK(r < 0.98);
  c.system.flow_kg_s_m2 = 0.02;

  // deWinter (1975): F'R/FR.
  c.system.exchanger_effectiveness = 0.5;
  const double rate = 0.02 * loop_fluid_j_kgk(0) * area;
  CHECK(gain() / direct == Approx(exchanger_factor(area, 4.0, rate, rate, 0.5)).epsilon(2e-3));
  c.system.exchanger_effectiveness = 1;

  // The first-order pipe line, within its order.
  c.system.pipe_ua_w_k = 8;
  const FieldLine line = with_pipes(0.72, 4.0, area, 8, rate);
  const SimulatedYear piped = simulate(c, weather.view(), traced(15, 10));
  const double over = (piped.trace->tank_top_c[4] + piped.trace->tank_top_c[5]) / 2 - 5;
  CHECK(piped.trace->solar_w[5] ==
        Approx(area * (line.optical_efficiency * 800 - line.loss_w_m2k * over)).epsilon(2e-3));
}

TEST_CASE("a mixed tank in constant sun follows its linear law") {
  Case c = bare();
  c.system.exchanger_effectiveness = 0.6;
  c.system.tank_ua_w_k = 4;
  c.plant.tank_room_c = 15;
  c.plant.heat_capacity_j_m2k = 500;  // the closed form has none
  const auto weather = support::steady_year(450, 10, 20);
  const double area = c.system.area_m2();
  const double rate = 0.02 * loop_fluid_j_kgk(0) * area;
  const double factor = exchanger_factor(area, 4.0, rate, rate, 0.6);
  const double capacity = 300 * litre_j_k(c, 20);
  const double falls = area * factor * 4.0 + 4;
  const double end = (area * factor * (0.72 * 450 + 4.0 * 10) + 4 * 15) / falls;
  for (const int step : {5, 15, 60}) {
    CAPTURE(step);
    const SimulatedYear year = simulate(c, weather.view(), traced(step, 1));
    for (const std::size_t hour : {6U, 12U, 24U, 72U}) {
      // A step ends with the tank's loss: its temperature there is lower than the mean by half of the step's loss.
      const double exact = end + (20 - end) * std::exp(-falls * 3600 * static_cast<double>(hour) / capacity);
      const double half_loss = 0.5 * 4 * (exact - 15) * 60 * step / capacity;
      CHECK(std::fabs(year.trace->tank_top_c[hour - 1] + half_loss - exact) < 0.1);
    }
    const double half_loss = 0.5 * 4 * (end - 15) * 60 * step / capacity;
    CHECK(year.trace->tank_top_c[600] + half_loss == Approx(end).epsilon(3e-4));
  }
}

TEST_CASE("a mixed node washes out as exp(-volumes), a stratified tank moves as a plug") {
  // Duffie & Beckman's tank of N nodes in series lies between: 0.36788 of the heat left in one node after one volume.
  Case c = bare();
  c.system.tank_ua_w_k = 0;
  c.demand = {300, 60};  // one tank volume a day, by an even profile
  const DrawProfile even = DrawProfile::from_hours(std::vector<double>(24, 1.0));
  c.profile = &even;
  auto weather = support::steady_year(0, 0, 50);  // air colder than the tank: the collector stays off
  for (std::size_t day = 0; day < 3; ++day) weather.mains[day] = 10;
  double start = 0;
  for (const double day : weather.mains) start += day / 365;
  const auto left = [&](double temperature) { return (temperature - 10) / (start - 10); };

  const SimulatedYear mixed = simulate(c, weather.view(), traced(1, 1));
  for (const int hour : {12, 24, 36}) {
    CHECK(left(mixed.trace->tank_top_c[static_cast<std::size_t>(hour - 1)]) ==
          Approx(std::exp(-hour / 24.0)).epsilon(5e-4));
  }
  // Conduction smears the front by its diffusion length, sqrt(2 a t) = 0.18 m of 1.34 m in 18 hours: 3 % at a distance
  // of 1.9 lengths.
  const SimulatedYear plug = simulate(c, weather.view(), traced(15, 40));
  CHECK(left(plug.trace->tank_top_c[11]) > 0.9999);
  CHECK(left(plug.trace->tank_top_c[17]) > 0.97);
  CHECK(left(plug.trace->tank_top_c[29]) < 0.06);
  CHECK(left(plug.trace->tank_bottom_c[11]) < 1e-3);
}

TEST_CASE("the tempering valve takes the share of its heat balance") {
  // (set - cold)/(hot - cold) for 120 F and 58 F.
  struct Row {
    double hot_f, share;
  };
  for (const Row& row :
       {Row{118, 1.0}, Row{120, 1.0}, Row{125, 0.925373}, Row{140, 0.756098}, Row{160, 0.607843}, Row{180, 0.508197}}) {
    CAPTURE(row.hot_f);
    Case c;
    c.existing = heater_from_rating(HeaterKind::storage, Fuel::electricity, 0.92, 0.98, 20000);
    c.demand = {200, celsius_from_fahrenheit(120)};
    c.plant.thermostat_c = celsius_from_fahrenheit(row.hot_f);
    const auto weather = support::steady_year(0, celsius_from_fahrenheit(58), celsius_from_fahrenheit(58));
    c.plant.tank_room_c = celsius_from_fahrenheit(58);
    const SimulatedYear year = simulate(c, weather.view(), traced(15, 10));
    CHECK(year.trace->hot_l[4000] / year.trace->drawn_l[4000] == Approx(row.share).epsilon(1e-6));
    const double cold = yearly(year.year.load_kwh) - yearly(year.delivered_kwh);
    if (row.hot_f >= 120) CHECK(std::fabs(cold) < 0.004 * yearly(year.year.load_kwh));
  }
}

TEST_CASE("heaters return their uniform energy factor in the federal simulated-use test") {
  // 10 CFR 430 subpart B appendix E (conditions and rows from memory): 58 F inlet, 125 F, 67.5 F air, medium pattern.
  struct Rated {
    HeaterKind kind;
    Fuel fuel;
    double uef, recovery, input_w;
  };
  const DrawProfile medium = DrawProfile::federal(FederalPattern::medium);
  const auto weather = support::steady_year(0, celsius_from_fahrenheit(67.5), celsius_from_fahrenheit(58));
  for (const Rated& rated : {Rated{HeaterKind::storage, Fuel::electricity, 0.92, 0.98, 4500},
                             Rated{HeaterKind::storage, Fuel::electricity, 0.95, 0.98, 5500},
                             Rated{HeaterKind::storage, Fuel::natural_gas, 0.60, 0.78, 11700},
                             Rated{HeaterKind::storage, Fuel::natural_gas, 0.64, 0.80, 11700},
                             Rated{HeaterKind::storage, Fuel::propane, 0.75, 0.90, 11000},
                             Rated{HeaterKind::storage, Fuel::heating_oil, 0.60, 0.80, 30000},
                             Rated{HeaterKind::heat_pump, Fuel::electricity, 3.3, 4.0, 1200},
                             Rated{HeaterKind::instantaneous, Fuel::natural_gas, 0.93, 0.93, 58000}}) {
    for (const int step : {1, 15}) {
      CAPTURE(rated.uef);
      CAPTURE(step);
      Case c;
      c.existing = heater_from_rating(rated.kind, rated.fuel, rated.uef, rated.recovery, rated.input_w);
      c.demand = {55 * units::litre_per_gallon, celsius_from_fahrenheit(125)};
      c.profile = &medium;
      SimulationOptions options;
      options.step_minutes = step;
      const SimulatedYear year = simulate(c, weather.view(), options);
      const double out = yearly(year.delivered_without_kwh);
      const double in = yearly(year.year.fuel_without_kwh);
      CHECK(out / in == Approx(rated.uef).epsilon(0.03));
      // 55 gal through 67 F, by the water properties of the daily energy equation, every day.
      CHECK(yearly(year.year.load_kwh) ==
            Approx(365 * 55 * 8.293752 * 1.000743 * 67 * units::kwh_per_btu).epsilon(0.01));
    }
  }
}

TEST_CASE("what the trade expects of a family's system (common practice), in an invented temperate year") {
  const auto weather = support::invented_year();
  Case c;
  c.existing = heater_from_rating(HeaterKind::storage, Fuel::natural_gas, 0.60, 0.78, 11700);
  c.demand = {litre_day_from_occupants(4), celsius_from_fahrenheit(120)};
  const SimulatedYear four = simulate(c, weather.view());
  const double fraction = four.year.solar_fraction_by_heat();
  CHECK(fraction > 0.6);
  CHECK(fraction < 0.8);
  CHECK(four.year.solar_fraction[6] > four.year.solar_fraction[0] + 0.2);
  // Pumps take 1 to 5 % of the solar heat they bring, at some 60 W rather more.
  CHECK(yearly(four.year.pump_kwh) / yearly(four.into_store_kwh) > 0.01);
  CHECK(yearly(four.year.pump_kwh) / yearly(four.into_store_kwh) < 0.07);

  SUBCASE("two people on the same system: glycol stagnates, drain-back does not") {
    c.demand.litre_day = litre_day_from_occupants(2);
    c.system.loop = Loop::drain_back;
    const SimulatedYear drained = simulate(c, weather.view());
    CHECK(yearly(drained.stagnation_hours) == 0);
    c.system.loop = Loop::pressurized_glycol;
    const SimulatedYear glycol = simulate(c, weather.view());
    CHECK(yearly(glycol.stagnation_hours) > 10);
    CHECK(yearly(glycol.high_limit_hours) >= yearly(glycol.stagnation_hours) * 0.5);
    CHECK(glycol.peak_collector_c > 120);
    CHECK(yearly(glycol.high_limit_hours) > yearly(four.high_limit_hours));
  }
  SUBCASE("glycol carries a little less heat than water") {
    c.system.loop = Loop::pressurized_glycol;
    const SimulatedYear glycol = simulate(c, weather.view());
    CHECK(glycol.year.solar_fraction_by_heat() < fraction);
    CHECK(glycol.year.solar_fraction_by_heat() > fraction - 0.03);
  }
}

TEST_CASE("a lift of 28 ft takes two pumps (common practice)") {
  CHECK(pumps_for_lift(28 * units::m_per_ft) == 2);
  CHECK(pumps_for_lift(15 * units::m_per_ft) == 1);
}
