// Internal rates of return against documented examples of general-purpose libraries and textbook problems with several
// rates or none.
#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

#include "warmledger/economics/internal_rate.hpp"

using namespace warmledger;
using namespace warmledger::economics;
using money::Decimal;

namespace {

/// Checks the whole set of rates, in both number types.
void check_rates(const std::vector<double>& flows, const std::vector<double>& expected, double tolerance) {
  const std::vector<Decimal> exact(flows.begin(), flows.end());
  const auto quick = internal_rates(std::span<const double>(flows));
  const auto fine = internal_rates(std::span<const Decimal>(exact));
  REQUIRE(quick.rates.size() == expected.size());
  REQUIRE(fine.rates.size() == expected.size());
  for (std::size_t k = 0; k < expected.size(); ++k) {
    CHECK(std::fabs(quick.rates[k] - expected[k]) <= tolerance);
    CHECK(std::fabs(money::to_double(fine.rates[k]) - expected[k]) <= tolerance);
    CHECK(std::fabs(quick.rates[k] - money::to_double(fine.rates[k])) <= 1e-12);
  }
}

/// Rounded to as many decimals as the documentation prints.
double rounded(double value, int decimals) {
  const double scale = std::pow(10, decimals);
  return std::round(value * scale) / scale;
}

}  // namespace

TEST_CASE("internal rates: documented examples of numpy-financial and pyxirr") {
  struct Documented {
    std::vector<double> flows;
    double rate;
    int decimals;
  };
  // numpy-financial docstrings of irr and its documentation index; the first also in pyxirr with all digits.
  for (const Documented& example : {Documented{{-100, 39, 59, 55, 20}, 0.28095, 5},
                                    Documented{{-100, 0, 0, 74}, -0.0955, 4}, Documented{{-100, 100, 0, 7}, 0.06206, 5},
                                    Documented{{-250000, 100000, 150000, 200000, 250000, 300000}, 0.56723, 5}}) {
    const auto rate = internal_rate_of_return(std::span<const double>(example.flows));
    REQUIRE(rate.value.has_value());
    CHECK(rounded(*rate.value, example.decimals) == doctest::Approx(example.rate).epsilon(1e-12));
  }
  // pyxirr's page prints 0.2809484212526239, whose last digits are its solver's tolerance: at 40 digits the rate is
  // 0.28094842115996110, 9.3e-11 below.
  check_rates({-100, 39, 59, 55, 20}, {0.2809484212526239}, 1e-10);
  check_rates({-100, 39, 59, 55, 20}, {0.28094842115996110}, 1e-15);
  check_rates({-250000, 100000, 150000, 200000, 250000, 300000}, {0.5672303344358536}, 1e-12);
  // There numpy-financial prints one rate (-0.0833, 0.0886); every rate, recomputed separately by bisection, is:
  check_rates({-100, 100, 0, -7}, {-0.678894, -0.083300}, 1e-6);
  check_rates({-5, 10.5, 1, -8, 1}, {-0.870201, 0.088598, 0.709560}, 1e-6);
}

TEST_CASE("internal rates: textbook problems with two and four rates") {
  // The oil-pump problem: published 25 %; 400 % follows exactly.
  check_rates({-1600, 10000, -10000}, {0.25, 4.0}, 1e-12);
  // A public exam question: about 38 % and 260 %; (3 -+ sqrt 5) / 2 exactly.
  check_rates({-2000, 10000, -10000}, {(3 - std::sqrt(5.0)) / 2, (3 + std::sqrt(5.0)) / 2}, 1e-12);
  // A public textbook problem (hint: 20 to 70 %).
  check_rates({-252, 1431, -3035, 2850, -1000}, {0.25, 1.0 / 3, 3.0 / 7, 2.0 / 3}, 1e-11);
  // Constructed: 230 = 100 (1.1 + 1.2), 132 = 100 x 1.1 x 1.2.
  check_rates({-100, 230, -132}, {0.10, 0.20}, 1e-12);
}

TEST_CASE("internal rates: a single number is refused when several rates exist") {
  for (const std::vector<double>& flows :
       {std::vector<double>{-1600, 10000, -10000}, std::vector<double>{-252, 1431, -3035, 2850, -1000},
        std::vector<double>{-5, 10.5, 1, -8, 1}}) {
    const auto all = internal_rates(std::span<const double>(flows));
    CHECK(all.statement == "several rates make the net present value zero");
    CHECK(all.sign_changes > 1);
    const auto one = internal_rate_of_return(std::span<const double>(flows));
    CHECK_FALSE(one.value.has_value());
    CHECK(one.why_none == all.statement);
  }
}

TEST_CASE("internal rates: flows without any (negative discriminants; one sign, which pyxirr documents as an error)") {
  for (const std::vector<double>& flows :
       {std::vector<double>{-1000, 3000, -2500}, std::vector<double>{100, -200, 150}}) {
    const auto none = internal_rates(std::span<const double>(flows));
    CHECK(none.rates.empty());
    CHECK(none.statement == "no rate above -1 makes the net present value zero");
    CHECK_FALSE(internal_rate_of_return(std::span<const double>(flows)).value.has_value());
  }
  const std::vector<double> one_sign{100, 20, 0, 5};
  CHECK(internal_rates(std::span<const double>(one_sign)).statement ==
        "all flows have one sign: nothing is both paid and received");
}

TEST_CASE("internal rates: rate(10, 0, -3500, 10000), value of numpy-financial from memory") {
  std::vector<double> flows(11, 0.0);
  flows[0] = -3500;
  flows[10] = 10000;
  check_rates(flows, {0.1106908537}, 5.1e-11);
}
