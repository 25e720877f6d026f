// Income limits by household size against published rules and worked tables.
#include <array>

#include <doctest/doctest.h>

#include "warmledger/incentives/income.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

IncomeRules rules(double median_usd, LimitRounding rounding) {
  IncomeRules made;
  made.area_median_income_usd = median_usd;
  made.rounding = rounding;
  return made;
}

}  // namespace

TEST_CASE("household-size factors: the table of 12 CFR 1282.17 and 24 CFR 81.17") {
  // "1: 70, 2: 80, 3: 90, 4: 100, 5 or more: 100 % plus 8 % multiplied by the number of persons in excess of 4".
  constexpr std::array<double, 4> printed{0.70, 0.80, 0.90, 1.00};
  for (int persons = 1; persons <= 4; ++persons)
    CHECK(household_size_factor(persons) == printed[static_cast<std::size_t>(persons - 1)]);
  for (int persons = 5; persons <= 12; ++persons)
    CHECK(household_size_factor(persons) == doctest::Approx(1.00 + 0.08 * (persons - 4)).epsilon(1e-12));
  // Nine persons: 140 % of the four-person limit (the housing department's note on large families, secondary account).
  CHECK(household_size_factor(9) == doctest::Approx(1.40).epsilon(1e-12));
}

TEST_CASE("50 and 80 % limits on an illustrative four-person median of 81,700, rounded to 50 both ways (derived)") {
  static constexpr std::array<double, 8> half_nearest{28600, 32700, 36750, 40850, 44100, 47400, 50650, 53900};
  static constexpr std::array<double, 8> half_up{28600, 32700, 36800, 40850, 44150, 47400, 50700, 53950};
  static constexpr std::array<double, 8> eighty_nearest{45750, 52300, 58800, 65350, 70600, 75800, 81050, 86300};
  static constexpr std::array<double, 8> eighty_up{45800, 52300, 58850, 65400, 70600, 75850, 81050, 86300};
  const IncomeRules nearest = rules(81700, LimitRounding::nearest);
  const IncomeRules up = rules(81700, LimitRounding::up);
  for (int persons = 1; persons <= 8; ++persons) {
    const auto i = static_cast<std::size_t>(persons - 1);
    CAPTURE(persons);
    CHECK(income_limit_usd(nearest, 0.5, persons) == half_nearest[i]);
    CHECK(income_limit_usd(up, 0.5, persons) == half_up[i]);
    CHECK(income_limit_usd(nearest, 0.8, persons) == eighty_nearest[i]);
    CHECK(income_limit_usd(up, 0.8, persons) == eighty_up[i]);
  }
}

TEST_CASE("30, 60, 120 and 150 % limits, and ties decided in whole cents (derived)") {
  const IncomeRules nearest = rules(81700, LimitRounding::nearest);
  const IncomeRules up = rules(81700, LimitRounding::up);
  // Four persons: 24,510; 49,020; 98,040; 122,550.
  CHECK(income_limit_usd(nearest, 0.3, 4) == 24500);
  CHECK(income_limit_usd(up, 0.3, 4) == 24550);
  CHECK(income_limit_usd(nearest, 0.6, 4) == 49000);
  CHECK(income_limit_usd(up, 0.6, 4) == 49050);
  CHECK(income_limit_usd(nearest, 1.2, 4) == 98050);
  CHECK(income_limit_usd(up, 1.2, 4) == 98050);
  CHECK(income_limit_usd(nearest, 1.5, 4) == 122550);
  CHECK(income_limit_usd(up, 1.5, 4) == 122550);
  // One and eight persons: 17,157 and 32,353.20; 34,314 and 64,706.40.
  CHECK(income_limit_usd(nearest, 0.3, 1) == 17150);
  CHECK(income_limit_usd(up, 0.3, 1) == 17200);
  CHECK(income_limit_usd(nearest, 0.3, 8) == 32350);
  CHECK(income_limit_usd(up, 0.3, 8) == 32400);
  CHECK(income_limit_usd(nearest, 0.6, 1) == 34300);
  CHECK(income_limit_usd(up, 0.6, 8) == 64750);
  // A tie goes up: 50 % of 100,050 is 50,025. In binary, 0.7 x 100,000 x 0.55 would miss the multiple it is.
  CHECK(income_limit_usd(rules(100050, LimitRounding::nearest), 0.5, 4) == 50050);
  CHECK(income_limit_usd(rules(100000, LimitRounding::up), 0.55, 1) == 38500);
  CHECK(income_limit_usd(rules(100000, LimitRounding::up), 0.07, 4) == 7000);
}
