#include "warmledger/incentives/income.hpp"

#include <array>
#include <cmath>

#include "warmledger/errors/errors.hpp"

namespace warmledger::incentives {

namespace {

/// Household-size factor in hundredths. Source: 12 CFR 1282.17 and 24 CFR 81.17, which print 70, 80, 90, 100 and "100 %
/// plus 8 % multiplied by the number of persons in excess of 4"; income limits under 42 USC 1437a are made with the
/// same.
long size_percent(int persons) {
  errors::require_in_range("persons", persons, 1, 1000, "persons");
  static constexpr std::array<long, 8> percent{70, 80, 90, 100, 108, 116, 124, 132};
  return persons <= 8 ? percent.at(static_cast<std::size_t>(persons - 1)) : 132 + 8L * (persons - 8);
}

}  // namespace

double household_size_factor(int persons) {
  return static_cast<double>(size_percent(persons)) / 100.0;
}

double income_limit_usd(const IncomeRules& rules, double share, int persons) {
  errors::require_in_range("area_median_income_usd", rules.area_median_income_usd, 1, 1e7, "dollars");
  errors::require_in_range("share", share, 0, 100);
  errors::require_in_range("round_to_usd", rules.round_to_usd, 0, 10000, "dollars");
  // Whole numbers throughout, in units of 1e-6 cent: binary fractions would decide ties.
  const __int128 cents = std::llround(rules.area_median_income_usd * 100.0);
  const __int128 share_millionths = std::llround(share * 1e6);
  const __int128 exact = cents * share_millionths * size_percent(persons) / 100;  // cents x 1e6
  const __int128 step = static_cast<__int128>(rules.round_to_usd) * 100 * 1000000;
  if (step == 0) return static_cast<double>(exact) / 1e8;
  const __int128 steps = rules.rounding == LimitRounding::up ? (exact + step - 1) / step : (exact + step / 2) / step;
  return static_cast<double>(steps * rules.round_to_usd);
}

double income_share(const IncomeRules& rules, double yearly_income_usd, int persons) {
  errors::require_in_range("area_median_income_usd", rules.area_median_income_usd, 1, 1e7, "dollars");
  errors::require_in_range("yearly_income_usd", yearly_income_usd, 0, 1e12, "dollars");
  return yearly_income_usd / (rules.area_median_income_usd * household_size_factor(persons));
}

std::string income_tier(const IncomeRules& rules, double yearly_income_usd, int persons) {
  for (const IncomeTier& tier : rules.tiers) {
    const double limit = income_limit_usd(rules, tier.most_share, persons);
    if (yearly_income_usd < limit || (tier.includes_edge && yearly_income_usd == limit)) return tier.name;
  }
  return "above";
}

}  // namespace warmledger::incentives
