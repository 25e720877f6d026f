// Sun: geometry of the average day of each month and the monthly mean irradiation on a tilted plane.
//
// Angles in degrees. Surface azimuth here: 0 facing south, west positive, east negative (the convention of the sources
// cited; sheets use the compass and are converted at the door). Sources stand beside each formula in sun.cpp.
#pragma once

#include <array>

#include "warmledger/climate/climate.hpp"

namespace warmledger::climate {

inline constexpr double solar_constant_w_m2 = 1367.0;  // World Meteorological Organization value used by the sources

inline constexpr std::array<int, 12> days_in_month{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};  // no leap day

/// Day of the year (1 to 365) whose declination is the month's mean (Klein 1977); month 1 to 12, else ValueOutOfRange.
[[nodiscard]] int average_day_of_month(int month);
/// Cooper (1969): declination on a day of the year, degrees north.
[[nodiscard]] double declination_deg(double day_of_year);
/// Spencer (1971), equation of time in minutes.
[[nodiscard]] double equation_of_time_min(double day_of_year);
/// 0 (polar night) to 180 (polar day).
[[nodiscard]] double sunset_hour_angle_deg(double latitude_deg, double declination_deg);
/// Daily irradiation on a horizontal plane outside the atmosphere, kWh/m2.
[[nodiscard]] double extraterrestrial_kwh_m2_day(double latitude_deg, double day_of_year);
/// cos of the angle between the sun's beam and the normal of a tilted plane; negative when the sun is behind it.
[[nodiscard]] double cos_incidence(double latitude_deg, double declination_deg, double tilt_deg, double azimuth_deg,
                                   double hour_angle_deg);
/// Erbs, Klein & Duffie (1982), monthly: share of diffuse in the global irradiation. The clearness index is held to
/// the fitted range 0.3 to 0.8.
[[nodiscard]] double monthly_diffuse_share(double clearness, double sunset_hour_angle_deg);
/// Ratio of the day's beam irradiation on the tilted plane to that on the horizontal, both outside the atmosphere, for
/// a plane facing any way: the exact integral over the hours in which the sun is above the horizon and before the
/// plane. Equals the closed equator-facing form of Liu & Jordan / Klein (1977) when azimuth_deg is 0 (north of the
/// equator). 0 where the sun does not rise.
[[nodiscard]] double mean_beam_ratio(double latitude_deg, double declination_deg, double tilt_deg, double azimuth_deg);

/// Steps of one month's tilted-plane irradiation, all kept so that a check can look at each.
struct TiltedMonth {
  double extraterrestrial_kwh_m2_day = 0;
  double clearness = 0;  ///< horizontal over extraterrestrial
  double diffuse_share = 0;
  double beam_ratio = 0;
  double tilted_kwh_m2_day = 0;  ///< beam + isotropic sky + ground-reflected
};
/// Monthly mean daily irradiation on a tilted plane (Liu & Jordan 1962 as extended by Klein 1977: isotropic sky).
/// `month` 1 to 12; a horizontal value above the extraterrestrial one is refused (ValueOutOfRange), as is any angle or
/// share outside its range. Where the average day brings less than 0.1 kWh/m2 outside the atmosphere (near and beyond
/// the polar circles in winter, for which the average days were not made) the little light there is counts as diffuse,
/// and only a value above that of every day of the month is refused.
[[nodiscard]] TiltedMonth tilted_month(double horizontal_kwh_m2_day, double latitude_deg, int month, double tilt_deg,
                                       double azimuth_deg, double ground_albedo);
/// tilted_month for all twelve, kWh/m2 a day.
[[nodiscard]] Monthly tilted_irradiation(const Climate& climate, double tilt_deg, double azimuth_deg);

}  // namespace warmledger::climate
