// Life-cycle cost factors and examples against published values.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <vector>

#include "warmledger/economics/measures.hpp"

using namespace warmledger::economics;

TEST_CASE("present value factors at 3 %: NIST Handbook 135 worked factors") {
  // Printed 0.642, 11.94, 13.89 and 4.8562 (one public transcription; inputs 3 %, 2 %, 15 and 5 years inferred there).
  CHECK(std::round(single_present_value(0.03, 15.0) * 1e3) / 1e3 == 0.642);
  CHECK(std::round(uniform_present_value(0.03, 15) * 1e2) / 1e2 == 11.94);
  CHECK(std::round(modified_uniform_present_value(0.03, 0.02, 15) * 1e2) / 1e2 == 13.89);
  CHECK(std::round(modified_uniform_present_value(0.03, 0.02, 5) * 1e4) / 1e4 == 4.8562);
}

TEST_CASE("single and uniform factors at 3 % for 1 to 30 years, in the digits the annual supplement prints") {
  // NISTIR 85-3273 prints SPV to 3 and UPV to 2 decimals (print format from memory); the digits recompute.
  static constexpr std::array<double, 30> spv{0.971, 0.943, 0.915, 0.888, 0.863, 0.837, 0.813, 0.789, 0.766, 0.744,
                                              0.722, 0.701, 0.681, 0.661, 0.642, 0.623, 0.605, 0.587, 0.570, 0.554,
                                              0.538, 0.522, 0.507, 0.492, 0.478, 0.464, 0.450, 0.437, 0.424, 0.412};
  static constexpr std::array<double, 30> upv{0.97,  1.91,  2.83,  3.72,  4.58,  5.42,  6.23,  7.02,  7.79,  8.53,
                                              9.25,  9.95,  10.63, 11.30, 11.94, 12.56, 13.17, 13.75, 14.32, 14.88,
                                              15.42, 15.94, 16.44, 16.94, 17.41, 17.88, 18.33, 18.76, 19.19, 19.60};
  for (int n = 1; n <= 30; ++n) {
    const auto i = static_cast<std::size_t>(n - 1);
    CHECK(std::fabs(single_present_value(0.03, static_cast<double>(n)) - spv[i]) <= 0.0005);
    CHECK(std::fabs(uniform_present_value(0.03, n) - upv[i]) <= 0.005);
    CHECK(uniform_present_value(0.03, n) - (n > 1 ? uniform_present_value(0.03, n - 1) : 0.0) ==
          doctest::Approx(single_present_value(0.03, static_cast<double>(n))).epsilon(1e-12));
  }
}

TEST_CASE("modified uniform factors at 3 % for six escalations") {
  // Formula UPV* of Handbook 135 (from memory; it reproduces the printed factors above). Values recomputed separately.
  static constexpr std::array<int, 6> years{5, 10, 15, 20, 25, 30};
  static constexpr std::array<double, 6> rates{-0.005, 0, 0.01, 0.02, 0.03, 0.04};
  static constexpr std::array<std::array<double, 6>, 6> expected{
      {{4.5128, 8.3092, 11.5030, 14.1898, 16.4501, 18.3516},
       {4.5797, 8.5302, 11.9379, 14.8775, 17.4131, 19.6004},
       {4.7162, 8.9919, 12.8683, 16.3827, 19.5689, 22.4576},
       {4.8562, 9.4813, 13.8861, 18.0812, 22.0766, 25.8818},
       {5, 10, 15, 20, 25, 30},
       {5.1475, 10.5498, 16.2195, 22.1699, 28.4147, 34.9686}}};
  for (std::size_t e = 0; e < 6; ++e) {
    for (std::size_t n = 0; n < 6; ++n) {
      CHECK(std::fabs(modified_uniform_present_value(0.03, rates[e], years[n]) - expected[e][n]) <= 0.00005001);
    }
  }
}

TEST_CASE("NIST Handbook 135 (2025 edition), example 7-1: storm windows, 20 years at 3 %") {
  // Inputs and the first three outputs as one public transcription prints them; the rest follow from them.
  const double gas = 1.05 * 16.15;
  const double electricity = 0.135 * 15.48;
  const double base = 1500 * gas + 1200 * electricity;
  const double energy = 1300 * gas + 1100 * electricity;
  CHECK(std::fabs(base - 27944) <= 1);
  CHECK(std::fabs(energy - 24344) <= 1);
  CHECK(std::fabs(2000 + energy - 26344) <= 1);
  const auto ratio = savings_to_investment(base - energy, 2000.0);
  CHECK(*ratio.value == doctest::Approx(1.80024).epsilon(1e-5));
  CHECK(*adjusted_internal_rate_of_return(0.03, ratio, 20).value == doctest::Approx(0.060727).epsilon(1e-5));
  CHECK(base - energy - 2000 == doctest::Approx(1600.48).epsilon(1e-5));
}

TEST_CASE("a solar water heater with a rebate and a credit, all measures (constructed; arithmetic only)") {
  std::vector<double> flows{-3850.0};
  double fuel = 0;
  double upkeep = 0;
  for (int year = 1; year <= 20; ++year) {
    const double saving = 420 * std::pow(1.01, year);
    flows.push_back(saving - 40 - (year == 10 ? 300 : 0));
    fuel += saving * single_present_value(0.03, static_cast<double>(year));
    upkeep += 40 * single_present_value(0.03, static_cast<double>(year));
  }
  const double replacement = 300 * single_present_value(0.03, 10.0);
  CHECK(fuel == doctest::Approx(420 * modified_uniform_present_value(0.03, 0.01, 20)).epsilon(1e-12));
  CHECK(std::fabs(fuel - 6880.74) <= 0.01);
  CHECK(std::fabs(upkeep - 595.10) <= 0.01);
  CHECK(std::fabs(replacement - 223.23) <= 0.01);
  CHECK(std::fabs(net_present_value(0.03, std::span<const double>(flows)) - 2212.42) <= 0.01);
  const auto ratio = savings_to_investment(fuel - upkeep, 3850 + replacement);
  CHECK(std::fabs(*ratio.value - 1.543160) <= 1e-6);
  CHECK(std::fabs(*adjusted_internal_rate_of_return(0.03, ratio, 20).value - 0.052586) <= 1e-6);
  CHECK(std::fabs(*payback(std::span<const double>(flows)).value - 10.2612) <= 1e-4);
  CHECK(std::fabs(*discounted_payback(0.03, std::span<const double>(flows)).value - 12.0816) <= 1e-4);
}

TEST_CASE("net present value: documented examples of two general-purpose libraries") {
  // numpy-financial docstring 3065.22267; pyxirr documentation 3065.2226681795255.
  const std::vector<double> flows{-40000, 5000, 8000, 12000, 30000};
  CHECK(net_present_value(0.08, std::span<const double>(flows)) == doctest::Approx(3065.2226681795255).epsilon(1e-12));
}

TEST_CASE("Fisher: real, nominal and inflation rates are one identity") {
  CHECK((1 + real_rate(0.05, 0.02)) * 1.02 == doctest::Approx(1.05).epsilon(1e-14));
  CHECK(real_rate(0.02, 0.02) == 0.0);
}
