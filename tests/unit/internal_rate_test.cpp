#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "warmledger/economics/internal_rate.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using namespace warmledger::economics;
using money::Decimal;

namespace {

InternalRates<double> rates_of(const std::vector<double>& flows) {
  return internal_rates(std::span<const double>(flows));
}

InternalRates<Decimal> rates_of(const std::vector<Decimal>& flows) {
  return internal_rates(std::span<const Decimal>(flows));
}

/// Flows, most negative first, whose net present value is zero exactly at the given rates: the product of
/// (x (1 + r) - 1) over the rates, x = 1 / (1 + any rate).
std::vector<Decimal> flows_with(const std::vector<Decimal>& rates) {
  std::vector<Decimal> flows{Decimal(1)};
  for (const Decimal& rate : rates) {
    std::vector<Decimal> next(flows.size() + 1, Decimal(0));
    for (std::size_t k = 0; k < flows.size(); ++k) {
      next[k] -= flows[k];
      next[k + 1] += flows[k] * (Decimal(1) + rate);
    }
    flows = next;
  }
  return flows;
}

/// Sizes of the discounted flows added up: the scale of rounding in a net present value.
double scale_at(double rate, const std::vector<double>& flows) {
  double sum = 0;
  for (std::size_t k = 0; k < flows.size(); ++k)
    sum += std::fabs(flows[k]) * std::pow(1 + rate, -static_cast<double>(k));
  return sum;
}

}  // namespace

TEST_CASE("rates put back make the net present value zero, and no sign change of it is missed") {
  std::mt19937_64 random(17);
  std::uniform_real_distribution<double> amount(-1000, 1000);
  std::uniform_int_distribution<int> length(2, 40);
  int several = 0;
  int none = 0;
  for (int trial = 0; trial < 1500; ++trial) {
    std::vector<double> flows;
    for (int k = length(random); k > 0; --k) flows.push_back(amount(random));
    const auto found = rates_of(flows);
    several += found.rates.size() > 1;
    none += found.rates.empty();
    CHECK(static_cast<int>(found.rates.size()) <= found.sign_changes);
    // Descartes: the count of simple roots differs from the sign changes by an even number.
    CHECK((found.sign_changes - static_cast<int>(found.rates.size())) % 2 == 0);
    CHECK(std::is_sorted(found.rates.begin(), found.rates.end()));
    for (const double rate : found.rates) {
      REQUIRE(rate > -1);
      CHECK(std::fabs(net_present_value(rate, std::span<const double>(flows))) <= 1e-11 * scale_at(rate, flows));
    }
    // An independent scan: between two sample rates with opposite values an odd number of rates must lie.
    double before = -0.95;
    for (double rate = -0.90; rate < 30; rate = rate + 0.02 * (1.5 + rate)) {
      const double a = net_present_value(before, std::span<const double>(flows));
      const double b = net_present_value(rate, std::span<const double>(flows));
      const auto inside =
          std::count_if(found.rates.begin(), found.rates.end(), [&](double r) { return r > before && r <= rate; });
      CHECK(((a < 0) != (b < 0)) == (inside % 2 == 1));
      before = rate;
    }
  }
  CHECK(several > 100);
  CHECK(none > 100);
}

TEST_CASE("every rate of flows built from known rates is found") {
  std::mt19937_64 random(19);
  std::uniform_int_distribution<int> permille(-800, 3000);
  std::uniform_int_distribution<int> count(1, 6);
  for (int trial = 0; trial < 60; ++trial) {
    std::vector<Decimal> rates;
    for (int k = count(random); k > 0; --k) rates.push_back(Decimal(Decimal(permille(random)) / 1000));
    std::sort(rates.begin(), rates.end());
    rates.erase(std::unique(rates.begin(), rates.end()), rates.end());
    const auto flows = flows_with(rates);
    const auto found = rates_of(flows);
    REQUIRE(found.rates.size() == rates.size());
    for (std::size_t k = 0; k < rates.size(); ++k) {
      CHECK(std::fabs(money::to_double(Decimal(found.rates[k] - rates[k]))) <= 1e-25);
    }
    // The same flows rounded to double: as many rates when they stand apart.
    bool apart = true;
    for (std::size_t k = 1; k < rates.size(); ++k) apart = apart && rates[k] - rates[k - 1] > Decimal("0.25");
    if (!apart || rates.size() > 4) continue;
    std::vector<double> plain;
    for (const Decimal& flow : flows) plain.push_back(money::to_double(flow));
    const auto quick = rates_of(plain);
    REQUIRE(quick.rates.size() == rates.size());
    for (std::size_t k = 0; k < rates.size(); ++k) {
      CHECK(quick.rates[k] == doctest::Approx(money::to_double(rates[k])).epsilon(1e-7));
    }
  }
}

TEST_CASE("a rate where the value only touches zero stands once") {
  // -100 (1 - 1.1 x)^2
  CHECK(rates_of(std::vector<double>{-100, 220, -121}).rates.size() == 1);
  CHECK(rates_of(std::vector<double>{-100, 220, -121}).rates[0] == doctest::Approx(0.1).epsilon(1e-12));
  CHECK(rates_of(std::vector<double>{-100, 220, -121}).statement.empty());
  // 1144.9 is no binary number: still the same rate, within the rounding of the flows.
  const auto inexact = rates_of(std::vector<double>{-1000, 2140, -1144.9});
  REQUIRE(inexact.rates.size() == 1);
  CHECK(inexact.rates[0] == doctest::Approx(0.07).epsilon(1e-9));
  // Touching and crossing together, a triple rate, and two pairs.
  const auto check_built = [](const std::vector<Decimal>& built, const std::vector<double>& expected) {
    const auto found = rates_of(flows_with(built));
    REQUIRE(found.rates.size() == expected.size());
    for (std::size_t k = 0; k < expected.size(); ++k) {
      CHECK(money::to_double(found.rates[k]) == doctest::Approx(expected[k]).epsilon(1e-12));
    }
  };
  const Decimal low("0.1");
  const Decimal high("0.5");
  check_built({low, low, high}, {0.1, 0.5});
  check_built({low, high, high}, {0.1, 0.5});
  check_built({low, low, low}, {0.1});
  check_built({low, low, high, high}, {0.1, 0.5});
}

TEST_CASE("rates so near each other that double cannot tell are told apart by 50 digits") {
  // Flows are exact in double: -1, 2 + d, -(1 + d), rates 0 and d = 2^-22.
  const double d = std::ldexp(1.0, -22);
  const auto found = rates_of(std::vector<double>{-1, 2 + d, -(1 + d)});
  REQUIRE(found.rates.size() == 2);
  CHECK(std::fabs(found.rates[0]) <= 1e-15);
  CHECK(found.rates[1] == doctest::Approx(d).epsilon(1e-9));
}

TEST_CASE("50 years of months, zeros at the ends, extreme rates and sizes") {
  std::vector<double> flows(601, 12.5);
  flows[0] = -3850;
  flows[120] -= 400;
  flows[300] -= 3850;
  const auto found = rates_of(flows);
  CHECK(found.sign_changes == 5);
  for (const double rate : found.rates) {
    CHECK(std::fabs(net_present_value(rate, std::span<const double>(flows))) <= 1e-11 * scale_at(rate, flows));
  }
  REQUIRE_FALSE(found.rates.empty());
  CHECK(rates_of(std::vector<double>{0, 0, -100, 110, 0}).rates == rates_of(std::vector<double>{-100, 110}).rates);
  CHECK(rates_of(std::vector<double>{-100, 110}).rates[0] == doctest::Approx(0.1).epsilon(1e-14));
  CHECK(rates_of(std::vector<double>{-100, 100}).rates[0] == 0.0);
  CHECK(rates_of(std::vector<double>{-1e12, 1}).rates[0] == doctest::Approx(1e-12 - 1).epsilon(1e-15));
  CHECK(rates_of(std::vector<double>{-0.01, 1e12}).rates[0] == doctest::Approx(1e14).epsilon(1e-12));
  // Signs that change every month.
  std::vector<double> restless;
  for (int k = 0; k < 361; ++k) restless.push_back(k % 2 == 0 ? -100.0 - k : 101.0 + k);
  for (const double rate : rates_of(restless).rates) {
    CHECK(std::fabs(net_present_value(rate, std::span<const double>(restless))) <= 1e-10 * scale_at(rate, restless));
  }
  CHECK(rates_of(restless).sign_changes == 360);
}

TEST_CASE("both number types agree to 1e-9") {
  std::mt19937_64 random(23);
  std::uniform_int_distribution<int> amount(-500, 700);
  for (int trial = 0; trial < 60; ++trial) {
    std::vector<double> flows{-4000};
    for (int year = 0; year < 30; ++year) flows.push_back(amount(random));
    const std::vector<Decimal> exact(flows.begin(), flows.end());
    const auto quick = rates_of(flows);
    const auto fine = rates_of(exact);
    REQUIRE(quick.rates.size() == fine.rates.size());
    CHECK(quick.statement == fine.statement);
    for (std::size_t k = 0; k < quick.rates.size(); ++k) {
      CHECK(std::fabs(quick.rates[k] - money::to_double(fine.rates[k])) <= 1e-9);
    }
  }
}

TEST_CASE("no rate is none with a reason; a flow that is no number is refused by place") {
  CHECK(rates_of(std::vector<double>{}).statement == "there are no flows");
  CHECK(rates_of(std::vector<double>{0, 0}).statement == "all flows are zero");
  CHECK(rates_of(std::vector<double>{-1, -2}).statement ==
        "all flows have one sign: nothing is both paid and received");
  CHECK_THROWS_WITH_AS((void)rates_of(std::vector<double>{-1, std::numeric_limits<double>::infinity()}),
                       "flows[1]: infinity is not an amount; allowed: finite amounts", errors::ValueOutOfRange);
}
