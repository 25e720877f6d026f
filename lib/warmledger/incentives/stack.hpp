// Stack: which rules apply to a household's project, in which order, and what each pays when.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "warmledger/incentives/income.hpp"
#include "warmledger/incentives/rule.hpp"

namespace warmledger::incentives {

/// What the rules need to know of a household and its project.
struct Claim {
  dates::Date install_date{};
  double installed_cost_usd = 0;
  double collector_area_m2 = 0;      ///< gross
  double first_year_saving_kwh = 0;  ///< purchased energy saved in the first year
  double yearly_income_usd = 0;
  int occupants = 1;
  Tenure tenure = Tenure::owner;
  prices::Fuel heater_fuel = prices::Fuel::electricity;
  double tax_liability_usd = 0;  ///< each year, before these credits
};

/// Why a rule paid or did not.
enum class Verdict {
  applied,
  ended,      ///< valid_to is before the install date
  not_begun,  ///< valid_from is after it
  income_too_high,
  income_too_low,
  wrong_tenure,
  wrong_fuel,
  cost_covered,     ///< the incentives before it already pay the whole cost
  no_tax_to_credit  ///< a credit that is not refundable and finds no liability, or none that is left
};

struct Payment {
  dates::Date date{};
  double usd = 0;
};

/// What became of one rule. Amounts are whole cents.
struct Outcome {
  std::size_t rule = 0;  ///< index into Stack::rules()
  Verdict verdict = Verdict::applied;
  double base_usd = 0;           ///< what a share was taken of
  double computed_usd = 0;       ///< by the formula and cap
  double amount_usd = 0;         ///< what is paid in all: less than computed where liability or cost ran out
  double limit_usd = 0;          ///< income_too_*: the limit that was not met
  bool limited_by_cost = false;  ///< amount_usd is below computed_usd because the cost was already paid
  std::vector<Payment> payments;
};

/// Rules in the order in which they must be worked out: a rule comes after those that reduce its base; otherwise
/// rebates before credits, credits that can be carried forward least before others, then by id, so the order in a file
/// never changes a result.
class Stack {
 public:
  Stack() = default;
  /// Throws the error of the first rule that check() refuses, DuplicateName for an id that stands twice, UnknownName
  /// for a base_less id that is not there, and Contradiction naming the rules when they reduce each other in a circle.
  explicit Stack(std::vector<Rule> rules);

  [[nodiscard]] const std::vector<Rule>& rules() const noexcept { return rules_; }

  /// Works all rules out, in working order. The sum of all amounts never exceeds the installed cost. Nonrefundable
  /// credits, whoever gives them, share one yearly tax liability (a simplification), the earlier ones first; what is
  /// left is carried forward as each allows, at the same liability each year. Not tax advice.
  void work_out(const Claim& claim, const IncomeRules& income, std::vector<Outcome>& outcomes) const;
  [[nodiscard]] std::vector<Outcome> work_out(const Claim& claim, const IncomeRules& income) const;

  /// One sentence: what a rule paid and why, or the first condition that failed with the household's value and the one
  /// needed.
  [[nodiscard]] std::string explain(const Outcome& outcome, const Claim& claim) const;

 private:
  std::vector<Rule> rules_;                     // in working order
  std::vector<std::vector<std::size_t>> less_;  // for each rule: indices whose amounts come off its base
};

}  // namespace warmledger::incentives
