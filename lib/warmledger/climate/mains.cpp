#include "warmledger/climate/mains.hpp"

#include <algorithm>
#include <cmath>

#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::climate {

namespace {

void check_air(double yearly_mean_air_c, double monthly_mean_span_k) {
  errors::require_in_range("yearly_mean_air_c", yearly_mean_air_c, -60, 50, "degC");
  errors::require_in_range("monthly_mean_span_k", monthly_mean_span_k, 0, 90, "K");
}

double temperature_c(double day_of_year, double yearly_mean_air_c, double monthly_mean_span_k,
                     bool southern_hemisphere) {
  // Burch & Christensen (2007); the fit is in degrees Fahrenheit and in degrees of arc.
  const double day =
      !southern_hemisphere ? day_of_year : (day_of_year > 182.5 ? day_of_year - 182.5 : day_of_year + 182.5);
  const double mean_f = units::fahrenheit_from_celsius(yearly_mean_air_c);
  const double span_f = monthly_mean_span_k / units::kelvin_per_fahrenheit_degree;
  const double ratio = 0.4 + 0.01 * (mean_f - 44);
  const double lag_days = 35 - 1.0 * (mean_f - 44);
  const double swing = std::sin((0.986 * (day - 15 - lag_days) - 90) * units::radian_per_degree);
  return std::max(0.0, units::celsius_from_fahrenheit(mean_f + 6 + ratio * span_f / 2 * swing));
}

}  // namespace

double mains_temperature_c(double day_of_year, double yearly_mean_air_c, double monthly_mean_span_k,
                           bool southern_hemisphere) {
  errors::require_in_range("day_of_year", day_of_year, 1, 366);
  check_air(yearly_mean_air_c, monthly_mean_span_k);
  return temperature_c(day_of_year, yearly_mean_air_c, monthly_mean_span_k, southern_hemisphere);
}

Monthly mains_by_month_c(const Climate& climate) {
  const Monthly& air = climate.months.dry_bulb_c;
  double mean = 0;
  for (std::size_t m = 0; m < air.size(); ++m) mean += air[m] * days_in_month[m] / 365.0;
  const auto [coldest, warmest] = std::minmax_element(air.begin(), air.end());
  const double span = *warmest - *coldest;
  check_air(mean, span);
  Monthly result{};
  int day = 1;
  for (std::size_t m = 0; m < result.size(); ++m) {
    double sum = 0;
    for (int k = 0; k < days_in_month[m]; ++k, ++day) {
      sum += temperature_c(day, mean, span, climate.place.latitude_deg < 0);
    }
    result[m] = sum / days_in_month[m];
  }
  return result;
}

}  // namespace warmledger::climate
