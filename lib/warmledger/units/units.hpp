// Units: conversions as named constants. SI inside, trade units at the doors.
//
// A name reads "one X in Y": litre_per_gallon is how many litres one US gallon holds. Every factor is exact by
// definition (NIST SP 811, appendix B) or a product of exact ones. A temperature difference never uses the 32 offset.
#pragma once

#include <numbers>

namespace warmledger::units {

inline constexpr double joule_per_btu = 1055.05585262;  // International Table Btu, exact
inline constexpr double joule_per_kwh = 3.6e6;          // exact
inline constexpr double mj_per_kwh = 3.6;               // exact
inline constexpr double kwh_per_btu = joule_per_btu / joule_per_kwh;
inline constexpr double btu_per_kwh = joule_per_kwh / joule_per_btu;
inline constexpr double kwh_per_therm = 1e5 * kwh_per_btu;  // therm (EC) of 100 000 IT Btu
inline constexpr double watt_per_btu_h = joule_per_btu / 3600.0;
inline constexpr double litre_per_gallon = 3.785411784;            // US liquid gallon, exact
inline constexpr double m2_per_ft2 = 0.09290304;                   // exact
inline constexpr double m_per_ft = 0.3048;                         // exact
inline constexpr double kg_per_lb = 0.45359237;                    // exact
inline constexpr double kelvin_per_fahrenheit_degree = 5.0 / 9.0;  // a difference, never a reading
inline constexpr double j_kgk_per_btu_lbf = 4186.8;                // exact
inline constexpr double w_m2k_per_btu_hft2f = watt_per_btu_h / m2_per_ft2 / kelvin_per_fahrenheit_degree;
inline constexpr double w_k_per_btu_hf = watt_per_btu_h / kelvin_per_fahrenheit_degree;
inline constexpr double kj_m2_per_btu_ft2 = joule_per_btu / m2_per_ft2 / 1000.0;
inline constexpr double l_m2_per_gal_ft2 = litre_per_gallon / m2_per_ft2;
inline constexpr double radian_per_degree = std::numbers::pi / 180.0;

[[nodiscard]] constexpr double celsius_from_fahrenheit(double reading_f) {
  return (reading_f - 32.0) * kelvin_per_fahrenheit_degree;
}
[[nodiscard]] constexpr double fahrenheit_from_celsius(double reading_c) {
  return reading_c / kelvin_per_fahrenheit_degree + 32.0;
}

/// Degrees from the horizontal of a roof that rises `rise_in_12` for every 12 of run: an 8-in-12 roof is 33.69 degrees.
[[nodiscard]] double tilt_deg_from_rise_in_12(double rise_in_12);

}  // namespace warmledger::units
