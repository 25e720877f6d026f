// Mains: temperature of the cold water that enters the house.
#pragma once

#include "warmledger/climate/climate.hpp"

namespace warmledger::climate {

/// Burch & Christensen (2007), "Towards development of an algorithm for mains water temperature": degC on a day of the
/// year (1 to 365) from the year's mean air temperature and the span of the monthly means. Never below 0 degC (held:
/// the fit would give ice in arctic places). South of the equator the year is shifted by half. Throws ValueOutOfRange
/// for a day outside 1 to 366, a mean outside -60 to 50 degC, a span outside 0 to 90 K.
[[nodiscard]] double mains_temperature_c(double day_of_year, double yearly_mean_air_c, double monthly_mean_span_k,
                                         bool southern_hemisphere = false);
/// Mean of mains_temperature_c over the days of each month of a 365-day year. The yearly mean air temperature is the
/// mean of the months weighted by their days; the span is the warmest less the coldest monthly mean.
[[nodiscard]] Monthly mains_by_month_c(const Climate& climate);

}  // namespace warmledger::climate
