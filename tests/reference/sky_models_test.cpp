// Sky models: diffuse shares, hours of a day, and the four ways to a tilted hour.
//
// "D&B" is Duffie & Beckman, "Solar Engineering of Thermal Processes": its worked examples 2.13 to 2.16 are quoted from
// memory and were computed afresh in plain arithmetic outside this library (the values with six digits). "pvlib" are
// test vectors of pvlib-python, tests/test_irradiance.py, seen. Correlations were seen in several public sources.
#include <array>
#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "warmledger/climate/solar_position.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/climate/synthesis.hpp"
#include "warmledger/climate/tilted.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using namespace warmledger::climate;

namespace {

constexpr double deg = units::radian_per_degree;

bool within(double tolerance, double a, double b) {
  return std::fabs(a - b) <= tolerance;
}

/// D&B eq. 1.10.4: extraterrestrial irradiation of an hour on the horizontal, MJ/m2.
double extraterrestrial_hour_mj(double latitude, double day, double from_deg, double to_deg) {
  const double d = declination_deg(day) * deg, p = latitude * deg;
  return 12 * 3600 * 1367e-6 / std::numbers::pi * (1 + 0.033 * std::cos(360 * day / 365 * deg)) *
         (std::cos(p) * std::cos(d) * (std::sin(to_deg * deg) - std::sin(from_deg * deg)) +
          (to_deg - from_deg) * deg * std::sin(p) * std::sin(d));
}

}  // namespace

TEST_CASE("diffuse shares: Erbs, Klein & Duffie (1982), hourly, daily and monthly, at given clearness (recomputed)") {
  struct Row {
    double k, hourly, monthly_winter, monthly_summer, daily_winter, daily_summer;
  };
  constexpr std::array<Row, 6> rows{{{0.3, 0.948596, 0.642311, 0.663663, 0.891999, 0.877757},
                                     {0.4, 0.839990, 0.500472, 0.533976, 0.758281, 0.758435},
                                     {0.5, 0.659150, 0.391125, 0.429125, 0.568844, 0.608275},
                                     {0.6, 0.439478, 0.301448, 0.338184, 0.353369, 0.432345},
                                     {0.7, 0.243980, 0.218619, 0.250227, 0.164070, 0.235713},
                                     {0.8, 0.165270, 0.129816, 0.154328, 0.143000, 0.175000}}};
  for (const Row& row : rows) {
    CHECK(within(1e-6, hourly_diffuse_share(row.k), row.hourly));
    CHECK(within(1e-6, monthly_diffuse_share(row.k, 80), row.monthly_winter));
    CHECK(within(1e-6, monthly_diffuse_share(row.k, 90), row.monthly_summer));
    CHECK(within(1e-6, daily_diffuse_share(row.k, 80), row.daily_winter));
    CHECK(within(1e-6, daily_diffuse_share(row.k, 90), row.daily_summer));
  }
  CHECK(hourly_diffuse_share(0) == 1);
  CHECK(within(1e-12, hourly_diffuse_share(0.1), 0.991));
  CHECK(within(1e-12, hourly_diffuse_share(0.22), 0.9802));
  CHECK(hourly_diffuse_share(0.9) == 0.165);
  CHECK(daily_diffuse_share(0.9, 80) == 0.143);
  CHECK(daily_diffuse_share(0.9, 90) == 0.175);
  // The pieces of the fits do not quite meet: 0.98020 to 0.97993 at 0.22, 0.16527 to 0.165 at 0.80.
  CHECK(within(1e-5, hourly_diffuse_share(0.22 + 1e-9), 0.97993));
  CHECK(within(1e-5, hourly_diffuse_share(0.80), 0.16527));
  CHECK(hourly_diffuse_share(0.80 + 1e-9) == 0.165);
  // The winter form holds up to a sunset hour angle of 81.4 degrees.
  CHECK(daily_diffuse_share(0.5, 81.4) == daily_diffuse_share(0.5, 60));
  CHECK(daily_diffuse_share(0.5, 81.41) == daily_diffuse_share(0.5, 100));
}

TEST_CASE("splitting an hour: pvlib vectors") {
  // Extraterrestrial by Spencer's series with 1366.1 W/m2; cosine of the zenith angle not below 0.065.
  struct Row {
    double day, global, zenith, beam_normal, diffuse, clearness;
  };
  constexpr std::array<Row, 3> rows{{{1, 50, 85, 96.7192672, 41.5703604, 0.405723511},
                                     {1, 1000, 10, 794.205651, 217.860117, 0.718132729},
                                     {171, 1000, 10, 842.001578, 170.790318, 0.768214312}}};
  for (const Row& row : rows) {
    const double b = (row.day - 1) * 2 * std::numbers::pi / 365;
    const double outside = 1366.1 * (1.00011 + 0.034221 * std::cos(b) + 0.00128 * std::sin(b) +
                                     0.000719 * std::cos(2 * b) + 0.000077 * std::sin(2 * b));
    const double clearness = row.global / (outside * std::max(0.065, std::cos(row.zenith * deg)));
    CHECK(within(1e-8, clearness, row.clearness));
    const double diffuse = row.global * hourly_diffuse_share(clearness);
    CHECK(within(1e-6, diffuse, row.diffuse));
    CHECK(within(1e-5, (row.global - diffuse) / std::cos(row.zenith * deg), row.beam_normal));
  }
}

TEST_CASE("even sky: pvlib vector") {
  SkyHour hour;
  hour.diffuse = 100;
  CHECK(within(1e-12, tilted_parts(SkyModel::isotropic, hour, 40, 0.2).sky, 88.30222215594891));
}

TEST_CASE("hours of a day: Collares-Pereira & Rabl (1979), Liu & Jordan (1960), table (recomputed)") {
  constexpr std::array<double, 5> angles{7.5, 22.5, 37.5, 52.5, 67.5};
  struct Row {
    double sunset;
    std::array<double, 5> rt, rd;
  };
  constexpr std::array<Row, 3> rows{
      {{70, {0.17419, 0.15037, 0.10809, 0.05674, 0.00732}, {0.16290, 0.14596, 0.11321, 0.06691, 0.01020}},
       {90, {0.14000, 0.12700, 0.10333, 0.07308, 0.04115}, {0.12978, 0.12094, 0.10385, 0.07969, 0.05009}},
       {110, {0.11880, 0.11070, 0.09570, 0.07588, 0.05386}, {0.10935, 0.10380, 0.09310, 0.07796, 0.05943}}}};
  for (const Row& row : rows) {
    for (std::size_t k = 0; k < angles.size(); ++k) {
      CHECK(within(5e-6, hourly_global_ratio(angles[k], row.sunset), row.rt[k]));
      CHECK(within(5e-6, hourly_diffuse_ratio(angles[k], row.sunset), row.rd[k]));
      CHECK(hourly_global_ratio(-angles[k], row.sunset) == hourly_global_ratio(angles[k], row.sunset));
    }
  }
  CHECK(hourly_global_ratio(82.5, 70) == 0);
  // Whole hours do not quite make the day: 0.9934, 0.9936, 1.0005 (recomputed).
  constexpr std::array<double, 3> sums{0.9934, 0.9936, 1.0005};
  for (std::size_t r = 0; r < rows.size(); ++r) {
    double sum = 0;
    for (double w = -172.5; w < 180; w += 15) sum += hourly_global_ratio(w, rows[r].sunset);
    CHECK(within(5e-5, sum, sums[r]));
  }
}

TEST_CASE("D&B examples 2.13.1 and 2.13.2: hours of a day (from memory, recomputed)") {
  // Melbourne, 38 S, January (declination -20.9), 8 to 9 o'clock: rt 0.076.
  const double melbourne = sunset_hour_angle_deg(-38, -20.9);
  CHECK(within(1e-3, melbourne, 107.358));
  CHECK(within(5e-4, hourly_global_ratio(-52.5, melbourne), 0.076));
  CHECK(within(5e-6, hourly_global_ratio(-52.5, melbourne), 0.07585));
  CHECK(within(5e-6, hourly_diffuse_ratio(-52.5, melbourne), 0.07845));
  // Madison, 43 N, 23 August, 31.4 MJ/m2: rt 0.118 and 3.7 MJ/m2 from 13 to 14 o'clock.
  const double madison = sunset_hour_angle_deg(43, declination_deg(235));
  CHECK(within(1e-3, madison, 100.491));
  CHECK(within(5e-4, hourly_global_ratio(22.5, madison), 0.118));
  CHECK(within(5e-2, 31.4 * hourly_global_ratio(22.5, madison), 3.7));
  CHECK(within(1e-4, 31.4 * hourly_global_ratio(22.5, madison), 3.6967));
  // The same day's diffuse light (recomputed): clearness 0.9119, share 0.175, 0.611 MJ/m2 in the hour.
  const double clearness = 31.4 / 3.6 / extraterrestrial_kwh_m2_day(43, 235);
  CHECK(within(1e-4, clearness, 0.9119));
  const double share = daily_diffuse_share(clearness, madison);
  CHECK(share == 0.175);
  CHECK(within(5e-6, hourly_diffuse_ratio(22.5, madison), 0.11114));
  CHECK(within(5e-4, 31.4 * share * hourly_diffuse_ratio(22.5, madison), 0.611));
}

TEST_CASE("D&B examples 2.15.1, 2.16.1 and 2.16.2: one hour, four skies") {
  // 40 N, slope 60 facing south, 20 February, 9 to 10 o'clock, 1.04 MJ/m2 on the horizontal, ground reflectance 0.60.
  const double d = declination_deg(51);
  SkyHour hour;
  hour.global = 1.04;
  const double outside = extraterrestrial_hour_mj(40, 51, -45, -30);
  CHECK(within(0.01, outside, 2.34));
  CHECK(within(1e-5, outside, 2.33487));
  const double clearness = hour.global / outside;
  CHECK(within(1e-6, clearness, 0.445421));
  const double share = hourly_diffuse_share(clearness);
  CHECK(within(0.001, share, 0.766));
  CHECK(within(1e-6, share, 0.765484));
  hour.diffuse = hour.global * share;
  CHECK(within(1e-6, hour.diffuse, 0.796104));
  hour.cos_zenith = cos_incidence(40, d, 0, 0, -37.5);
  hour.cos_incidence = cos_incidence(40, d, 60, 0, -37.5);
  CHECK(within(0.005, hour.cos_incidence / hour.cos_zenith, 1.71));
  CHECK(within(1e-5, hour.cos_incidence / hour.cos_zenith, 1.713256));
  hour.beam_normal = (hour.global - hour.diffuse) / hour.cos_zenith;
  hour.extraterrestrial_normal = outside / hour.cos_zenith;
  hour.air_mass = 1 / hour.cos_zenith;  // the example's; 2.14429
  CHECK(within(1e-5, hour.air_mass, 2.14429));

  const TiltedParts even = tilted_parts(SkyModel::isotropic, hour, 60, 0.6);
  CHECK(within(1e-5, even.beam, 0.417857));
  CHECK(within(1e-5, even.sky, 0.597078));
  CHECK(within(1e-5, even.ground, 0.156));
  CHECK(even.circumsolar == 0);
  CHECK(within(0.01, even.total(), 1.17));
  CHECK(within(1e-5, even.total(), 1.170935));

  const double index = hour.beam_normal / hour.extraterrestrial_normal;
  CHECK(within(1e-6, index, 0.104458));
  CHECK(within(1e-6, std::sqrt(hour.beam_normal * hour.cos_zenith / hour.global), 0.484268));
  const TiltedParts hay_davies = tilted_parts(SkyModel::hay_davies, hour, 60, 0.6);
  CHECK(within(1e-5, hay_davies.total(), 1.251039));
  CHECK(within(1e-5, hay_davies.circumsolar, 0.796104 * 0.104458 * 1.713256));
  const TiltedParts brightened = tilted_parts(SkyModel::hdkr, hour, 60, 0.6);
  CHECK(within(0.01, brightened.total(), 1.28));
  CHECK(within(1e-5, brightened.total(), 1.283406));
  // The example takes the brightness with the normal radiation of the day, not with the mean of the hour.
  hour.extraterrestrial_normal = 1367e-6 * 3600 * (1 + 0.033 * std::cos(360 * 51 / 365.0 * deg));
  CHECK(within(1e-6, hour.air_mass * hour.diffuse / hour.extraterrestrial_normal, 0.339721));
  const TiltedParts perez = tilted_parts(SkyModel::perez, hour, 60, 0.6);
  CHECK(within(0.01, perez.total(), 1.37));
  CHECK(within(1e-5, perez.total(), 1.370349));
  // Its two coefficients: 0.255520 of the sky from the sun's direction, 0.005031 of it from the horizon.
  CHECK(within(1e-5, perez.circumsolar / hour.diffuse / 1.713256, 0.255520));
  CHECK(within(1e-5, (perez.sky / hour.diffuse - (1 - 0.255520) * 0.75) / std::sin(60 * deg), 0.005031));
}

TEST_CASE("the sky models agree where they must") {
  SkyHour hour;
  hour.extraterrestrial_normal = 1380;
  hour.cos_zenith = 0.6;
  hour.cos_incidence = 0.8;
  hour.diffuse = hour.global = 200;  // no beam: no light from the sun's direction
  const double even = tilted_parts(SkyModel::isotropic, hour, 45, 0.2).total();
  CHECK(tilted_parts(SkyModel::hay_davies, hour, 45, 0.2).total() == doctest::Approx(even));
  CHECK(tilted_parts(SkyModel::hdkr, hour, 45, 0.2).total() == doctest::Approx(even));
  // With the sun behind the plane only sky and ground are left.
  hour.beam_normal = 500;
  hour.global = 500;
  hour.cos_incidence = -0.3;
  for (const SkyModel model : {SkyModel::isotropic, SkyModel::hay_davies, SkyModel::hdkr, SkyModel::perez}) {
    const TiltedParts parts = tilted_parts(model, hour, 45, 0.2);
    CHECK(parts.beam == 0);
    CHECK(parts.circumsolar == 0);
    CHECK(parts.total() > 0);
    CHECK(tilted_parts(model, SkyHour{}, 45, 0.2).total() == 0);
  }
}

TEST_CASE("air mass: Kasten & Young (1989), table (from memory)") {
  // Their table at sea level: 1.0 at the zenith, 1.994 at 60, 5.580 at 80, 10.31 at 85, 37.92 at 90 degrees.
  CHECK(within(1e-3, relative_air_mass(0), 1.0));
  CHECK(within(2e-3, relative_air_mass(60), 1.994));
  CHECK(within(2e-2, relative_air_mass(80), 5.580));
  CHECK(within(5e-2, relative_air_mass(85), 10.31));
  CHECK(within(0.3, relative_air_mass(90), 37.92));
}

TEST_CASE("incidence-angle modifier (recomputed) and its equivalent angles: Brandemuehl & Beckman (1980)") {
  struct Row {
    double b0;
    std::array<double, 6> values;
  };
  constexpr std::array<double, 6> angles{0, 30, 45, 50, 60, 70};
  // 1 - b0 (1/cos - 1); the value at 70 degrees is that of the plain formula, which we replace by a line to 90.
  constexpr std::array<Row, 3> rows{{{0.10, {1.0000, 0.9845, 0.9586, 0.9444, 0.9000, 0.9000 * 2 / 3}},
                                     {0.136, {1, 0.9790, 0.9437, 0.9244, 0.8640, 0.8640 * 2 / 3}},
                                     {-0.10, {1, 1.0155, 1.0414, 1.0556, 1.1000, 1.1000 * 2 / 3}}}};
  for (const Row& row : rows) {
    for (std::size_t k = 0; k < angles.size(); ++k) {
      CHECK(within(6e-5, incidence_modifier(std::cos(angles[k] * deg), row.b0), row.values[k]));
    }
    CHECK(incidence_modifier(0, row.b0) == 0);
    CHECK(incidence_modifier(-0.5, row.b0) == 0);
  }
  // At a tilt of 45 degrees, by hand: 59.7 - 6.246 + 3.031425 for the sky, 90 - 26.046 + 5.453325 for the ground.
  CHECK(within(1e-9, sky_equivalent_angle_deg(45), 56.485425));
  CHECK(within(1e-9, ground_equivalent_angle_deg(45), 69.407325));
}
