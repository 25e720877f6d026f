// Price indices against NIST Handbook 135.
#include <doctest/doctest.h>

#include <cmath>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/prices/escalation.hpp"

using namespace warmledger;

// NIST Handbook 135 (2025), example 7-1: over 20 years at 3 % real, base date 2019, UPV* 15.48 of electricity and 16.15
// of gas, and a life-cycle cost of the base case of 27,944 dollars (read in another account of the handbook). The
// catalogue's rows hold the even rise behind each factor: prices at year ends, the first a year after the base date.
TEST_CASE("the example's escalation gives its factors and its life-cycle cost") {
  const catalog::Catalog data = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  const auto factor = [&](prices::Fuel fuel) {
    for (const catalog::EscalationEntry& entry : data.escalation) {
      if (entry.fuel != fuel || entry.table.region != "handbook_135_example") continue;
      const auto indices = prices::price_indices<double>(prices::escalation_from(entry.table, 2019, 0), 21);
      double sum = 0;
      for (std::size_t year = 1; year <= 20; ++year) sum += indices[year] * std::pow(1.03, -static_cast<double>(year));
      return sum;
    }
    return 0.0;
  };
  const double electricity = factor(prices::Fuel::electricity);
  const double gas = factor(prices::Fuel::natural_gas);
  CHECK(electricity == doctest::Approx(15.48).epsilon(0.005 / 15.48));
  CHECK(gas == doctest::Approx(16.15).epsilon(0.005 / 16.15));
  CHECK(std::fabs(1500 * 1.05 * gas + 1200 * 0.135 * electricity - 27944) < 1);
}
