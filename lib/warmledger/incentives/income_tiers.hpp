// Income tiers by law: what one program calls moderate income another calls low. The definitions stand side by side in
// data/income_tiers.csv; this says in which tier of each a household falls, and by which limit.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/incentives/income.hpp"

namespace warmledger::incentives {

/// What an income is compared with.
enum class IncomeMeasure {
  area_median_by_size,   ///< area median income, adjusted for the household's size and rounded as the program says
  area_median_family,    ///< area median family income, the same for every size, not rounded
  state_median_by_size,  ///< state median income of four persons, adjusted by 45 CFR 96.85, not rounded
  poverty_guideline      ///< federal poverty guideline for the household's size
};

[[nodiscard]] std::string_view name_of(IncomeMeasure measure);
[[nodiscard]] IncomeMeasure income_measure_named(std::string_view name);  ///< throws UnknownName

/// One line of a definition: incomes from `least_share` to `most_share` of a measure have this tier. Lines of a
/// definition stand from the lowest tier up; the first that fits decides. Two lines of the same tier: either is enough.
struct TierLine {
  std::string definition;  ///< short name of the definition, shared by its lines
  std::string title;       ///< name for people
  std::string tier;        ///< the definition's own word
  IncomeMeasure measure = IncomeMeasure::area_median_by_size;
  std::optional<double> least_share;  ///< empty: from 0
  bool least_included = true;
  std::optional<double> most_share;  ///< empty: no upper end
  bool most_included = true;
  bool at_least_poverty =
      false;  ///< the upper limit is not below the poverty guideline, nor above that of the next line
  std::string source;
};

/// Where a household stands in one definition.
struct TierFinding {
  std::string definition;
  std::string title;
  std::string tier;                 ///< "above" where no line reaches; "not known" where what it takes is
  std::optional<double> least_usd;  ///< incomes from here
  std::optional<double> most_usd;   ///< to here are in the tier; empty: no end, or not known
  std::string reason;               ///< one sentence
  std::string source;
};

/// Household-size factor of 45 CFR 96.85 (secondary account): 52, 68, 84, 100, 116, 132 % for 1 to 6 persons, then 3 %
/// for each further.
[[nodiscard]] double state_median_size_factor(int persons);

/// The highest income of a line, dollars a year; empty where it has no upper end or what it is compared with is not
/// known. `next` is the line above it of the same definition, for at_least_poverty.
[[nodiscard]] std::optional<double> line_limit_usd(const TierLine& line, const TierLine* next, const IncomeRules& rules,
                                                   int persons);

/// One finding for each definition, in the order in which the definitions first stand. `rules.poverty` and
/// `rules.state_median_income_usd` may be empty: then nothing is guessed. Throws ValueOutOfRange for an
/// income below 0 or fewer than 1 person.
[[nodiscard]] std::vector<TierFinding> find_tiers(const std::vector<TierLine>& lines, const IncomeRules& rules,
                                                  double yearly_income_usd, int persons);

}  // namespace warmledger::incentives
