// Solar position: where the sun stands at a moment, and through the hours of a year.
//
// Azimuths here are compass bearings (0 north, 90 east), unlike the surface azimuth of sun.hpp. Zenith angles are
// geometric, as if there were no air; refraction_deg() gives what the air adds to the elevation.
#pragma once

#include <array>
#include <chrono>
#include <cstddef>
#include <vector>

#include "warmledger/climate/climate.hpp"

namespace warmledger::climate {

inline constexpr std::size_t hours_in_year = 8760;  // no 29 February

using UtcTime = std::chrono::sys_time<std::chrono::milliseconds>;

struct SunPosition {
  double zenith_deg = 0;   ///< from the vertical, without refraction; above 90 the sun is down
  double azimuth_deg = 0;  ///< 0 north, 90 east, 180 south; in [0, 360)
  double declination_deg = 0;
  double hour_angle_deg = 0;  ///< 0 at solar noon, morning negative; in [-180, 180)
  double distance_au = 0;     ///< from the earth
};

/// The low-precision formulas of the Astronomical Almanac as given by Michalsky (1988), Solar Energy 40, 227-235:
/// within 0.01 degree from 1950 to 2050 (parallax, 0.002 degree, is left out). Throws ValueOutOfRange for coordinates
/// off the globe or a time outside those years.
[[nodiscard]] SunPosition sun_position(double latitude_deg, double longitude_deg, UtcTime utc);

/// What the air adds to a true elevation, degrees: Bennett's formula in the form of the solar position algorithm of
/// Reda & Andreas (2003), equation 42. 0 for a sun more than 0.8333 degree under the horizon. Throws ValueOutOfRange
/// for an elevation outside -90 to 90, a pressure outside 300 to 1100 mbar, a temperature outside -90 to 60 degC.
[[nodiscard]] double refraction_deg(double elevation_deg, double pressure_mbar = 1013.25, double temperature_c = 15);

/// The sun through the 8760 hours of a year in local standard time; hour i runs from i to i + 1 hours after the start
/// of 1 January. Directions are those at the middle of the part of the hour in which the sun is up.
struct SunYear {
  std::vector<double> up;              ///< the direction to the sun as a unit vector: cosine of the zenith angle, ...
  std::vector<double> west;            ///< ... its part to the west ...
  std::vector<double> south;           ///< ... and to the south. All three are 0 in an hour without sun.
  std::vector<double> hour_angle_rad;  ///< at the same moment; at mid-hour where the sun is down
  std::vector<double> lit_share;       ///< share of the hour with the sun up, 0 to 1
  std::vector<double> extraterrestrial_horizontal_w_m2;    ///< mean over the whole hour, outside the atmosphere
  std::array<double, 365> extraterrestrial_normal_w_m2{};  ///< facing the sun, by day
};

using MonthYears = std::array<int, 12>;  ///< the calendar year that each month is taken from
/// A year at the middle of the leap cycle, for years that stand for no calendar year.
inline constexpr MonthYears ordinary_years{2001, 2001, 2001, 2001, 2001, 2001, 2001, 2001, 2001, 2001, 2001, 2001};

/// Sun of every hour. Declination and hour angle are interpolated within each day between two exact positions (error
/// below 0.002 degree). Years outside 1950 to 2050 count as 2001. Throws ValueOutOfRange for a place off the globe or
/// an offset outside -12 to 14 hours.
[[nodiscard]] SunYear sun_year(const Place& place, const MonthYears& years = ordinary_years);

}  // namespace warmledger::climate
