// Synthesis: an hourly year from twelve monthly means.
//
// Daily clearness by the transition matrices of Aguiar, Collares-Pereira & Conde (1988), hours by Aguiar &
// Collares-Pereira (1992), diffuse light by Erbs, Klein & Duffie (1982), the day's course of temperature by Erbs, Klein
// & Beckman (1983). The year repeats for a seed, and its monthly means are those given.
#pragma once

#include <array>
#include <cstdint>

#include "warmledger/climate/climate.hpp"
#include "warmledger/climate/hourly.hpp"

namespace warmledger::climate {

/// A year for a place. Monthly means of irradiation, temperature and wind equal the given ones to rounding, the mean
/// daily range of temperature to about 0.1 K. Temperature does not follow the clearness of the day except in its daily
/// range, and wind is the month's mean in every hour. The same seed gives the same year; months draw from streams of
/// their own. Throws ValueOutOfRange for means outside physical limits or sun above that outside the atmosphere.
[[nodiscard]] HourlyYear synthesize(const Climate& climate, std::uint64_t seed);

/// Day-to-day transitions of the clearness index for months of one class of mean clearness.
struct ClearnessTransitions {
  double lowest = 0, highest = 0;                        ///< range of daily values, parted into ten equal states
  std::array<std::array<double, 10>, 10> probability{};  ///< [state today][state tomorrow]; rows sum to 1
};
/// The class a monthly mean clearness belongs to; upper edges 0.30, 0.35 ... 0.70 belong to the class below.
[[nodiscard]] const ClearnessTransitions& clearness_transitions(double monthly_clearness);

/// Mean and standard deviation of an hour's clearness on a day of clearness K, by the sine of the sun's elevation.
struct HourlyClearness {
  double mean = 0, deviation = 0;
};
[[nodiscard]] HourlyClearness hourly_clearness(double daily_clearness, double sin_elevation);
/// Correlation of an hour's departure from that mean with the hour before.
[[nodiscard]] double hourly_persistence(double daily_clearness);
/// Highest clearness of an hour: 0.88 at noon, less away from it.
[[nodiscard]] double clear_hour_bound(double hour_angle_rad);

/// Shares of a day's global and diffuse irradiation that fall into the hour around an hour angle: Collares-Pereira &
/// Rabl (1979), Liu & Jordan (1960). Per hour; 0 outside the day.
[[nodiscard]] double hourly_global_ratio(double hour_angle_deg, double sunset_hour_angle_deg);
[[nodiscard]] double hourly_diffuse_ratio(double hour_angle_deg, double sunset_hour_angle_deg);

/// Temperature's departure from the day's mean over its range, by solar hour (1 to 24): Erbs, Klein & Beckman (1983).
[[nodiscard]] double diurnal_shape(double solar_hour);

}  // namespace warmledger::climate
