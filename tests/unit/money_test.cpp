#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <string>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/whole_cents.hpp"

using namespace warmledger;
using money::Decimal;
using money::Rounding;

TEST_CASE_TEMPLATE("the rounding rules differ in ties only, and mirror negative amounts", N, double, Decimal) {
  const auto cents = [](const char* text, Rounding rule) {
    return money::to_double(money::round_cents(N(Decimal(text)), rule));
  };
  CHECK(cents("1.005", Rounding::half_up) == 1.01);  // a double holds 1.00499999999999989...
  CHECK(cents("1.015", Rounding::half_up) == 1.02);
  CHECK(cents("-1.005", Rounding::half_up) == -1.01);
  CHECK(cents("1.005", Rounding::half_even) == 1.00);
  CHECK(cents("1.015", Rounding::half_even) == 1.02);
  CHECK(cents("1.0051", Rounding::half_even) == 1.01);
  CHECK(cents("1.001", Rounding::up) == 1.01);
  CHECK(cents("1.00", Rounding::up) == 1.00);
  CHECK(cents("-1.001", Rounding::up) == -1.01);
  CHECK(cents("1.009", Rounding::down) == 1.00);
  CHECK(cents("0.29", Rounding::down) == 0.29);  // 0.29 * 100 is 28.999999999999996 in a double
  CHECK(cents("0", Rounding::up) == 0.0);
}

TEST_CASE("whole cents of every size and rule are those of std::floor") {
  std::mt19937_64 random(35);
  std::uniform_real_distribution<double> decade(-9, 18);
  for (int k = 0; k < 20000; ++k) {
    double cents = std::pow(10, decade(random));
    if (k % 4 == 0) cents = std::round(cents) + 0.5;
    const double whole = std::floor(cents);
    const double up = cents - whole > 1e-7 ? whole + 1 : whole;
    CHECK(money::round_whole_cents(cents) == std::floor(cents + (0.5 + 1e-7)));
    CHECK(money::round_whole_cents(-cents) == -std::floor(cents + (0.5 + 1e-7)));
    CHECK(money::round_whole_cents(cents, Rounding::down) == std::floor(cents + 1e-7));
    CHECK(money::round_whole_cents(cents, Rounding::up) == up);
  }
  CHECK(money::round_whole_cents(0.0) == 0.0);
  CHECK(money::round_whole_cents(1.7e308) == 1.7e308);
  CHECK_THROWS_AS((void)money::round_whole_cents(std::numeric_limits<double>::infinity()), errors::ValueOutOfRange);
}

TEST_CASE("both number types round the same amount to the same cents") {
  std::mt19937_64 random(20260901);
  std::uniform_int_distribution<long long> thousandths(-5000000000LL, 5000000000LL);
  for (int k = 0; k < 20000; ++k) {
    const long long mills = thousandths(random);
    const Decimal exact = Decimal(mills) / 1000;
    for (const Rounding rule : {Rounding::half_up, Rounding::half_even, Rounding::up, Rounding::down}) {
      CHECK(money::round_cents(static_cast<double>(mills) / 1000.0, rule) ==
            money::to_double(money::round_cents(exact, rule)));
    }
  }
}

TEST_CASE("an amount that is not a number is refused") {
  CHECK_THROWS_WITH_AS((void)money::round_cents(std::nan("")),
                       "amount: NaN is not a number of dollars; allowed: finite amounts", errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)money::round_cents(std::numeric_limits<double>::infinity()), errors::ValueOutOfRange);
}

TEST_CASE("dollars group thousands and keep the sign in front") {
  CHECK(money::dollars(1234.5) == "$1,234.50");
  CHECK(money::dollars(-0.5) == "-$0.50");
  CHECK(money::dollars(999.995) == "$1,000.00");
  CHECK(money::dollars(1234567.0) == "$1,234,567.00");
  CHECK(money::dollars(0) == "$0.00");
  CHECK(money::whole_dollars(-1499.5) == "-$1,500");
  CHECK(money::whole_dollars(12) == "$12");
}

TEST_CASE("amounts of every size are spelled with the digits that a general formatter gives") {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> power(-3, 17);
  const auto plain = [](std::string text) {
    text.erase(std::remove(text.begin(), text.end(), ','), text.end());
    text.erase(text.find('$'), 1);
    return text;
  };
  for (int k = 0; k < 20000; ++k) {
    const double amount = (k % 2 == 0 ? 1 : -1) * std::pow(10.0, power(random));
    CHECK(plain(money::dollars(amount)) == fmt::format("{:.2f}", money::round_cents(amount) + 0.0));
    CHECK(plain(money::whole_dollars(amount)) == fmt::format("{:.0f}", std::round(amount) + 0.0));
  }
}
