// Stack: which rules apply to a household's project, in which order, and what each pays when. Not tax advice.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <boost/container/small_vector.hpp>

#include "warmledger/incentives/income.hpp"
#include "warmledger/incentives/pool.hpp"
#include "warmledger/incentives/rule.hpp"
#include "warmledger/incentives/tax.hpp"

namespace warmledger::incentives {

/// What the rules need to know of a household and its project.
struct Claim {
  dates::Date install_date{};  ///< the installation is completed
  double installed_cost_usd = 0;
  double collector_area_m2 = 0;      ///< gross
  double first_year_saving_kwh = 0;  ///< purchased energy saved in the first year
  double yearly_income_usd = 0;
  int occupants = 1;
  Tenure tenure = Tenure::owner;
  prices::Fuel heater_fuel = prices::Fuel::electricity;
  double tax_liability_usd = 0;  ///< federal, each year, before these credits

  std::vector<double> yearly_tax_liability_usd;       ///< federal, of the install year and on; the last holds on
  std::optional<double> state_tax_liability_usd;      ///< each year; empty: not known
  std::optional<double> local_tax_liability_usd;      ///< each year; empty: not known
  std::array<bool, tax_count> liability_estimated{};  ///< by Tax
  const TaxTable* federal_table = nullptr;  ///< for the worth of deductions and the tax on taxable money; may be absent
  FilingStatus filing_status = FilingStatus::single;
  bool itemizes = false;               ///< deducts state and local taxes from the federal income
  double material_usd = 0;             ///< part of the installed cost, with sales tax
  double own_labor_usd = 0;            ///< part of the installed cost that is the owner's own labor: never a base
  double ineligible_cost_usd = 0;      ///< part that no incentive counts: a pool loop, ordinary roofing
  double home_share = 1;               ///< share of use as a home; the rest is business
  double first_year_saving_therm = 0;  ///< purchased fuel saved in the first year; 0 of an electric heater
  double solar_share = 1;              ///< of the energy used for the hot water
  bool certified = false;
  Installer installer = Installer::contractor;
  bool new_home = false;
  std::optional<dates::Date> first_use_date;          ///< of a new home
  std::optional<dates::Date> placed_in_service_date;  ///< empty: the install date
  std::optional<dates::Date> application_date;        ///< empty: the install date
  std::optional<dates::Date> payment_date;            ///< empty: the install date
  double yearly_discount_rate = 0;                    ///< by which combinations that exclude each other are compared
  std::vector<double> received_before_usd;  ///< of each rule of Stack::rules(), by earlier claims; empty: nothing
  AssistanceSet assistance;                 ///< programs that the household is already in
  std::uint64_t closed_pools = 0;           ///< bit i: pool i has no money left for this household
  std::vector<char> withdrawn;  ///< of each rule of Stack::rules(): 1 for one that is gone in a what-if; empty: none
};

/// Why a rule paid or did not.
enum class Verdict {
  applied,
  ended,            ///< valid_to is before the date that decides
  not_begun,        ///< valid_from is after it
  income_too_high,  ///< of the area median
  income_too_low,
  wrong_tenure,
  wrong_fuel,
  cost_covered,      ///< the incentives before it already pay the whole cost
  no_tax_to_credit,  ///< a credit that is not refundable and finds no liability, or none that is left
  poverty_too_high,  ///< income above a multiple of the poverty guideline
  poverty_too_low,
  income_usd_too_high,  ///< income above a limit in dollars
  income_usd_too_low,
  wrong_filing_status,
  wrong_installer,
  too_little_sun,
  not_certified,
  new_home,
  poverty_unknown,    ///< a multiple of the poverty guideline decides, and no guideline is known
  liability_unknown,  ///< the state's or local income tax is not known
  tax_rate_unknown,   ///< of an exemption
  excluded,           ///< cannot be had beside another, which is better for the household
  waiting,            ///< its pool has no money left for this household
  withdrawn           ///< taken as gone, in a what-if
};

struct Payment {
  dates::Date date{};
  double usd = 0;
};
using Payments = boost::container::small_vector<Payment, 3>;

inline constexpr std::size_t no_rule = static_cast<std::size_t>(-1);

/// What became of one rule. Amounts are whole cents.
struct Outcome {
  std::size_t rule = 0;  ///< index into Stack::rules()
  Verdict verdict = Verdict::applied;
  double base_usd = 0;           ///< what a share was taken of
  double computed_usd = 0;       ///< by the formula and caps
  double amount_usd = 0;         ///< what is paid in all: less than computed where liability or cost ran out
  double limit_usd = 0;          ///< *_too_high, *_too_low: the limit that was not met
  bool limited_by_cost = false;  ///< amount_usd is below computed_usd because the cost was already paid
  Payments payments;
  double tax_usd = 0;           ///< income tax that this money brings with it, in all
  Payments taxes;               ///< the same, dated; positive
  double avoided_usd_year = 0;  ///< property_tax_exemption: tax that is not charged, in dollars of the install date
  double lapsed_usd = 0;        ///< of a credit: what found no tax in time
  std::size_t other = no_rule;  ///< excluded: the rule it cannot be had beside, if one was taken in its place
  double less_usd = 0;          ///< excluded: by how much the best combination with it is worth less
};

/// A year of a credit or deduction, for the tax view.
struct TaxLine {
  int year = 0;  ///< tax year
  Tax tax = Tax::federal;
  std::size_t rule = 0;
  double liability_usd = 0;  ///< left for this rule, by the rules before it
  double available_usd = 0;  ///< earned in the year or carried into it
  double used_usd = 0;
  double carried_usd = 0;  ///< to the next year
  double lapsed_usd = 0;
};

/// Store of one thread for work_out: no memory is taken for a rule once it has grown.
struct Work {
  std::vector<Verdict> verdicts;
  std::vector<double> limits;
  std::vector<std::size_t> contested;  ///< eligible rules that exclude, or are excluded by, an eligible one
  std::vector<double> best_with;       ///< of each contested rule: the best value of a combination that has it
  std::vector<char> selected;          ///< by rule
  std::vector<char> best_selected;
  std::vector<Outcome> trial;
  std::array<std::vector<double>, tax_count> used_liability;  ///< by year after the first
};

/// Rules in the order in which they must be worked out: a rule comes after those that reduce its base; otherwise what
/// is no tax matter first, then deductions, then credits, those that can be carried forward least before others, then
/// by id, so the order in a file never changes a result.
class Stack {
 public:
  Stack() = default;
  /// Throws the error of the first rule that check() refuses, DuplicateName for an id that stands twice, UnknownName
  /// for an id or pool that is not there, and Contradiction naming the rules when they reduce each other in a circle
  /// or exclude each other in more ways than can be tried (100,000).
  explicit Stack(std::vector<Rule> rules, TaxRules taxes = {}, std::span<const Pool> pools = {});

  [[nodiscard]] const std::vector<Rule>& rules() const noexcept { return rules_; }
  [[nodiscard]] const TaxRules& taxes() const noexcept { return taxes_; }
  /// Index of the rule's pool, or no_rule.
  [[nodiscard]] std::size_t pool_of(std::size_t rule) const { return pool_of_.at(rule); }

  /// Works all rules out, in working order. The sum of all amounts never exceeds the installed cost. Where rules
  /// exclude each other, the combination that is worth most to the household is taken (payments less the income tax on
  /// them, at claim.yearly_discount_rate); of equals, the one with the rules that come first. Federal, state and local
  /// liabilities are separate; the credits of each share it, the earlier ones first, at the same liability each year
  /// unless the claim says otherwise.
  void work_out(const Claim& claim, const IncomeRules& income, std::vector<Outcome>& outcomes, Work& work) const;
  void work_out(const Claim& claim, const IncomeRules& income, std::vector<Outcome>& outcomes) const;
  [[nodiscard]] std::vector<Outcome> work_out(const Claim& claim, const IncomeRules& income) const;

  /// Year by year, what each credit and deduction of `outcomes` finds, uses, carries and loses.
  [[nodiscard]] std::vector<TaxLine> tax_years(const Claim& claim, const IncomeRules& income,
                                               std::span<const Outcome> outcomes) const;

  /// What one chosen combination is worth to the household; `selected` by rule. For tests by brute force.
  [[nodiscard]] double value_of(const Claim& claim, const IncomeRules& income, std::span<const char> selected) const;
  [[nodiscard]] bool exclude_each_other(std::size_t a, std::size_t b) const;

  /// One sentence: what a rule paid and why, or the first condition that failed with the household's value and the one
  /// needed.
  [[nodiscard]] std::string explain(const Outcome& outcome, const Claim& claim) const;

 private:
  void judge(const Claim& claim, const IncomeRules& income, Work& work) const;
  double evaluate(const Claim& claim, std::span<const char> selected, std::vector<Outcome>& outcomes, Work& work,
                  std::vector<TaxLine>* lines) const;
  void choose(const Claim& claim, Work& work) const;

  std::vector<Rule> rules_;                         // in working order
  std::vector<std::vector<std::size_t>> less_;      // for each rule: indices whose amounts come off its base
  std::vector<std::vector<std::size_t>> excludes_;  // for each rule: indices it cannot be had beside
  std::vector<std::size_t> pool_of_;
  TaxRules taxes_;
};

/// The date that decides whether a rule holds.
[[nodiscard]] dates::Date deciding_date(const Rule& rule, const Claim& claim);

}  // namespace warmledger::incentives
