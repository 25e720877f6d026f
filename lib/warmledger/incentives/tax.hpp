// Tax: an estimate of a household's federal income tax from its income, for households that did not give their
// liability. An estimate from the bracket schedule and standard deduction alone: no other credits, no other income.
// Not tax advice.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "warmledger/incentives/rule.hpp"

namespace warmledger::incentives {

/// Tax tables of one year and one filing status.
struct TaxTable {
  int year = 0;
  FilingStatus status = FilingStatus::single;
  double standard_deduction_usd = 0;
  struct Bracket {
    double up_to_usd = 0;  ///< upper end of taxable income for the rate; the last is infinite
    double rate = 0;
  };
  std::vector<Bracket> brackets;
  std::string source;
};

/// Tax by the schedule on `income_usd` less the standard deduction, dollars; 0 or more.
[[nodiscard]] double schedule_tax_usd(const TaxTable& table, double income_usd);

/// What a program says of taxes, and choices where practice differs. Rates are shares.
struct TaxRules {
  std::optional<double> sales_tax_rate;     ///< within the price of the material; empty: not known
  std::optional<double> property_tax_rate;  ///< yearly; empty: no property tax on the system is charged
  double added_value_share = 1;             ///< of the installed cost: what the system adds to the assessment
  std::optional<double> state_rate;         ///< income tax at one rate above the deduction; empty: not known
  double state_deduction_usd = 0;
  std::optional<double> local_rate;
  double local_deduction_usd = 0;
  bool subsidies_lower_credit_base = true;             ///< 26 USC 136(b)
  bool state_credits_lower_credit_base = false;        ///< by federal practice they do not
  bool state_credits_lower_itemized_deduction = true;  ///< of a household that itemizes
};

class TaxTables {
 public:
  TaxTables() = default;
  explicit TaxTables(std::vector<TaxTable> tables) : tables_(std::move(tables)) {}
  /// The table for a year, or the latest earlier one (or earliest there is) when the year has none; nullptr if empty.
  [[nodiscard]] const TaxTable* find(int year, FilingStatus status) const;
  [[nodiscard]] const std::vector<TaxTable>& tables() const noexcept { return tables_; }

 private:
  std::vector<TaxTable> tables_;
};

}  // namespace warmledger::incentives
