// Synthesis and tilted planes: what every year and every plane must keep.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <random>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "warmledger/climate/sun.hpp"
#include "warmledger/climate/synthesis.hpp"
#include "warmledger/climate/tilted.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using namespace warmledger::climate;
using doctest::Approx;

namespace {

constexpr double deg = units::radian_per_degree;

Climate invented(double latitude = 40) {
  Climate c;
  c.place = {"999990", "INVENTED FIELD", "ZZ", latitude, -90, 200, -6, "invented"};
  c.months.horizontal_kwh_m2_day = {1.9, 2.8, 3.8, 4.7, 5.6, 6.1, 6.0, 5.3, 4.3, 3.2, 2.1, 1.7};
  c.months.dry_bulb_c = {-2, 0, 5, 11, 16, 21, 24, 23, 19, 13, 6, 1};
  c.months.dry_bulb_range_k = {8, 9, 10, 11, 12, 12, 12, 12, 12, 11, 9, 8};
  c.months.wind_m_s = {4, 4, 4, 4, 3, 3, 3, 3, 3, 4, 4, 4};
  c.months.ground_albedo[0] = 0.6;
  return c;
}

double sum(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0);
}

void check_means(const HourlyYear& year, const Climate& given) {
  require_whole(year);
  const MonthlyClimate made = monthly_means(year).months;
  for (std::size_t m = 0; m < 12; ++m) {
    CHECK(std::fabs(made.horizontal_kwh_m2_day[m] - given.months.horizontal_kwh_m2_day[m]) <=
          1e-9 * given.months.horizontal_kwh_m2_day[m]);
    CHECK(std::fabs(made.dry_bulb_c[m] - given.months.dry_bulb_c[m]) <=
          1e-9 * std::max(1.0, std::fabs(given.months.dry_bulb_c[m])));
    CHECK(made.wind_m_s[m] == Approx(given.months.wind_m_s[m]).epsilon(1e-9));
    CHECK(made.ground_albedo[m] == Approx(given.months.ground_albedo[m]).epsilon(1e-9));
    CHECK(std::fabs(made.dry_bulb_range_k[m] - given.months.dry_bulb_range_k[m]) <= 0.1);
  }
}

}  // namespace

TEST_CASE("monthly means come back, for many seeds") {
  const Climate given = invented();
  for (std::uint64_t seed : {0ULL, 1ULL, 2ULL, 3ULL, 12345ULL, ~0ULL}) check_means(synthesize(given, seed), given);
}

TEST_CASE("monthly means come back for random places, months of any clearness, polar ones among them") {
  std::mt19937_64 random(4);
  std::uniform_real_distribution<double> unit(0, 1);
  for (int trial = 0; trial < 150; ++trial) {
    Climate c;
    c.place.latitude_deg = -90 + 180 * unit(random);
    c.place.longitude_deg = -180 + 360 * unit(random);
    c.place.utc_offset_h = std::clamp(std::round(c.place.longitude_deg / 15 + 4 * unit(random) - 2), -12.0, 14.0);
    const SunYear sun = sun_year(c.place);
    const Monthly outside = monthly_kwh_m2_day(sun.extraterrestrial_horizontal_w_m2);
    const double clearness = 0.05 + 0.9 * unit(random);
    for (std::size_t m = 0; m < 12; ++m) {
      c.months.horizontal_kwh_m2_day[m] = outside[m] < 0.1 ? 0.02 * unit(random) : clearness * outside[m];
      c.months.dry_bulb_c[m] = 10 + 15 * std::cos((static_cast<double>(m) - 6) * (std::numbers::pi / 6));
      c.months.dry_bulb_range_k[m] = 14;
      c.months.wind_m_s[m] = 3;
    }
    const HourlyYear year = synthesize(c, static_cast<std::uint64_t>(trial));
    check_means(year, c);
    for (std::size_t i = 0; i < hours_in_year; ++i) {
      const bool fine =
          year.diffuse_w_m2[i] <= year.global_w_m2[i] + 1e-9 && year.diffuse_w_m2[i] >= 0 &&
          year.beam_normal_w_m2[i] >= 0 &&
          std::fabs(year.beam_normal_w_m2[i] * sun.up[i] + year.diffuse_w_m2[i] - year.global_w_m2[i]) < 1e-6;
      if (!fine) FAIL_CHECK("hour " << i << " of trial " << trial);
    }
  }
}

TEST_CASE("the same seed gives the same bytes, another seed another year") {
  const HourlyYear a = synthesize(invented(), 11), b = synthesize(invented(), 11), c = synthesize(invented(), 12);
  CHECK(a.global_w_m2 == b.global_w_m2);
  CHECK(a.beam_normal_w_m2 == b.beam_normal_w_m2);
  CHECK(a.dry_bulb_c == b.dry_bulb_c);
  CHECK(a.global_w_m2 != c.global_w_m2);
  CHECK(a.dry_bulb_c != c.dry_bulb_c);
  // The temperature of one month does not move the sun of any, nor the sun of June that of May.
  Climate other = invented();
  other.months.dry_bulb_c[3] += 2;
  CHECK(synthesize(other, 11).global_w_m2 == a.global_w_m2);
  other.months.horizontal_kwh_m2_day[5] -= 1;
  const HourlyYear d = synthesize(other, 11);
  const auto june = static_cast<std::ptrdiff_t>(24 * 151);
  CHECK(std::equal(a.global_w_m2.begin(), a.global_w_m2.begin() + june, d.global_w_m2.begin()));
  CHECK(d.global_w_m2 != a.global_w_m2);
}

TEST_CASE("hours stay under the clear-sky bound, unless a day needs them above it, which is said") {
  const Climate given = invented();
  const SunYear sun = sun_year(given.place);
  const HourlyYear year = synthesize(given, 5);
  const auto over = [&sun](const HourlyYear& y) {
    std::size_t count = 0;
    for (std::size_t i = 0; i < hours_in_year; ++i) {
      const double bound = clear_hour_bound(sun.hour_angle_rad[i]) * sun.extraterrestrial_horizontal_w_m2[i];
      if (y.global_w_m2[i] > bound * (1 + 1e-9)) ++count;
    }
    return count;
  };
  CHECK(year.remarks.empty());
  CHECK(over(year) == 0);
  Climate brilliant = given;
  brilliant.months.horizontal_kwh_m2_day = monthly_kwh_m2_day(sun.extraterrestrial_horizontal_w_m2);
  for (double& value : brilliant.months.horizontal_kwh_m2_day) value *= 0.85;
  const HourlyYear bright = synthesize(brilliant, 5);
  CHECK(over(bright) > 1000);
  REQUIRE(bright.remarks.size() == 1);
  CHECK(bright.remarks[0].find(" hours lie above the clear-sky bound") != std::string::npos);
}

TEST_CASE("impossible monthly means are refused by name and month") {
  const auto with = [](auto change) {
    Climate c = invented();
    change(c.months);
    return c;
  };
  CHECK_THROWS_WITH_AS(
      (void)synthesize(with([](auto& m) { m.horizontal_kwh_m2_day[0] = 6; }), 1),
      doctest::Contains("horizontal_kwh_m2_day: 6 is out of range for month 1 at latitude 40; allowed: "
                        "0 to 4."),
      errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)synthesize(with([](auto& m) { m.horizontal_kwh_m2_day[4] = std::nan(""); }), 1),
                       doctest::Contains("horizontal_kwh_m2_day of month 5: NaN"), errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)synthesize(with([](auto& m) { m.dry_bulb_c[6] = 75; }), 1),
                       doctest::Contains("dry_bulb_c of month 7: 75 is out of range; allowed: -60 to 50 degC"),
                       errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)synthesize(with([](auto& m) { m.dry_bulb_range_k[6] = -1; }), 1), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)synthesize(with([](auto& m) { m.wind_m_s[6] = 90; }), 1), errors::ValueOutOfRange);
  Climate off = invented();
  off.place.latitude_deg = 95;
  CHECK_THROWS_AS((void)synthesize(off, 1), errors::ValueOutOfRange);
}

TEST_CASE("a flat plane receives the horizontal light, whatever the sky model") {
  const HourlyYear year = synthesize(invented(), 3);
  for (const SkyModel model : {SkyModel::isotropic, SkyModel::hay_davies, SkyModel::hdkr, SkyModel::perez}) {
    Plane plane;
    plane.tilt_deg = 0;
    plane.sky = model;
    plane.incidence_b0 = 0;
    const SunYear sun = sun_year(year.place);
    const PlaneYear result = plane_year(year, sun, plane);
    for (std::size_t i = 0; i < hours_in_year; ++i) {
      if (sun.up[i] < 0.0872 && model != SkyModel::isotropic) continue;  // below 5 degrees the ratio of cosines is held
      if (std::fabs(result.plane_w_m2[i] - year.global_w_m2[i]) > 1e-9 * 1000) FAIL_CHECK("hour " << i);
    }
    CHECK(sum(result.plane_w_m2) == Approx(sum(year.global_w_m2)).epsilon(0.002));
    // b0 = 0: nothing is lost in the glass until 60 degrees, and the beam beyond.
    CHECK(sum(result.effective_w_m2) <= sum(result.plane_w_m2) * (1 + 1e-12));
  }
}

TEST_CASE("parts add up, light is not negative, and what the glass passes is less") {
  const HourlyYear year = synthesize(invented(), 3);
  std::mt19937_64 random(9);
  std::uniform_real_distribution<double> unit(0, 1);
  for (int trial = 0; trial < 24; ++trial) {
    Plane plane;
    plane.tilt_deg = 90 * unit(random);
    plane.azimuth_deg = -180 + 360 * unit(random);
    plane.incidence_b0 = 0.3 * unit(random);
    plane.sky = static_cast<SkyModel>(trial % 4);
    plane.shaded_share.fill(trial % 3 == 0 ? 0.3 : 0);
    if (trial % 2 == 0) plane.horizon_deg = {10, 40 * unit(random), 0, 5};
    const PlaneYear result = plane_year(year, plane);
    for (std::size_t i = 0; i < hours_in_year; ++i) {
      const double parts = result.beam_w_m2[i] + result.sky_w_m2[i] + result.ground_w_m2[i];
      const bool fine = result.beam_w_m2[i] >= 0 && result.sky_w_m2[i] >= -1e-9 && result.ground_w_m2[i] >= 0 &&
                        std::fabs(parts - result.plane_w_m2[i]) < 1e-9 && result.effective_w_m2[i] >= 0 &&
                        result.effective_w_m2[i] <= result.plane_w_m2[i] + 1e-9 && result.plane_w_m2[i] < 2000;
      // A negative part of the Perez sky is modified less than the circumsolar part it is set against.
      if (!fine && plane.sky != SkyModel::perez) FAIL_CHECK("hour " << i << " of trial " << trial);
      if (!(result.plane_w_m2[i] >= -1e-9 && result.plane_w_m2[i] < 2000)) FAIL_CHECK("hour " << i);
    }
  }
}

TEST_CASE("east and west mirror each other when the sky does") {
  HourlyYear year = synthesize(invented(), 3);
  year.place.longitude_deg = -90;
  const SunYear sun = sun_year(year.place);
  // A clear, steady sky: beam by the sun's height alone.
  for (std::size_t i = 0; i < hours_in_year; ++i) {
    year.beam_normal_w_m2[i] = sun.up[i] > 0 ? 800 * sun.lit_share[i] : 0;
    year.diffuse_w_m2[i] = sun.up[i] > 0 ? 80 * sun.lit_share[i] : 0;
    year.global_w_m2[i] = year.beam_normal_w_m2[i] * sun.up[i] + year.diffuse_w_m2[i];
  }
  Plane plane;
  plane.azimuth_deg = -60;
  const double east = sum(plane_year(year, plane).plane_w_m2);
  plane.azimuth_deg = 60;
  const double west = sum(plane_year(year, plane).plane_w_m2);
  CHECK(east == Approx(west).epsilon(0.003));
  plane.azimuth_deg = 0;
  const PlaneYear south = plane_year(year, plane);
  CHECK(sum(south.plane_w_m2) > west);
  plane.azimuth_deg = 180;
  CHECK(sum(plane_year(year, plane).plane_w_m2) < west);
  // The morning side receives its light in the morning.
  plane.azimuth_deg = -90;
  plane.tilt_deg = 60;
  const PlaneYear morning = plane_year(year, plane);
  double before = 0, after = 0;
  for (std::size_t i = 0; i < hours_in_year; ++i) (i % 24 < 12 ? before : after) += morning.beam_w_m2[i];
  CHECK(before > 3 * after);
}

TEST_CASE("monthly shading takes its share of that month only") {
  const HourlyYear year = synthesize(invented(), 3);
  Plane plane;
  const Monthly open = monthly_kwh_m2_day(plane_year(year, plane).effective_w_m2);
  plane.shaded_share[0] = 0.25;
  plane.shaded_share[11] = 1;
  const Monthly shaded = monthly_kwh_m2_day(plane_year(year, plane).effective_w_m2);
  CHECK(shaded[0] == Approx(0.75 * open[0]).epsilon(1e-12));
  CHECK(shaded[5] == open[5]);
  CHECK(shaded[11] == 0);
}

TEST_CASE("a horizon takes the low sun, and its share of an even sky") {
  const HourlyYear year = synthesize(invented(), 3);
  Plane plane;
  plane.sky = SkyModel::isotropic;
  plane.tilt_deg = 0;
  const PlaneYear open = plane_year(year, plane);
  plane.horizon_deg.assign(36, 0);
  CHECK(plane_year(year, plane).plane_w_m2 == open.plane_w_m2);
  plane.horizon_deg.assign(36, 20);
  const PlaneYear ringed = plane_year(year, plane);
  const SunYear sun = sun_year(year.place);
  // A ring of elevation e leaves cos^2 e of the light of an even sky on the horizontal.
  CHECK(sum(ringed.sky_w_m2) == Approx(sum(open.sky_w_m2) * std::pow(std::cos(20 * deg), 2)).epsilon(1e-4));
  for (std::size_t i = 0; i < hours_in_year; ++i) {
    const double expected = sun.up[i] < std::sin(20 * deg) ? 0 : open.beam_w_m2[i];
    if (std::fabs(ringed.beam_w_m2[i] - expected) > 1e-12) FAIL_CHECK("hour " << i);
  }
  // A hill in the east takes mornings only.
  plane.horizon_deg = {0, 0, 0, 60, 0, 0, 0, 0, 0, 0, 0, 0};  // 30 degrees a step: 90 is east
  const PlaneYear hill = plane_year(year, plane);
  double morning = 0, evening = 0;
  for (std::size_t i = 0; i < hours_in_year; ++i) {
    (i % 24 < 12 ? morning : evening) += open.beam_w_m2[i] - hill.beam_w_m2[i];
  }
  CHECK(morning > 0);
  CHECK(evening == 0);
}

TEST_CASE("the ground's own albedo goes before 0.2, and the plane's before both") {
  HourlyYear year = synthesize(invented(), 3);
  Plane plane;
  const Monthly own = monthly_kwh_m2_day(plane_year(year, plane).ground_w_m2);
  year.ground_albedo.clear();
  const Monthly common = monthly_kwh_m2_day(plane_year(year, plane).ground_w_m2);
  CHECK(own[0] == Approx(3 * common[0]));
  CHECK(own[1] == Approx(common[1]));
  plane.ground_albedo.emplace();
  plane.ground_albedo->fill(0.4);
  CHECK(monthly_kwh_m2_day(plane_year(year, plane).ground_w_m2)[1] == Approx(2 * common[1]));
}

TEST_CASE("planes and hours out of range are refused") {
  const HourlyYear year = synthesize(invented(), 3);
  const auto refused = [&year](auto change, const char* words) {
    Plane plane;
    change(plane);
    CHECK_THROWS_WITH_AS((void)plane_year(year, plane), doctest::Contains(words), errors::ValueOutOfRange);
  };
  refused([](Plane& p) { p.tilt_deg = 91; }, "tilt_deg: 91 is out of range; allowed: 0 to 90 degrees");
  refused([](Plane& p) { p.azimuth_deg = std::nan(""); }, "azimuth_deg: NaN");
  refused([](Plane& p) { p.incidence_b0 = 2; }, "incidence_b0: 2");
  refused([](Plane& p) { p.shaded_share[3] = 1.2; }, "shaded_share of month 4: 1.2");
  refused([](Plane& p) { p.ground_albedo.emplace().fill(-0.1); }, "ground_albedo of month 1: -0.1");
  refused([](Plane& p) { p.horizon_deg = {0, 90}; }, "horizon_deg, value 2: 90");
  refused([](Plane& p) { p.horizon_deg.assign(361, 1); }, "horizon_deg: 361 values are too many");
  HourlyYear shortened = year;
  shortened.global_w_m2.resize(8759);
  CHECK_THROWS_AS((void)plane_year(shortened, Plane{}), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)plane_year(year, SunYear{}, Plane{}), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)hourly_diffuse_share(-0.1), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)relative_air_mass(91), errors::ValueOutOfRange);
  CHECK(sky_model_from("hay-davies") == SkyModel::hay_davies);
  CHECK(sky_model_from("HDKR") == SkyModel::hdkr);
  CHECK_THROWS_AS((void)sky_model_from("clear"), errors::UnknownName);
}

TEST_CASE("the sun of every hour agrees with the position computed on its own") {
  // Middle of the lit part of the hour, against sun_position at the same clock time.
  const Place place{"", "", "", 40, -90, 0, -6, ""};
  const SunYear sun = sun_year(place);
  using namespace std::chrono;
  for (std::size_t i = 0; i < hours_in_year; i += 7) {
    if (sun.lit_share[i] < 1) continue;
    const UtcTime middle = sys_days{year{2001} / 1 / 1} + hours{static_cast<long>(i) + 6} + minutes{30};
    const SunPosition exact = sun_position(40, -90, middle);
    CHECK(std::fabs(std::acos(sun.up[i]) / deg - exact.zenith_deg) < 0.003);
    const double bearing = std::atan2(-sun.west[i], -sun.south[i]) / deg;
    CHECK(std::fabs(std::remainder(bearing - exact.azimuth_deg, 360)) * std::sin(exact.zenith_deg * deg) < 0.003);
    CHECK(std::hypot(sun.up[i], sun.west[i], sun.south[i]) == Approx(1).epsilon(1e-6));
  }
}

TEST_CASE("the extraterrestrial light of the hours makes that of the day") {
  // Against the closed integral over the day (Duffie & Beckman eq. 1.10.3) with the declination and the distance of
  // noon, for clocks that agree with the sun, that lag it, and beyond the date line.
  using namespace std::chrono;
  struct Clock {
    double longitude, offset;
  };
  for (const double latitude : {-60.0, -30.0, 0.0, 25.0, 45.0, 64.0, 70.0, 85.0}) {
    for (const Clock clock : {Clock{-97, -6}, Clock{-75, -7.5}, Clock{174, -10}}) {
      const Place place{"", "", "", latitude, clock.longitude, 0, clock.offset, ""};
      const SunYear sun = sun_year(place);
      double worst = 0;
      for (std::size_t d = 0; d < 365; ++d) {
        double day = 0;
        for (std::size_t i = 24 * d; i < 24 * (d + 1); ++i) day += sun.extraterrestrial_horizontal_w_m2[i] / 1000;
        const UtcTime noon = sys_days{year{2001} / 1 / 1} + days{static_cast<int>(d)} +
                             minutes{static_cast<long>((12 - clock.offset) * 60)};
        const SunPosition at_noon = sun_position(latitude, clock.longitude, noon);
        const double ws = sunset_hour_angle_deg(latitude, at_noon.declination_deg) * deg;
        const double p = latitude * deg, declination = at_noon.declination_deg * deg;
        const double closed =
            solar_constant_w_m2 / 1000 / (at_noon.distance_au * at_noon.distance_au) * 24 / std::numbers::pi *
            (std::cos(p) * std::cos(declination) * std::sin(ws) + ws * std::sin(p) * std::sin(declination));
        worst = std::max(worst, std::fabs(day - closed));
      }
      CHECK(worst < 0.02);
    }
  }
}

TEST_CASE("positions out of range are refused") {
  using namespace std::chrono;
  const UtcTime moment = sys_days{year{2003} / 10 / 17};
  CHECK_THROWS_AS((void)sun_position(91, 0, moment), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)sun_position(0, -181, moment), errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)sun_position(0, 0, sys_days{year{2051} / 1 / 1}),
                       doctest::Contains("allowed: 1950-01-01 to 2050-12-31"), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)sun_position(0, 0, UtcTime::min()), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)refraction_deg(91), errors::ValueOutOfRange);
  CHECK(sun_position(90, 0, moment).zenith_deg == Approx(99.2).epsilon(0.01));  // the pole: 90 + declination
}
