#include "warmledger/climate/sun.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

// The textbook formulas are those of Duffie & Beckman, "Solar Engineering of Thermal Processes", chapters 1 and 2; the
// papers named beside them are the originals as cited there.
namespace warmledger::climate {

namespace {

using std::numbers::pi;

double radians(double degrees) {
  return degrees * units::radian_per_degree;
}

// Below this the sun of the average day only grazes the horizon, and ratios to it mean nothing.
constexpr double grazing_kwh_m2_day = 0.1;

void require_month(int month) {
  errors::require_in_range("month", month, 1, 12);
}

/// An angle whose functions are wanted again and again.
struct Angle {
  double sin, cos, tan;
  explicit Angle(double degrees)
      : sin(std::sin(radians(degrees))), cos(std::cos(radians(degrees))), tan(std::tan(radians(degrees))) {}
};

double sunset_hour_angle_of(const Angle& latitude, const Angle& declination) {
  const double cosine = -latitude.tan * declination.tan;
  return std::acos(std::clamp(cosine, -1.0, 1.0)) / units::radian_per_degree;
}

double extraterrestrial_of(const Angle& latitude, const Angle& declination, double sunset_deg, double day_of_year) {
  const double sunset = radians(sunset_deg);
  // Duffie & Beckman eq. 1.10.3; the earth's distance from the sun by the simple cosine of eq. 1.4.1a.
  const double normal_w_m2 = solar_constant_w_m2 * (1 + 0.033 * std::cos(radians(360.0 * day_of_year / 365.0)));
  const double hours =
      24 / pi * (latitude.cos * declination.cos * std::sin(sunset) + sunset * latitude.sin * declination.sin);
  return std::max(0.0, normal_w_m2 / 1000 * hours);
}

double greatest_extraterrestrial(double latitude_deg, int month) {
  int day = 1;
  for (int earlier = 1; earlier < month; ++earlier) day += days_in_month[static_cast<std::size_t>(earlier - 1)];
  double greatest = 0;
  for (const int last = day + days_in_month[static_cast<std::size_t>(month - 1)]; day < last; ++day) {
    greatest = std::max(greatest, extraterrestrial_kwh_m2_day(latitude_deg, day));
  }
  return greatest;
}

}  // namespace

int average_day_of_month(int month) {
  require_month(month);
  // Klein (1977), "Calculation of monthly average insolation on tilted surfaces", table of average days.
  static constexpr std::array<int, 12> days{17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344};
  return days[static_cast<std::size_t>(month - 1)];
}

double declination_deg(double day_of_year) {
  return 23.45 * std::sin(radians(360.0 * (284.0 + day_of_year) / 365.0));
}

double equation_of_time_min(double day_of_year) {
  const double b = radians((day_of_year - 1) * 360.0 / 365.0);
  return 229.2 * (0.000075 + 0.001868 * std::cos(b) - 0.032077 * std::sin(b) - 0.014615 * std::cos(2 * b) -
                  0.04089 * std::sin(2 * b));
}

double sunset_hour_angle_deg(double latitude_deg, double declination_deg) {
  return sunset_hour_angle_of(Angle(latitude_deg), Angle(declination_deg));
}

double extraterrestrial_kwh_m2_day(double latitude_deg, double day_of_year) {
  const Angle latitude(latitude_deg);
  const Angle declination(declination_deg(day_of_year));
  return extraterrestrial_of(latitude, declination, sunset_hour_angle_of(latitude, declination), day_of_year);
}

double cos_incidence(double latitude_deg, double declination_deg, double tilt_deg, double azimuth_deg,
                     double hour_angle_deg) {
  // Duffie & Beckman eq. 1.6.2.
  const double sin_d = std::sin(radians(declination_deg)), cos_d = std::cos(radians(declination_deg));
  const double sin_p = std::sin(radians(latitude_deg)), cos_p = std::cos(radians(latitude_deg));
  const double sin_b = std::sin(radians(tilt_deg)), cos_b = std::cos(radians(tilt_deg));
  const double sin_g = std::sin(radians(azimuth_deg)), cos_g = std::cos(radians(azimuth_deg));
  const double sin_w = std::sin(radians(hour_angle_deg)), cos_w = std::cos(radians(hour_angle_deg));
  return sin_d * sin_p * cos_b - sin_d * cos_p * sin_b * cos_g + cos_d * cos_p * cos_b * cos_w +
         cos_d * sin_p * sin_b * cos_g * cos_w + cos_d * sin_b * sin_g * sin_w;
}

double monthly_diffuse_share(double clearness, double sunset_hour_angle_deg) {
  // Erbs, Klein & Duffie (1982), monthly averages: a winter and a summer fit, told apart by the sunset hour angle.
  const double k = std::clamp(clearness, 0.3, 0.8);
  return sunset_hour_angle_deg <= 81.4 ? 1.391 + k * (-3.560 + k * (4.189 - k * 2.137))
                                       : 1.311 + k * (-3.022 + k * (3.427 - k * 1.821));
}

namespace {

double beam_ratio_of(const Angle& latitude, const Angle& declination, double sunset_deg, const Angle& tilt,
                     const Angle& azimuth) {
  const double sin_d = declination.sin, cos_d = declination.cos;
  const double sin_p = latitude.sin, cos_p = latitude.cos;
  const double sin_b = tilt.sin, cos_b = tilt.cos;
  const double sin_g = azimuth.sin, cos_g = azimuth.cos;
  const double sunset = radians(sunset_deg);

  const double horizontal = 2 * (sin_p * sin_d * sunset + cos_p * cos_d * std::sin(sunset));
  if (horizontal <= 1e-12) return 0;

  // cos(incidence) = a + b cos w + c sin w = a + r cos(w - w0): before the plane while |w - w0| < half_width.
  const double a = sin_d * sin_p * cos_b - sin_d * cos_p * sin_b * cos_g;
  const double b = cos_d * cos_p * cos_b + cos_d * sin_p * sin_b * cos_g;
  const double c = cos_d * sin_b * sin_g;
  const double r = std::hypot(b, c);
  if (a <= -r) return 0;
  const auto integral = [&](double from, double to) {
    return a * (to - from) + b * (std::sin(to) - std::sin(from)) - c * (std::cos(to) - std::cos(from));
  };
  if (a >= r) return integral(-sunset, sunset) / horizontal;

  const double middle = std::atan2(c, b);
  const double half_width = std::acos(-a / r);
  double sum = 0;
  for (const double turn : {-2 * pi, 0.0, 2 * pi}) {  // the lit arc may lie across midnight
    const double from = std::max(-sunset, middle + turn - half_width);
    const double to = std::min(sunset, middle + turn + half_width);
    if (to > from) sum += integral(from, to);
  }
  return std::max(0.0, sum) / horizontal;
}

/// The month on a plane; what does not depend on the month is worked out before.
TiltedMonth month_on_plane(double horizontal_kwh_m2_day, double latitude_deg, const Angle& latitude, int month,
                           const Angle& tilt, const Angle& azimuth, double ground_albedo) {
  static const std::array<Angle, 12> declinations = [] {
    const auto of = [](int m) { return Angle(declination_deg(average_day_of_month(m))); };
    return std::array<Angle, 12>{of(1), of(2), of(3), of(4), of(5), of(6), of(7), of(8), of(9), of(10), of(11), of(12)};
  }();
  errors::require_in_range("ground_albedo", ground_albedo, 0, 1);

  const Angle& declination = declinations[static_cast<std::size_t>(month - 1)];
  const double sunset_deg = sunset_hour_angle_of(latitude, declination);
  TiltedMonth result;
  result.extraterrestrial_kwh_m2_day =
      extraterrestrial_of(latitude, declination, sunset_deg, average_day_of_month(month));
  const bool grazing = result.extraterrestrial_kwh_m2_day < grazing_kwh_m2_day;
  const double most = grazing ? greatest_extraterrestrial(latitude_deg, month) : result.extraterrestrial_kwh_m2_day;
  if (!(horizontal_kwh_m2_day >= 0 && horizontal_kwh_m2_day <= most)) {
    throw errors::ValueOutOfRange(
        {{"", {}, {}, "horizontal_kwh_m2_day"},
         errors::plain_number(horizontal_kwh_m2_day),
         fmt::format("is out of range for month {} at latitude {}", month, errors::plain_number(latitude_deg)),
         fmt::format("0 to {:.4g} kWh/m2 a day, which is what arrives outside the atmosphere", most)});
  }

  if (result.extraterrestrial_kwh_m2_day > 0) {
    result.clearness = std::min(1.0, horizontal_kwh_m2_day / result.extraterrestrial_kwh_m2_day);
  }
  if (grazing) {
    result.diffuse_share = 1;
  } else {
    result.diffuse_share = monthly_diffuse_share(result.clearness, sunset_deg);
    result.beam_ratio = beam_ratio_of(latitude, declination, sunset_deg, tilt, azimuth);
  }
  result.tilted_kwh_m2_day =
      horizontal_kwh_m2_day * ((1 - result.diffuse_share) * result.beam_ratio +
                               result.diffuse_share * (1 + tilt.cos) / 2 + ground_albedo * (1 - tilt.cos) / 2);
  return result;
}

void require_plane(double latitude_deg, double tilt_deg, double azimuth_deg) {
  errors::require_in_range("latitude_deg", latitude_deg, -90, 90, "degrees");
  errors::require_in_range("tilt_deg", tilt_deg, 0, 90, "degrees");
  errors::require_in_range("azimuth_deg", azimuth_deg, -180, 180, "degrees");
}

}  // namespace

double mean_beam_ratio(double latitude_deg, double declination_deg, double tilt_deg, double azimuth_deg) {
  const Angle latitude(latitude_deg);
  const Angle declination(declination_deg);
  return beam_ratio_of(latitude, declination, sunset_hour_angle_of(latitude, declination), Angle(tilt_deg),
                       Angle(azimuth_deg));
}

TiltedMonth tilted_month(double horizontal_kwh_m2_day, double latitude_deg, int month, double tilt_deg,
                         double azimuth_deg, double ground_albedo) {
  require_month(month);
  require_plane(latitude_deg, tilt_deg, azimuth_deg);
  return month_on_plane(horizontal_kwh_m2_day, latitude_deg, Angle(latitude_deg), month, Angle(tilt_deg),
                        Angle(azimuth_deg), ground_albedo);
}

Monthly tilted_irradiation(const Climate& climate, double tilt_deg, double azimuth_deg) {
  const double latitude_deg = climate.place.latitude_deg;
  require_plane(latitude_deg, tilt_deg, azimuth_deg);
  const Angle latitude(latitude_deg);
  const Angle tilt(tilt_deg);
  const Angle azimuth(azimuth_deg);
  Monthly tilted{};
  for (std::size_t m = 0; m < tilted.size(); ++m) {
    tilted[m] = month_on_plane(climate.months.horizontal_kwh_m2_day[m], latitude_deg, latitude, static_cast<int>(m) + 1,
                               tilt, azimuth, climate.months.ground_albedo[m])
                    .tilted_kwh_m2_day;
  }
  return tilted;
}

}  // namespace warmledger::climate
