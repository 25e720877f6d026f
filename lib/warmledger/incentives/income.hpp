// Income: a household's income against the area median for its size.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "warmledger/incentives/poverty.hpp"

namespace warmledger::incentives {

/// Federal household-size factor on the four-person limit: 0.70, 0.80, 0.90, 1.00, 1.08, 1.16, 1.24, 1.32 and 0.08
/// more for each further person (12 CFR 1282.17 and 24 CFR 81.17; the practice of the limits under 42 USC 1437a).
[[nodiscard]] double household_size_factor(int persons);

enum class LimitRounding { nearest, up };

struct IncomeTier {
  std::string name;           ///< "low", "moderate", ... the program's own words
  double most_share = 0;      ///< of the area median income for the size: at most
  bool includes_edge = true;  ///< whether exactly that share belongs to the tier
};

struct IncomeRules {
  double area_median_income_usd = 0;  ///< of a four-person family
  int round_to_usd = 50;              ///< published limits are multiples of this
  LimitRounding rounding = LimitRounding::nearest;
  std::vector<IncomeTier> tiers;  ///< rising shares; incomes above the last are "above"
  std::string source;
  std::optional<double> state_median_income_usd;  ///< of four persons; empty: not known
  std::optional<PovertyGuideline> poverty;        ///< that holds on the install date; empty: not known
};

/// Income limit at `share` of the area median for `persons`, rounded as the rules say. In whole cents throughout, so
/// that a tie is a tie.
[[nodiscard]] double income_limit_usd(const IncomeRules& rules, double share, int persons);
/// Income over the size-adjusted, unrounded area median.
[[nodiscard]] double income_share(const IncomeRules& rules, double yearly_income_usd, int persons);
/// Name of the first tier whose limit the income does not exceed; "above" if none.
[[nodiscard]] std::string income_tier(const IncomeRules& rules, double yearly_income_usd, int persons);

}  // namespace warmledger::incentives
