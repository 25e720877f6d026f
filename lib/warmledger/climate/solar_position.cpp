#include "warmledger/climate/solar_position.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::climate {

namespace {

using std::chrono::sys_days;
using std::numbers::pi;

constexpr double deg = units::radian_per_degree;
constexpr int first_year = 1950;
constexpr int last_year = 2050;

struct Equatorial {
  double sin_declination = 0;
  double right_ascension_rad = 0;
  double greenwich_sidereal_rad = 0;
  double distance_au = 0;
};

/// Michalsky (1988), equations 1 to 10; `days` since 2000-01-01 12:00 UT, `hour_ut` the hour of that UT day.
Equatorial equatorial(double days, double hour_ut) {
  const double mean_longitude = 280.460 + 0.9856474 * days;
  const double anomaly = (357.528 + 0.9856003 * days) * deg;
  const double sin_g = std::sin(anomaly), cos_g = std::cos(anomaly);
  const double longitude = (mean_longitude + 1.915 * sin_g + 0.020 * 2 * sin_g * cos_g) * deg;
  const double obliquity = (23.439 - 0.0000004 * days) * deg;
  const double sin_l = std::sin(longitude), cos_l = std::cos(longitude);
  Equatorial sun;
  sun.sin_declination = std::sin(obliquity) * sin_l;
  sun.right_ascension_rad = std::atan2(std::cos(obliquity) * sin_l, cos_l);
  sun.greenwich_sidereal_rad = (6.697375 + 0.0657098242 * days + hour_ut) * 15 * deg;
  sun.distance_au = 1.00014 - 0.01671 * cos_g - 0.00014 * (2 * cos_g * cos_g - 1);  // Astronomical Almanac, page C24
  return sun;
}

/// Days from 2000-01-01 12:00 to midnight UT of a date.
double days_to_midnight(sys_days date) {
  constexpr sys_days epoch{std::chrono::year{2000} / 1 / 1};
  return static_cast<double>((date - epoch).count()) - 0.5;
}

/// The angle in [-pi, pi).
double wrapped(double angle) {
  return angle - 2 * pi * std::floor((angle + pi) / (2 * pi));
}

void require_on_globe(double latitude_deg, double longitude_deg) {
  errors::require_in_range("latitude_deg", latitude_deg, -90, 90, "degrees");
  errors::require_in_range("longitude_deg", longitude_deg, -180, 180, "degrees");
}

}  // namespace

SunPosition sun_position(double latitude_deg, double longitude_deg, UtcTime utc) {
  require_on_globe(latitude_deg, longitude_deg);
  constexpr UtcTime earliest = sys_days{std::chrono::year{first_year} / 1 / 1};
  constexpr UtcTime latest = sys_days{std::chrono::year{last_year + 1} / 1 / 1};
  if (utc < earliest || utc >= latest) {
    throw errors::ValueOutOfRange({{"", {}, {}, "utc"},
                                   fmt::format("{} seconds after 1970-01-01", utc.time_since_epoch().count() / 1000),
                                   "is outside the years for which the formulas hold",
                                   fmt::format("{}-01-01 to {}-12-31", first_year, last_year)});
  }
  const auto date = std::chrono::floor<std::chrono::days>(utc);
  const double hour = static_cast<double>((utc - date).count()) / 3.6e6;
  const Equatorial sun = equatorial(days_to_midnight(date) + hour / 24, hour);

  const double hour_angle = wrapped(sun.greenwich_sidereal_rad + longitude_deg * deg - sun.right_ascension_rad);
  const double sin_d = sun.sin_declination, cos_d = std::sqrt(1 - sin_d * sin_d);
  const double sin_p = std::sin(latitude_deg * deg), cos_p = std::cos(latitude_deg * deg);
  const double sin_w = std::sin(hour_angle), cos_w = std::cos(hour_angle);
  const double up = sin_p * sin_d + cos_p * cos_d * cos_w;
  const double west = cos_d * sin_w;
  const double south = sin_p * cos_d * cos_w - cos_p * sin_d;

  SunPosition position;
  position.zenith_deg = std::atan2(std::hypot(west, south), up) / deg;  // exact near the zenith too, unlike arccos
  position.azimuth_deg = std::atan2(-west, -south) / deg;
  if (position.azimuth_deg < 0) position.azimuth_deg += 360;
  if (position.azimuth_deg >= 360) position.azimuth_deg = 0;
  position.declination_deg = std::asin(sin_d) / deg;
  position.hour_angle_deg = hour_angle / deg;
  position.distance_au = sun.distance_au;
  return position;
}

double refraction_deg(double elevation_deg, double pressure_mbar, double temperature_c) {
  errors::require_in_range("elevation_deg", elevation_deg, -90, 90, "degrees");
  errors::require_in_range("pressure_mbar", pressure_mbar, 300, 1100, "mbar");
  errors::require_in_range("temperature_c", temperature_c, -90, 60, "degC");
  if (elevation_deg < -0.8333) return 0;  // sun's radius 0.2666 and refraction at the horizon 0.5667
  return pressure_mbar / 1010 * 283 / (273 + temperature_c) * 1.02 /
         (60 * std::tan((elevation_deg + 10.3 / (elevation_deg + 5.11)) * deg));
}

SunYear sun_year(const Place& place, const MonthYears& years) {
  require_on_globe(place.latitude_deg, place.longitude_deg);
  errors::require_in_range("utc_offset_h", place.utc_offset_h, -12, 14, "hours");
  SunYear result;
  for (auto* column : {&result.up, &result.west, &result.south, &result.hour_angle_rad, &result.lit_share,
                       &result.extraterrestrial_horizontal_w_m2}) {
    column->assign(hours_in_year, 0.0);
  }
  const double sin_p = std::sin(place.latitude_deg * deg), cos_p = std::cos(place.latitude_deg * deg);
  const double tan_p = sin_p / std::max(cos_p, 1e-12);
  constexpr double half = 7.5 * deg;  // half an hour of hour angle
  const double spread = std::sin(half) / half;
  std::array<double, 24> cos_clock{}, sin_clock{};
  for (std::size_t h = 0; h < 24; ++h) {
    const double angle = 15 * deg * (static_cast<double>(h) + 0.5);
    cos_clock[h] = std::cos(angle);
    sin_clock[h] = std::sin(angle);
  }

  std::size_t hour = 0;
  std::size_t day = 0;
  for (unsigned month = 0; month < 12; ++month) {
    const int year = years[month] >= first_year && years[month] <= last_year ? years[month] : ordinary_years[month];
    const sys_days first{std::chrono::year{year} / std::chrono::month{month + 1} / 1};
    for (int d = 0; d < days_in_month[month]; ++d, ++day) {
      const double midnight = days_to_midnight(first + std::chrono::days{d});
      const double start = -place.utc_offset_h;  // UT hour at which the local day begins
      const Equatorial from = equatorial(midnight + start / 24, start);
      const Equatorial to = equatorial(midnight + (start + 24) / 24, start + 24);
      const double longitude = place.longitude_deg * deg;
      const double angle = wrapped(from.greenwich_sidereal_rad + longitude - from.right_ascension_rad);
      // The clock turns 360 degrees a day; what the sun's hour angle gains on it is small.
      const double gain = wrapped(wrapped(to.greenwich_sidereal_rad + longitude - to.right_ascension_rad) - angle);
      const double cos_a = std::cos(angle), sin_a = std::sin(angle);
      const double distance = (from.distance_au + to.distance_au) / 2;
      const double normal = solar_constant_w_m2 / (distance * distance);
      result.extraterrestrial_normal_w_m2[day] = normal;

      for (std::size_t h = 0; h < 24; ++h, ++hour) {
        const double share = (static_cast<double>(h) + 0.5) / 24;
        const double sin_d = from.sin_declination + share * (to.sin_declination - from.sin_declination);
        const double cos_d = std::sqrt(1 - sin_d * sin_d);
        const double turn = gain * share;  // at most 0.003 rad: two terms of the series are exact to 1e-8
        const double cos_b = cos_a - turn * sin_a - turn * turn / 2 * cos_a;
        const double sin_b = sin_a + turn * cos_a - turn * turn / 2 * sin_a;
        double cos_w = cos_b * cos_clock[h] - sin_b * sin_clock[h];
        double sin_w = sin_b * cos_clock[h] + cos_b * sin_clock[h];
        const double level = sin_p * sin_d, swing = cos_p * cos_d;
        result.hour_angle_rad[hour] = wrapped(angle + turn + 15 * deg * (static_cast<double>(h) + 0.5));

        const double middle_up = level + swing * cos_w;
        // In half an hour the height of the sun changes by less than sin(7.5 degrees) = 0.1306.
        if (middle_up < -0.1306) continue;
        double lit = 1;
        double mean_up = level + swing * cos_w * spread;
        if (middle_up < 0.1306) {
          const double middle = result.hour_angle_rad[hour];
          const double sunset = std::acos(std::clamp(-tan_p * sin_d / cos_d, -1.0, 1.0));
          double begin = std::max(middle - half, -sunset), end = std::min(middle + half, sunset);
          // Around midnight the sun may be up at both ends of the hour: then the longer piece stands for it.
          for (const double other : {-2 * pi, 2 * pi}) {
            const double other_begin = std::max(middle - half, other - sunset);
            const double other_end = std::min(middle + half, other + sunset);
            if (other_end - other_begin > end - begin) {
              begin = other_begin;
              end = other_end;
            }
          }
          if (sunset >= pi) {
            begin = middle - half;
            end = middle + half;
          }
          if (end - begin < 1e-6) continue;
          lit = (end - begin) / (2 * half);
          if (lit < 1) {
            const double centre = (begin + end) / 2;
            cos_w = std::cos(centre);
            sin_w = std::sin(centre);
            mean_up = (level * (end - begin) + swing * (std::sin(end) - std::sin(begin))) / (2 * half);
            result.hour_angle_rad[hour] = wrapped(centre);
          }
        }
        const double up = level + swing * cos_w;
        if (!(up > 0) || !(mean_up > 0)) continue;
        result.lit_share[hour] = std::min(1.0, lit);
        result.up[hour] = up;
        result.west[hour] = cos_d * sin_w;
        result.south[hour] = sin_p * cos_d * cos_w - cos_p * sin_d;
        result.extraterrestrial_horizontal_w_m2[hour] = normal * mean_up;
      }
    }
  }
  return result;
}

}  // namespace warmledger::climate
