// Annual values, modified internal rates and paybacks against published and separately recomputed values.
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "warmledger/economics/more_measures.hpp"

using namespace warmledger;
using namespace warmledger::economics;
using money::Decimal;

TEST_CASE("modified internal rate: numpy-financial's test vectors (values from memory; recomputed separately)") {
  struct Vector {
    std::vector<double> flows;
    double finance;
    double reinvest;
    double expected;
  };
  for (const Vector& vector :
       {Vector{{-4500, -800, 800, 800, 600, 600, 800, 800, 700, 3000}, 0.08, 0.055, 0.0665971750},
        Vector{{-120000, 39000, 30000, 21000, 37000, 46000}, 0.10, 0.12, 0.1260941304}}) {
    const auto quick =
        modified_internal_rate_of_return(std::span<const double>(vector.flows), vector.finance, vector.reinvest);
    CHECK(std::fabs(quick.value.value() - vector.expected) <= 5.1e-11);
    const std::vector<Decimal> exact(vector.flows.begin(), vector.flows.end());
    const auto fine = modified_internal_rate_of_return(std::span<const Decimal>(exact), Decimal(vector.finance),
                                                       Decimal(vector.reinvest));
    CHECK(std::fabs(money::to_double(fine.value.value()) - vector.expected) <= 5.1e-11);
  }
}

TEST_CASE("present value when the first flow falls at time 1, as spreadsheets' NPV and pyxirr document") {
  // pyxirr documentation: 2838.1691372032656; all flows one period later than in net_present_value.
  const std::vector<double> flows{0, -40000, 5000, 8000, 12000, 30000};
  CHECK(present_value(0.08, std::span<const double>(flows), Timing::end_of_year) ==
        doctest::Approx(2838.1691372032656).epsilon(1e-12));
  // Start-of-year timing takes the delay back: 3065.2226681795255 in the same documentation.
  CHECK(present_value(0.08, std::span<const double>(flows), Timing::start_of_year) ==
        doctest::Approx(3065.2226681795255).epsilon(1e-12));
}

TEST_CASE("uniform capital recovery at 3 %, 10 years: 0.117231 (six-factor identity, recomputed separately)") {
  CHECK(std::fabs(uniform_capital_recovery(0.03, 10) - 0.117231) <= 5.1e-7);
  CHECK(uniform_capital_recovery(0.03, 10) * uniform_present_value(0.03, 10) == doctest::Approx(1).epsilon(1e-15));
  // UCR less the sinking fund factor is the rate; the sinking fund factor is UCR (1 + d)^-N.
  CHECK(uniform_capital_recovery(0.03, 10) * (1 - single_present_value(0.03, 10.0)) ==
        doctest::Approx(0.03).epsilon(1e-13));
}

TEST_CASE("NIST Handbook 135 (2025 edition), example 7-1: break-even first cost and annual value of the net savings") {
  // Present value of savings 3600.48 whatever the first cost, so the windows break even at that cost.
  const auto cost = break_even(0.0, 3600.48, 2000.0, 1600.48);
  CHECK(cost.value.value() == doctest::Approx(3600.48).epsilon(1e-12));
  // 20 years at 3 %: UPV 14.877475.
  CHECK(equivalent_annual_value(0.03, 1600.48, 20) == doctest::Approx(1600.48 / 14.877475).epsilon(1e-7));
}

TEST_CASE("a solar water heater with a rebate and a credit: lasting paybacks (constructed; arithmetic only)") {
  std::vector<double> flows{-3850.0};
  for (int year = 1; year <= 20; ++year) flows.push_back(420 * std::pow(1.01, year) - 40 - (year == 10 ? 300 : 0));
  // The replacement in year 10 comes before recovery, so the first recovery is the lasting one.
  CHECK(std::fabs(lasting_payback(std::span<const double>(flows)).value.value() - 10.2612) <= 1e-4);
  CHECK(std::fabs(lasting_discounted_payback(0.03, std::span<const double>(flows)).value.value() - 12.0816) <= 1e-4);
}
