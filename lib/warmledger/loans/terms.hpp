// Loans: terms, schedules to the cent, and what a month costs.
#pragma once

#include <string>

#include "warmledger/money/money.hpp"

namespace warmledger::loans {

/// A loan with level monthly payments, as a lender offers it.
struct LoanTerms {
  std::string id;
  std::string title;
  double yearly_rate = 0;                               ///< nominal, charged monthly as rate / 12; 0.06 is 6 %; 0 to 1
  int term_months = 120;                                ///< 1 to 600
  double largest_usd = 1e12;                            ///< most that is lent
  money::Rounding rounding = money::Rounding::half_up;  ///< of the payment and of each month's interest
};

/// Throws ValueOutOfRange naming the member.
void check(const LoanTerms& terms);

}  // namespace warmledger::loans
