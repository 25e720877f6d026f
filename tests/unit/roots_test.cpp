#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "warmledger/economics/roots.hpp"

using namespace warmledger;
using namespace warmledger::economics;
using money::Decimal;

namespace {

/// Scaled as the roots want it: the largest size is 1.
std::vector<double> scaled(std::vector<double> c) {
  double largest = 0;
  for (const double number : c) largest = std::max(largest, std::fabs(number));
  for (double& number : c) number /= largest;
  return c;
}

std::vector<Decimal> fine(const std::vector<double>& c) {
  return {c.begin(), c.end()};
}

/// Coefficients, lowest first, of the product of (x - root).
std::vector<double> with_roots(const std::vector<double>& roots) {
  std::vector<double> c{1};
  for (const double root : roots) {
    c.push_back(0);
    for (std::size_t k = c.size() - 1; k > 0; --k) c[k] = c[k - 1] - root * c[k];
    c[0] *= -root;
  }
  return scaled(c);
}

/// What only_root found is the one root that there is, to the last digits.
void check_only(const std::vector<double>& c) {
  const auto only = only_root(c);
  if (!only) return;
  CAPTURE(c.size());
  const auto all = every_root(fine(c), Decimal("1e-44"));
  REQUIRE(all);
  REQUIRE(all->size() == 1);
  const Decimal exact = all->front();
  CHECK(money::to_double(abs(Decimal(*only) - exact)) <= 4.5e-16 * std::fabs(money::to_double(exact)));
  const auto slow = every_root(c, 0.0);
  if (slow) {
    REQUIRE(slow->size() == 1);
    CHECK(slow->front() == doctest::Approx(*only).epsilon(1e-9));
  }
}

}  // namespace

TEST_CASE("of money paid back at the end the only root is found, whatever happens in between") {
  std::mt19937_64 random(20);
  std::uniform_real_distribution<double> share(0, 1);
  std::uniform_int_distribution<int> length(2, 300);
  int shown = 0;
  constexpr int trials = 400;
  for (int trial = 0; trial < trials; ++trial) {
    std::vector<double> c{-500 - 5000 * share(random)};
    for (int k = length(random); k > 0; --k)
      c.push_back(60 * share(random) * std::pow(1.002, k) - (share(random) < 0.01 ? 400 : 0));
    c.back() = std::fabs(c.back()) + 1;
    c = scaled(c);
    check_only(c);
    if (!only_root(c)) continue;
    ++shown;
    if (trial % 20 != 0) continue;
    // In 50 digits, backwards, and with the other sign it is the same root.
    const double y = *only_root(c);
    CHECK(money::to_double(*only_root(fine(c))) == doctest::Approx(y).epsilon(1e-15));
    std::vector<double> back(c.rbegin(), c.rend());
    if (const auto other = only_root(back)) CHECK(*other == doctest::Approx(-y).epsilon(1e-15));
    for (double& number : c) number = -number;
    CHECK(*only_root(c) == y);
  }
  CHECK(shown > trials / 2);
}

TEST_CASE("any flows: what is shown to be the only root is the only one") {
  std::mt19937_64 random(21);
  std::uniform_real_distribution<double> amount(-1, 1);
  std::uniform_int_distribution<int> length(2, 40);
  std::uniform_int_distribution<int> decade(-150, 150);
  int shown = 0;
  for (int trial = 0; trial < 3000; ++trial) {
    std::vector<double> c;
    // Every third time sizes of three hundred decades side by side.
    for (int k = length(random); k > 0; --k)
      c.push_back(trial % 3 == 0 ? amount(random) * std::pow(10.0, decade(random)) : amount(random));
    if (std::none_of(c.begin(), c.end(), [&](double number) { return (number > 0) != (c[0] > 0); })) continue;
    c = scaled(c);
    if (c.front() == 0 || c.back() == 0) continue;
    shown += only_root(c).has_value();
    check_only(c);
  }
  CHECK(shown > 150);
}

TEST_CASE("several roots, however near to each other, are never taken for one") {
  for (const double apart : {0.5, 1e-2, 1e-4, 1e-6, 1e-8, 0.0}) {
    CAPTURE(apart);
    CHECK_FALSE(only_root(with_roots({0.9, 0.9 + apart, 0.9 + 2 * apart})));
    CHECK_FALSE(only_root(with_roots({0.9, 0.9 + apart})));
    CHECK_FALSE(only_root(with_roots({1.1, 0.3, 1.1 + apart})));
    // Beside two roots below 0, which are no rates, there is one.
    CHECK(*only_root(with_roots({0.9, -0.5, -0.5 - apart})) == doctest::Approx(std::log(0.9)));
  }
}

TEST_CASE("roots far from 1 and at 1") {
  CHECK(*only_root(std::vector<double>{-1, 1}) == 0.0);
  CHECK(*only_root(std::vector<double>{-1, 0, 0, 1}) == 0.0);
  CHECK(*only_root(std::vector<double>{-1 + 1e-12, 1}) == doctest::Approx(std::log1p(1 - 1e-12 - 1)).epsilon(1e-15));
  for (const double tiny : {1e-3, 1e-10, 1e-100, 1e-300}) {
    check_only({-1, tiny});
    check_only({-tiny, 1});
    check_only({-tiny, 1e-5, 1});
  }
}
