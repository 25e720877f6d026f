#include "warmledger/climate/tilted.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <string>

#include <fmt/format.h>

#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

// "D&B" is Duffie & Beckman, "Solar Engineering of Thermal Processes".
namespace warmledger::climate {

namespace {

using std::numbers::pi;

constexpr double deg = units::radian_per_degree;
const double cos_85 = std::cos(85 * deg);
constexpr double common_albedo = 0.2;  // common practice

/// What a plane's tilt and sky model fix for all hours.
struct PlaneView {
  double sky = 0;     // view factor of the sky, (1 + cos b)/2
  double ground = 0;  // (1 - cos b)/2
  double sin_tilt = 0;
  double brightening = 0;  // sin^3(b/2)
  explicit PlaneView(double tilt_deg)
      : sky((1 + std::cos(tilt_deg * deg)) / 2),
        ground((1 - std::cos(tilt_deg * deg)) / 2),
        sin_tilt(std::sin(tilt_deg * deg)),
        brightening(std::pow(std::sin(tilt_deg * deg / 2), 3)) {}
};

struct PerezBin {
  double below, f11, f12, f13, f21, f22, f23;
};
// Perez, Ineichen, Seals, Michalsky & Stewart (1990), table 6, all sites; bins by sky clearness below a limit.
constexpr std::array<PerezBin, 8> perez_bins{{{1.065, -0.008, 0.588, -0.062, -0.060, 0.072, -0.022},
                                              {1.230, 0.130, 0.683, -0.151, -0.019, 0.066, -0.029},
                                              {1.500, 0.330, 0.487, -0.221, 0.055, -0.064, -0.026},
                                              {1.950, 0.568, 0.187, -0.295, 0.109, -0.152, -0.014},
                                              {2.800, 0.873, -0.392, -0.362, 0.226, -0.462, 0.001},
                                              {4.500, 1.132, -1.237, -0.412, 0.288, -0.823, 0.056},
                                              {6.200, 1.060, -1.600, -0.359, 0.264, -1.127, 0.131},
                                              {1e300, 0.678, -0.327, -0.250, 0.156, -1.377, 0.251}}};

template <SkyModel model>
TiltedParts parts_of(const SkyHour& hour, const PlaneView& view, double albedo) {
  const double facing = std::max(0.0, hour.cos_incidence);
  // Below 5 degrees of elevation the ratio of the two cosines is held, as Perez et al. do.
  const double low_zenith = std::max(cos_85, hour.cos_zenith);
  TiltedParts parts;
  parts.beam = hour.beam_normal * facing;
  parts.ground = hour.global * albedo * view.ground;
  if constexpr (model == SkyModel::isotropic) {
    parts.sky = hour.diffuse * view.sky;
  } else if constexpr (model == SkyModel::hay_davies || model == SkyModel::hdkr) {
    // D&B eq. 2.16.1 to 2.16.7: anisotropy index = beam over extraterrestrial, both on the normal.
    const double index =
        hour.extraterrestrial_normal > 0 ? std::clamp(hour.beam_normal / hour.extraterrestrial_normal, 0.0, 1.0) : 0;
    parts.circumsolar = hour.diffuse * index * facing / low_zenith;
    parts.sky = hour.diffuse * (1 - index) * view.sky;
    if constexpr (model == SkyModel::hdkr) {
      const double beam = hour.beam_normal * std::max(0.0, hour.cos_zenith);
      if (hour.global > 0) parts.sky *= 1 + std::sqrt(std::min(1.0, beam / hour.global)) * view.brightening;
    }
  } else {
    // Perez et al. (1990), equations 1 to 9.
    if (!(hour.diffuse > 0) || !(hour.extraterrestrial_normal > 0)) return parts;
    const double zenith = std::acos(std::clamp(hour.cos_zenith, 0.0, 1.0));
    const double cube = 1.041 * zenith * zenith * zenith;
    const double clearness = ((hour.diffuse + hour.beam_normal) / hour.diffuse + cube) / (1 + cube);
    const double brightness = hour.air_mass * hour.diffuse / hour.extraterrestrial_normal;
    const PerezBin& bin = *std::find_if(perez_bins.begin(), perez_bins.end() - 1,
                                        [clearness](const PerezBin& b) { return clearness < b.below; });
    const double sun_share = std::max(0.0, bin.f11 + bin.f12 * brightness + bin.f13 * zenith);
    const double horizon_share = bin.f21 + bin.f22 * brightness + bin.f23 * zenith;
    parts.circumsolar = hour.diffuse * sun_share * facing / low_zenith;
    parts.sky = hour.diffuse * ((1 - sun_share) * view.sky + horizon_share * view.sin_tilt);
    // A sky cannot be darker than black.
    parts.sky = std::max(parts.sky, -parts.circumsolar);
  }
  return parts;
}

/// Elevation of the horizon, degrees, in a compass direction.
double horizon_at(const std::vector<double>& horizon, double azimuth_deg) {
  const double count = static_cast<double>(horizon.size());
  double place = azimuth_deg / 360 * count;
  place -= std::floor(place / count) * count;
  const auto low = std::min(static_cast<std::size_t>(place), horizon.size() - 1);
  const double part = place - static_cast<double>(low);
  return horizon[low] * (1 - part) + horizon[(low + 1) % horizon.size()] * part;
}

/// Share of an even sky's light on the plane that comes from above the horizon profile.
double open_sky_share(const Plane& plane, const PlaneView& view) {
  if (std::all_of(plane.horizon_deg.begin(), plane.horizon_deg.end(), [](double e) { return e == 0; })) return 1;
  // Quadrature over the part below the profile: midpoints of 360 bearings and of 24 bands of elevation.
  constexpr int bearings = 360;
  constexpr int bands = 24;
  const double cos_b = std::cos(plane.tilt_deg * deg);
  double hidden = 0;
  for (int k = 0; k < bearings; ++k) {
    const double bearing = (k + 0.5) * 360.0 / bearings;
    const double top = horizon_at(plane.horizon_deg, bearing) * deg;
    const double step = top / bands;
    for (int j = 0; j < bands; ++j) {
      const double elevation = (j + 0.5) * step;
      const double towards = std::cos((bearing - 180 - plane.azimuth_deg) * deg);
      const double facing = std::sin(elevation) * cos_b + std::cos(elevation) * view.sin_tilt * towards;
      hidden += std::max(0.0, facing) * std::cos(elevation) * step;
    }
  }
  hidden *= 2 * pi / bearings / (pi * view.sky);
  return std::clamp(1 - hidden, 0.0, 1.0);
}

void require_plane(const Plane& plane) {
  errors::require_in_range("tilt_deg", plane.tilt_deg, 0, 90, "degrees");
  errors::require_in_range("azimuth_deg", plane.azimuth_deg, -180, 180, "degrees");
  errors::require_in_range("incidence_b0", plane.incidence_b0, -0.2, 0.5);
  for (std::size_t m = 0; m < 12; ++m) {
    if (plane.ground_albedo) {
      errors::require_in_range(fmt::format("ground_albedo of month {}", m + 1), (*plane.ground_albedo)[m], 0, 1);
    }
    errors::require_in_range(fmt::format("shaded_share of month {}", m + 1), plane.shaded_share[m], 0, 1);
  }
  if (plane.horizon_deg.size() > 360) {
    throw errors::ValueOutOfRange({{"", {}, {}, "horizon_deg"},
                                   fmt::format("{} values", plane.horizon_deg.size()),
                                   "are too many",
                                   "at most 360 values, at equal steps of the compass from north"});
  }
  for (std::size_t k = 0; k < plane.horizon_deg.size(); ++k) {
    errors::require_in_range(fmt::format("horizon_deg, value {}", k + 1), plane.horizon_deg[k], 0, 85, "degrees");
  }
}

template <SkyModel model>
void fill(PlaneYear& result, const HourlyYear& year, const SunYear& sun, const Plane& plane) {
  const PlaneView view(plane.tilt_deg);
  const double normal_south = std::sin(plane.tilt_deg * deg) * std::cos(plane.azimuth_deg * deg);
  const double normal_west = std::sin(plane.tilt_deg * deg) * std::sin(plane.azimuth_deg * deg);
  const double normal_up = std::cos(plane.tilt_deg * deg);
  const double sky_modifier =
      incidence_modifier(std::cos(sky_equivalent_angle_deg(plane.tilt_deg) * deg), plane.incidence_b0);
  const double ground_modifier =
      incidence_modifier(std::cos(ground_equivalent_angle_deg(plane.tilt_deg) * deg), plane.incidence_b0);
  const double open_sky = open_sky_share(plane, view);
  const bool hilly = open_sky < 1;

  std::size_t i = 0;
  std::size_t day = 0;
  for (std::size_t month = 0; month < 12; ++month) {
    const double kept = 1 - plane.shaded_share[month];
    const double month_albedo = plane.ground_albedo ? (*plane.ground_albedo)[month] : common_albedo;
    const bool own_albedo = !plane.ground_albedo && !year.ground_albedo.empty();
    for (int d = 0; d < days_in_month[month]; ++d, ++day) {
      for (int h = 0; h < 24; ++h, ++i) {
        SkyHour hour;
        hour.global = year.global_w_m2[i];
        hour.diffuse = year.diffuse_w_m2[i];
        if (hour.global <= 0 && hour.diffuse <= 0 && year.beam_normal_w_m2[i] <= 0) continue;
        hour.beam_normal = year.beam_normal_w_m2[i];
        // In an hour cut by sunrise or sunset the sun shines for a part of it only.
        hour.extraterrestrial_normal = sun.extraterrestrial_normal_w_m2[day] * sun.lit_share[i];
        hour.cos_zenith = sun.up[i];
        hour.cos_incidence = sun.up[i] * normal_up + sun.south[i] * normal_south + sun.west[i] * normal_west;
        if constexpr (model == SkyModel::perez) {
          hour.air_mass = relative_air_mass(std::acos(std::clamp(hour.cos_zenith, 0.0, 1.0)) / deg);
        }
        TiltedParts parts = parts_of<model>(hour, view, own_albedo ? year.ground_albedo[i] : month_albedo);
        if (hilly) {
          const double bearing = std::atan2(-sun.west[i], -sun.south[i]) / deg;
          if (sun.up[i] < std::sin(horizon_at(plane.horizon_deg, bearing) * deg)) parts.beam = parts.circumsolar = 0;
          parts.sky *= open_sky;
        }
        const double beam_modifier = incidence_modifier(hour.cos_incidence, plane.incidence_b0);
        const double effective = beam_modifier * (parts.beam + parts.circumsolar) + sky_modifier * parts.sky +
                                 ground_modifier * parts.ground;
        result.beam_w_m2[i] = kept * parts.beam;
        result.sky_w_m2[i] = kept * parts.sky_diffuse();
        result.ground_w_m2[i] = kept * parts.ground;
        result.plane_w_m2[i] = kept * parts.total();
        result.effective_w_m2[i] = kept * std::max(0.0, effective);
      }
    }
  }
}

}  // namespace

double hourly_diffuse_share(double clearness) {
  errors::require_in_range("clearness", clearness, 0, 1e6);
  const double k = clearness;
  if (k <= 0.22) return 1 - 0.09 * k;
  if (k <= 0.80) return 0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)));
  return 0.165;
}

double daily_diffuse_share(double clearness, double sunset_hour_angle_deg) {
  errors::require_in_range("clearness", clearness, 0, 1e6);
  errors::require_in_range("sunset_hour_angle_deg", sunset_hour_angle_deg, 0, 180, "degrees");
  const double k = clearness;
  if (sunset_hour_angle_deg <= 81.4) {
    return k < 0.715 ? 1 + k * (-0.2727 + k * (2.4495 + k * (-11.9514 + k * 9.3879))) : 0.143;
  }
  return k < 0.722 ? 1 + k * (0.2832 + k * (-2.5557 + k * 0.8448)) : 0.175;
}

double relative_air_mass(double zenith_deg) {
  errors::require_in_range("zenith_deg", zenith_deg, 0, 90, "degrees");
  return 1 / (std::cos(zenith_deg * deg) + 0.50572 * std::pow(96.07995 - zenith_deg, -1.6364));
}

SkyModel sky_model_from(std::string_view name) {
  std::string plain;
  for (const char c : name) {
    if (c >= 'A' && c <= 'Z') {
      plain += static_cast<char>(c - 'A' + 'a');
    } else if (c != '-' && c != '_' && c != ' ') {
      plain += c;
    }
  }
  if (plain == "isotropic") return SkyModel::isotropic;
  if (plain == "haydavies") return SkyModel::hay_davies;
  if (plain == "hdkr") return SkyModel::hdkr;
  if (plain == "perez") return SkyModel::perez;
  throw errors::unknown_name("sky", name, {"isotropic", "Hay-Davies", "HDKR", "Perez"});
}

TiltedParts tilted_parts(SkyModel model, const SkyHour& hour, double tilt_deg, double ground_albedo) {
  errors::require_in_range("tilt_deg", tilt_deg, 0, 90, "degrees");
  errors::require_in_range("ground_albedo", ground_albedo, 0, 1);
  errors::require_in_range("global", hour.global, 0, 1e9);
  errors::require_in_range("beam_normal", hour.beam_normal, 0, 1e9);
  errors::require_in_range("diffuse", hour.diffuse, 0, 1e9);
  errors::require_in_range("extraterrestrial_normal", hour.extraterrestrial_normal, 0, 1e9);
  errors::require_in_range("cos_zenith", hour.cos_zenith, -1, 1);
  errors::require_in_range("cos_incidence", hour.cos_incidence, -1, 1);
  errors::require_in_range("air_mass", hour.air_mass, 0, 100);
  const PlaneView view(tilt_deg);
  switch (model) {
    case SkyModel::isotropic:
      return parts_of<SkyModel::isotropic>(hour, view, ground_albedo);
    case SkyModel::hay_davies:
      return parts_of<SkyModel::hay_davies>(hour, view, ground_albedo);
    case SkyModel::hdkr:
      return parts_of<SkyModel::hdkr>(hour, view, ground_albedo);
    case SkyModel::perez:
      break;
  }
  return parts_of<SkyModel::perez>(hour, view, ground_albedo);
}

double incidence_modifier(double cos_incidence, double b0) {
  if (cos_incidence >= 0.5) return std::max(0.0, 1 - b0 * (1 / cos_incidence - 1));
  if (!(cos_incidence > 0)) return 0;
  const double at_60 = std::max(0.0, 1 - b0);
  return at_60 * (90 - std::acos(cos_incidence) / deg) / 30;
}

double sky_equivalent_angle_deg(double tilt_deg) {
  errors::require_in_range("tilt_deg", tilt_deg, 0, 90, "degrees");
  return 59.7 + tilt_deg * (-0.1388 + tilt_deg * 0.001497);  // D&B eq. 5.4.2
}

double ground_equivalent_angle_deg(double tilt_deg) {
  errors::require_in_range("tilt_deg", tilt_deg, 0, 90, "degrees");
  return 90 + tilt_deg * (-0.5788 + tilt_deg * 0.002693);  // D&B eq. 5.4.1
}

PlaneYear plane_year(const HourlyYear& year, const Plane& plane) {
  return plane_year(year, sun_year(year.place, year.years), plane);
}

PlaneYear plane_year(const HourlyYear& year, const SunYear& sun, const Plane& plane) {
  require_plane(plane);
  require_whole(year);
  if (sun.up.size() != hours_in_year) {
    throw errors::ValueOutOfRange(
        {{"", {}, {}, "sun"}, fmt::format("{} hours", sun.up.size()), "do not make a year", "8760 hours"});
  }
  PlaneYear result;
  for (auto* column :
       {&result.beam_w_m2, &result.sky_w_m2, &result.ground_w_m2, &result.plane_w_m2, &result.effective_w_m2}) {
    column->assign(hours_in_year, 0.0);
  }
  switch (plane.sky) {
    case SkyModel::isotropic:
      fill<SkyModel::isotropic>(result, year, sun, plane);
      break;
    case SkyModel::hay_davies:
      fill<SkyModel::hay_davies>(result, year, sun, plane);
      break;
    case SkyModel::hdkr:
      fill<SkyModel::hdkr>(result, year, sun, plane);
      break;
    case SkyModel::perez:
      fill<SkyModel::perez>(result, year, sun, plane);
      break;
  }
  return result;
}

Monthly monthly_kwh_m2_day(const std::vector<double>& hourly_w_m2) {
  if (hourly_w_m2.size() != hours_in_year) {
    throw errors::ValueOutOfRange({{"", {}, {}, "hourly_w_m2"},
                                   fmt::format("{} values", hourly_w_m2.size()),
                                   "do not make a year",
                                   "8760 values"});
  }
  Monthly result{};
  std::size_t i = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    double sum = 0;
    for (const std::size_t end = i + 24 * static_cast<std::size_t>(days_in_month[m]); i < end; ++i)
      sum += hourly_w_m2[i];
    result[m] = sum / 1000 / days_in_month[m];
  }
  return result;
}

}  // namespace warmledger::climate
