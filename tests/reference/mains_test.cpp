// Mains temperature: Burch & Christensen (2007), "Towards development of an algorithm for mains water temperature". The
// formula was seen alike in two public transcriptions, and the offset of about 6 F and ratio of about 0.4 in the
// paper's abstract; the values were recomputed in plain arithmetic.
#include <array>
#include <cmath>

#include <doctest/doctest.h>

#include "warmledger/climate/mains.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;

TEST_CASE("mains temperature on five days in three climates, degF") {
  struct Row {
    double mean_f, span_f;
    std::array<double, 5> mains_f;
  };
  constexpr std::array<double, 5> days{1, 15, 105, 196, 288};
  for (const Row& row : {Row{50, 48, {47.8472, 46.3065, 50.5044, 65.5486, 61.4223}},
                         Row{44, 50, {43.3495, 41.7597, 44.1547, 58.0857, 55.7831}},
                         Row{70, 25, {68.3878, 67.8488, 74.5484, 84.1143, 77.3895}}}) {
    for (std::size_t k = 0; k < days.size(); ++k) {
      CAPTURE(row.mean_f);
      CAPTURE(days[k]);
      const double c = climate::mains_temperature_c(days[k], units::celsius_from_fahrenheit(row.mean_f),
                                                    row.span_f * units::kelvin_per_fahrenheit_degree);
      CHECK(std::fabs(units::fahrenheit_from_celsius(c) - row.mains_f[k]) < 1e-3);
    }
  }
}
