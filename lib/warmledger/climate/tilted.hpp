// Tilted plane: the irradiance of every hour on a collector plane, and what of it counts behind the glass.
//
// Surface azimuth as in sun.hpp: 0 facing south, west positive, east negative. Horizon profiles run round the compass
// from north. Sources stand beside each formula in tilted.cpp.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "warmledger/climate/climate.hpp"
#include "warmledger/climate/hourly.hpp"
#include "warmledger/climate/solar_position.hpp"

namespace warmledger::climate {

/// Erbs, Klein & Duffie (1982), hourly: share of diffuse in the global irradiation. `clearness` is global over
/// extraterrestrial, at least 0; above 0.8 the share stays 0.165. Throws ValueOutOfRange for a negative or NaN value.
[[nodiscard]] double hourly_diffuse_share(double clearness);
/// The same authors for a whole day; winter and summer are told apart by the sunset hour angle (81.4 degrees).
[[nodiscard]] double daily_diffuse_share(double clearness, double sunset_hour_angle_deg);

/// Kasten & Young (1989): air mass of a zenith angle of 0 to 90 degrees at sea level; 1 at the zenith, 38 at the
/// horizon. Throws ValueOutOfRange for other angles.
[[nodiscard]] double relative_air_mass(double zenith_deg);

/// How the diffuse light of the sky is spread.
enum class SkyModel {
  isotropic,   ///< evenly (Liu & Jordan 1962)
  hay_davies,  ///< evenly, and a part from the sun's direction (Hay & Davies 1980)
  hdkr,        ///< Hay & Davies with brightening at the horizon (Reindl, Beckman & Duffie 1990)
  perez,       ///< sun's direction and horizon by sky brightness and clearness (Perez et al. 1990)
};
/// "isotropic", "Hay-Davies", "HDKR" or "Perez", in any case; else UnknownName with the choices.
[[nodiscard]] SkyModel sky_model_from(std::string_view name);

/// One hour's light on the horizontal and the sun's direction. Irradiances in W/m2, or irradiations in any one unit.
struct SkyHour {
  double global = 0;
  double beam_normal = 0;
  double diffuse = 0;
  double extraterrestrial_normal = 0;
  double cos_zenith = 0;
  double cos_incidence = 0;  ///< on the plane; negative with the sun behind it
  double air_mass = 1;       ///< used by the Perez model only
};
/// The same on the plane, by origin.
struct TiltedParts {
  double beam = 0;
  double circumsolar = 0;  ///< diffuse light from the sun's direction
  double sky = 0;          ///< diffuse light from the rest of the sky; with the Perez model it may hold a negative part
  double ground = 0;
  [[nodiscard]] double sky_diffuse() const noexcept { return circumsolar + sky; }
  [[nodiscard]] double total() const noexcept { return beam + circumsolar + sky + ground; }
};
[[nodiscard]] TiltedParts tilted_parts(SkyModel model, const SkyHour& hour, double tilt_deg, double ground_albedo);

/// Incidence-angle modifier of a glazed collector, 1 at normal incidence: 1 - b0 (1/cos - 1) up to 60 degrees, then
/// falling linearly to 0 at 90 degrees; never below 0.
[[nodiscard]] double incidence_modifier(double cos_incidence, double b0);
/// Angles of beam light that is modified as the diffuse light of the sky, and of the ground, is: Brandemuehl & Beckman
/// (1980), degrees, for a tilt of 0 to 90 degrees.
[[nodiscard]] double sky_equivalent_angle_deg(double tilt_deg);
[[nodiscard]] double ground_equivalent_angle_deg(double tilt_deg);

/// A collector plane and what stands around it.
struct Plane {
  double tilt_deg = 30;       ///< 0 to 90
  double azimuth_deg = 0;     ///< -180 to 180; 0 facing south, west positive
  double incidence_b0 = 0.1;  ///< -0.2 to 0.5; 0 leaves the light unmodified
  SkyModel sky = SkyModel::hdkr;
  std::optional<Monthly> ground_albedo;  ///< 0 to 1; empty: the hourly year's own, else 0.2 (common practice)
  Monthly shaded_share{};                ///< share of all light that near objects take, by month, 0 to 1
  /// Elevation of the far horizon, degrees, at equal steps of the compass from north through east; at most 360 values,
  /// 0 to 85; empty: flat. Between two values it is interpolated. A sun below it gives no beam and no circumsolar
  /// light; the light of the sky is lessened by the share of the plane's sky that it covers.
  std::vector<double> horizon_deg;
};

/// Irradiance on a plane, W/m2, means over each of 8760 hours, after shading.
struct PlaneYear {
  std::vector<double> beam_w_m2;
  std::vector<double> sky_w_m2;  ///< all diffuse light of the sky, circumsolar light included
  std::vector<double> ground_w_m2;
  std::vector<double> plane_w_m2;      ///< the sum of the three
  std::vector<double> effective_w_m2;  ///< the same with each part weighted by its incidence-angle modifier
};

/// The light on a plane in every hour. The sun stands where it does at the middle of the sunlit part of the hour.
/// Throws ValueOutOfRange for a plane or an hourly year outside the ranges above.
[[nodiscard]] PlaneYear plane_year(const HourlyYear& year, const Plane& plane);
/// The same with the sun of the place at hand, for many planes of one place.
[[nodiscard]] PlaneYear plane_year(const HourlyYear& year, const SunYear& sun, const Plane& plane);

/// Mean daily irradiation of each month, kWh/m2, of 8760 hourly means in W/m2.
[[nodiscard]] Monthly monthly_kwh_m2_day(const std::vector<double>& hourly_w_m2);

}  // namespace warmledger::climate
