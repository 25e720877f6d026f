#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "warmledger/economics/more_measures.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using namespace warmledger::economics;
using money::Decimal;

namespace {

std::span<const double> view(const std::vector<double>& flows) {
  return flows;
}

}  // namespace

TEST_CASE("lasting payback is the last recovery, never before the first") {
  // Recovered after 2 years, below zero again through a replacement, recovered for good after 4.5.
  const std::vector<double> replaced{-100, 50, 60, -40, 20, 20, 20};
  CHECK(*payback(view(replaced)).value == doctest::Approx(1 + 50.0 / 60).epsilon(1e-12));
  CHECK(*lasting_payback(view(replaced)).value == doctest::Approx(4.5).epsilon(1e-12));
  CHECK(*lasting_payback(view({5, -1, 3})).value == 0.0);
  CHECK(*lasting_payback(view({0, 0})).value == 0.0);
  CHECK(*lasting_payback(view({5, -10, 10})).value == doctest::Approx(1.5).epsilon(1e-12));
  CHECK(*lasting_payback(view({-100, 50, 50})).value == 2.0);
  const auto lost = lasting_payback(view({-100, 120, -50}));
  CHECK_FALSE(lost.value.has_value());
  CHECK(lost.why_none == "not recovered for good within the study period");
  CHECK(*payback(view({-100, 120, -50})).value < 1);
  CHECK(lasting_payback(view({})).why_none == "there are no flows");
}

TEST_CASE("lasting payback: later than the first, and sums after it stay at zero or above") {
  std::mt19937_64 random(29);
  std::uniform_real_distribution<double> amount(-80, 120);
  std::uniform_real_distribution<double> rate(0, 0.1);
  int differ = 0;
  for (int trial = 0; trial < 1000; ++trial) {
    std::vector<double> flows{-300};
    for (int year = 0; year < 30; ++year) flows.push_back(amount(random));
    const double d = rate(random);
    for (const bool discounted : {false, true}) {
      const auto first = discounted ? discounted_payback(d, view(flows)) : payback(view(flows));
      const auto last = discounted ? lasting_discounted_payback(d, view(flows)) : lasting_payback(view(flows));
      double sum = 0;
      for (std::size_t k = 0; k < flows.size(); ++k) {
        sum += flows[k] * (discounted ? std::pow(1 + d, -static_cast<double>(k)) : 1.0);
        if (last.value && static_cast<double>(k) >= *last.value) CHECK(sum >= -1e-9);
      }
      CHECK(last.value.has_value() == (sum >= 0));
      if (!last.value) continue;
      REQUIRE(first.value.has_value());
      CHECK(*last.value >= *first.value - 1e-12);
      differ += *last.value > *first.value;
    }
  }
  CHECK(differ > 100);
}

TEST_CASE("timing: mid-year and start-of-year values move yearly flows, not the one at time 0") {
  const std::vector<double> flows{-1000, 300, 400, 500};
  double mid = -1000;
  double start = -1000;
  for (int k = 1; k <= 3; ++k) {
    mid += flows[static_cast<std::size_t>(k)] * std::pow(1.03, -(k - 0.5));
    start += flows[static_cast<std::size_t>(k)] * std::pow(1.03, -(k - 1));
  }
  CHECK(present_value(0.03, view(flows), Timing::mid_year) == doctest::Approx(mid).epsilon(1e-13));
  CHECK(present_value(0.03, view(flows), Timing::start_of_year) == doctest::Approx(start).epsilon(1e-13));
  CHECK(present_value(0.03, view(flows), Timing::end_of_year) == net_present_value(0.03, view(flows)));
  for (const Timing timing : {Timing::end_of_year, Timing::mid_year, Timing::start_of_year}) {
    CHECK(present_value(0.0, view(flows), timing) == 200.0);
    CHECK(present_value(0.03, view({}), timing) == 0.0);
  }
  CHECK_THROWS_AS((void)present_value(-1.0, view(flows), Timing::mid_year), errors::ValueOutOfRange);
}

TEST_CASE("equivalent annual value: the even amounts have the same present value") {
  for (const double rate : {-0.02, 0.0, 1e-9, 0.03, 0.5}) {
    for (const int years : {1, 7, 50}) {
      const double even = equivalent_annual_value(rate, 2212.42, years);
      std::vector<double> flows(static_cast<std::size_t>(years) + 1, even);
      flows[0] = 0;
      CHECK(net_present_value(rate, view(flows)) == doctest::Approx(2212.42).epsilon(1e-12));
    }
  }
  CHECK(uniform_capital_recovery(0.0, 4) == 0.25);
  CHECK_THROWS_AS((void)uniform_capital_recovery(0.03, 0), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)equivalent_annual_value(-1.0, 5.0, 3), errors::ValueOutOfRange);
}

TEST_CASE("levelised cost: charged for every unit it pays exactly for the costs") {
  const std::vector<double> costs{3850, 40, 40, 340, 40};
  const std::vector<double> heat{0, 2500, 2480, 2460, 2440};
  const auto each = levelised_cost(0.04, view(costs), view(heat));
  REQUIRE(each.value.has_value());
  std::vector<double> balance;
  for (std::size_t k = 0; k < costs.size(); ++k) balance.push_back(*each.value * heat[k] - costs[k]);
  CHECK(std::fabs(net_present_value(0.04, view(balance))) < 1e-9);
  CHECK(levelised_cost(100.0, 0.0).why_none == "no quantity is delivered");
  CHECK(levelised_cost(100.0, -2.0).why_none == "no quantity is delivered");
}

TEST_CASE("break-even: net savings are zero there") {
  // Net savings 16 p - 20 of a fuel price p.
  CHECK(*break_even(1.0, -4.0, 2.0, 12.0).value == doctest::Approx(1.25).epsilon(1e-14));
  // Installed cost c: net savings 3000 - c, asked outside the two values.
  CHECK(*break_even(1000.0, 2000.0, 2000.0, 1000.0).value == doctest::Approx(3000).epsilon(1e-14));
  CHECK(break_even(1.0, 7.0, 2.0, 7.0).why_none == "net savings do not change with the value");
  CHECK_THROWS_AS((void)break_even(1.0, 7.0, 1.0, 8.0), errors::Contradiction);
}

TEST_CASE("modified internal rate: none without payments or receipts; equals the rate of two flows") {
  CHECK(*modified_internal_rate_of_return(view({-100, 0, 121}), 0.05, 0.07).value ==
        doctest::Approx(0.1).epsilon(1e-13));
  CHECK(modified_internal_rate_of_return(view({100, 20}), 0.05, 0.07).why_none == "nothing is paid");
  CHECK(modified_internal_rate_of_return(view({-100, 0}), 0.05, 0.07).why_none == "nothing is received");
  CHECK(modified_internal_rate_of_return(view({}), 0.05, 0.07).why_none == "nothing is paid");
  CHECK_THROWS_AS((void)modified_internal_rate_of_return(view({-100, 50}), -1.0, 0.07), errors::ValueOutOfRange);
}

TEST_CASE("both number types agree") {
  std::mt19937_64 random(31);
  std::uniform_real_distribution<double> amount(-100, 400);
  for (int trial = 0; trial < 300; ++trial) {
    std::vector<double> flows{-2500};
    for (int year = 0; year < 20; ++year) flows.push_back(amount(random));
    const std::vector<Decimal> exact(flows.begin(), flows.end());
    const std::span<const Decimal> fine(exact);
    CHECK(present_value(0.03, view(flows), Timing::mid_year) ==
          doctest::Approx(money::to_double(present_value(Decimal(0.03), fine, Timing::mid_year))).epsilon(1e-11));
    CHECK(*modified_internal_rate_of_return(view(flows), 0.05, 0.04).value ==
          doctest::Approx(money::to_double(*modified_internal_rate_of_return(fine, Decimal(0.05), Decimal(0.04)).value))
              .epsilon(1e-9));
    const auto quick = lasting_payback(view(flows));
    const auto slow = lasting_payback(fine);
    REQUIRE(quick.value.has_value() == slow.value.has_value());
    if (quick.value) CHECK(*quick.value == doctest::Approx(money::to_double(*slow.value)).epsilon(1e-9));
  }
}
