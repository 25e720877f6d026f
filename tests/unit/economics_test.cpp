#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "warmledger/economics/measures.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using namespace warmledger::economics;
using money::Decimal;

namespace {

std::span<const double> view(const std::vector<double>& flows) {
  return flows;
}

}  // namespace

TEST_CASE("payback interpolates within the crossing period and says when there is none") {
  CHECK(*payback(view({-100, 40, 40, 40})).value == doctest::Approx(2.5).epsilon(1e-12));
  CHECK(*payback(view({-100, 50, 50})).value == doctest::Approx(2.0).epsilon(1e-12));
  CHECK(*payback(view({0, 5})).value == 0.0);
  CHECK(*payback(view({20, -5})).value == 0.0);
  CHECK_FALSE(payback(view({-100, 10, 10})).value.has_value());
  CHECK(payback(view({-100, 10, 10})).why_none == "not recovered within the study period");
  CHECK_FALSE(payback(view({})).value.has_value());
}

TEST_CASE("a discounted payback is never shorter than the simple one at a positive rate") {
  std::mt19937_64 random(3);
  std::uniform_real_distribution<double> cost(10, 1000);
  std::uniform_real_distribution<double> saving(1, 100);
  std::uniform_real_distribution<double> rate(0, 0.2);
  for (int k = 0; k < 500; ++k) {
    std::vector<double> flows{-cost(random)};
    for (int year = 0; year < 30; ++year) flows.push_back(saving(random));
    const auto simple = payback(view(flows));
    const auto discounted = discounted_payback(rate(random), view(flows));
    if (discounted.value) {
      REQUIRE(simple.value.has_value());
      CHECK(*discounted.value >= *simple.value - 1e-12);
    }
    // A dearer purchase is never paid back sooner.
    std::vector<double> dearer = flows;
    dearer[0] -= 50;
    const auto later = payback(view(dearer));
    if (later.value) CHECK(*later.value >= *simple.value);
  }
}

TEST_CASE_TEMPLATE("present values side by side are those of each alone, number by number", N, double, Decimal) {
  std::mt19937_64 random(36);
  std::uniform_real_distribution<double> amount(-1000, 1000);
  for (const std::size_t length : {0U, 1U, 3U, 4U, 5U, 30U, 241U}) {
    for (std::size_t count = 0; count <= 7; ++count) {
      std::vector<std::vector<N>> flows(count, std::vector<N>(length));
      for (auto& series : flows) {
        for (N& flow : series) flow = N(amount(random));
      }
      const std::vector<std::span<const N>> series(flows.begin(), flows.end());
      std::vector<N> values(count);
      const N rate(0.004);
      net_present_values(rate, std::span<const std::span<const N>>(series), std::span<N>(values));
      for (std::size_t k = 0; k < count; ++k) {
        CHECK(values[k] == net_present_value(rate, series[k]));
        N plain(0);
        for (std::size_t m = length; m > 0; --m) plain = N(plain / (N(1) + rate) + flows[k][m - 1]);
        CHECK(money::to_double(values[k]) == doctest::Approx(money::to_double(plain)).epsilon(1e-12).scale(1000));
      }
    }
  }
}

TEST_CASE("net savings above 0, ratio above 1 and return above the rate are one and the same") {
  std::mt19937_64 random(5);
  std::uniform_real_distribution<double> dollars(1, 10000);
  std::uniform_real_distribution<double> rate(-0.05, 0.2);
  for (int k = 0; k < 1000; ++k) {
    const double savings = dollars(random);
    const double investment = dollars(random);
    const double d = rate(random);
    const auto ratio = savings_to_investment(savings, investment);
    const auto back = adjusted_internal_rate_of_return(d, ratio, 20);
    CHECK((savings - investment > 0) == (*ratio.value > 1));
    CHECK((*ratio.value > 1) == (*back.value > d));
  }
}

TEST_CASE("measures that do not exist are none with a reason") {
  CHECK(savings_to_investment(100.0, 0.0).why_none == "nothing is invested");
  CHECK(savings_to_investment(100.0, -5.0).why_none == "nothing is invested");
  CHECK(adjusted_internal_rate_of_return(0.03, savings_to_investment(-10.0, 5.0), 20).why_none ==
        "the savings are not positive");
  CHECK(adjusted_internal_rate_of_return(0.03, savings_to_investment(10.0, 0.0), 20).why_none == "nothing is invested");
}

TEST_CASE("both number types agree to 1e-9") {
  std::mt19937_64 random(9);
  std::uniform_real_distribution<double> amount(-500, 500);
  std::uniform_real_distribution<double> rate(-0.1, 0.3);
  for (int k = 0; k < 2000; ++k) {
    std::vector<double> flows{-std::fabs(amount(random)) * 10};
    for (int year = 0; year < 25; ++year) flows.push_back(amount(random) + 300);
    const std::vector<Decimal> exact(flows.begin(), flows.end());
    const double d = rate(random);
    CHECK(net_present_value(d, view(flows)) ==
          doctest::Approx(money::to_double(net_present_value(Decimal(d), std::span<const Decimal>(exact))))
              .epsilon(1e-11));
    const auto quick = discounted_payback(d, view(flows));
    const auto fine = discounted_payback(Decimal(d), std::span<const Decimal>(exact));
    REQUIRE(quick.value.has_value() == fine.value.has_value());
    if (quick.value) CHECK(*quick.value == doctest::Approx(money::to_double(*fine.value)).epsilon(1e-9));
    CHECK(monthly_rate(d) == doctest::Approx(money::to_double(monthly_rate(Decimal(d)))).epsilon(1e-12));
  }
}

TEST_CASE("factors: a rate near the escalation does not cancel, rate 0 counts periods") {
  CHECK(modified_uniform_present_value(0.03, 0.03, 20) == 20.0);
  CHECK(modified_uniform_present_value(0.03, 0.03 + 1e-13, 20) == doctest::Approx(20.0).epsilon(1e-9));
  CHECK(uniform_present_value(0.0, 12) == 12.0);
  CHECK(std::pow(1 + monthly_rate(0.05), 12) == doctest::Approx(1.05).epsilon(1e-14));
}

TEST_CASE("rates at or below -1 and NaN are refused") {
  CHECK_THROWS_WITH_AS((void)net_present_value(-1.0, view({1, 2})),
                       "rate: -1 is out of range; allowed: finite rates above -1 (0.03 is 3 %)",
                       errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)monthly_rate(std::nan("")), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)uniform_present_value(-2.0, 3), errors::ValueOutOfRange);
}
