// The two number types agree over the whole suite of measures: amounts within a cent, rates within 1e-9.
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "warmledger/economics/internal_rate.hpp"
#include "warmledger/economics/more_measures.hpp"

using namespace warmledger::economics;
using warmledger::money::Decimal;
using warmledger::money::to_double;

namespace {

/// Every measure of one case, amounts and rates apart.
template <class N>
struct Suite {
  std::vector<N> amounts;
  std::vector<Measure<N>> rates;  ///< rates, ratios and years
  std::vector<N> all_rates;
};

template <class N>
Suite<N> suite_of(const std::vector<N>& flows, const N& rate, const N& other) {
  const std::span<const N> view(flows);
  const int years = static_cast<int>(flows.size()) - 1;
  Suite<N> s;
  const N value = net_present_value(rate, view);
  s.amounts = {value, present_value(rate, view, Timing::mid_year), present_value(rate, view, Timing::start_of_year),
               present_value(rate, view, Timing::monthly), equivalent_annual_value(rate, value, years)};
  const N invested = N(-flows[0]);
  const Measure<N> ratio = savings_to_investment(N(value + invested), invested);
  s.rates = {payback(view),
             discounted_payback(rate, view),
             lasting_payback(view),
             lasting_discounted_payback(rate, view),
             ratio,
             adjusted_internal_rate_of_return(rate, ratio, years),
             modified_internal_rate_of_return(view, rate, other),
             Measure<N>{monthly_rate(rate), {}},
             Measure<N>{uniform_present_value(rate, years), {}},
             Measure<N>{modified_uniform_present_value(rate, other, years), {}},
             break_even(N(1), value, N(2), N(value + invested))};
  s.all_rates = internal_rates(view).rates;
  return s;
}

}  // namespace

TEST_CASE("20,000 random flows: both number types give the same measures") {
  std::mt19937_64 random(20260901);
  // Whole cents, so that both types hold the same flows.
  std::uniform_int_distribution<int> cents(-20000, 60000);
  std::uniform_int_distribution<int> cost(1000, 400000);
  std::uniform_int_distribution<int> length(1, 5);
  std::uniform_int_distribution<int> basis_points(-800, 2500);
  for (int trial = 0; trial < 20000; ++trial) {
    std::vector<double> flows{-cost(random) / 128.0};
    for (int year = length(random); year > 0; --year) flows.push_back(cents(random) / 128.0);
    const double rate = basis_points(random) / 16384.0;
    const double other = basis_points(random) / 16384.0;
    const std::vector<Decimal> exact(flows.begin(), flows.end());
    const Suite<double> quick = suite_of(flows, rate, other);
    const Suite<Decimal> fine = suite_of(exact, Decimal(rate), Decimal(other));
    CAPTURE(trial);
    for (std::size_t k = 0; k < quick.amounts.size(); ++k)
      REQUIRE(std::fabs(quick.amounts[k] - to_double(fine.amounts[k])) < 0.005);
    for (std::size_t k = 0; k < quick.rates.size(); ++k) {
      CAPTURE(k);
      REQUIRE(quick.rates[k].value.has_value() == fine.rates[k].value.has_value());
      REQUIRE(quick.rates[k].why_none == fine.rates[k].why_none);
      if (!quick.rates[k].value) continue;
      const double expected = to_double(*fine.rates[k].value);
      REQUIRE(std::fabs(*quick.rates[k].value - expected) <= 1e-9 * std::max(1.0, std::fabs(expected)));
    }
    REQUIRE(quick.all_rates.size() == fine.all_rates.size());
    for (std::size_t k = 0; k < quick.all_rates.size(); ++k) {
      const double expected = to_double(fine.all_rates[k]);
      REQUIRE(std::fabs(quick.all_rates[k] - expected) <= 1e-9 * std::max(1.0, std::fabs(expected)));
    }
  }
}
