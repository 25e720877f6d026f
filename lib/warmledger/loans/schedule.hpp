// Schedule: every payment of a loan, to the cent.
#pragma once

#include <vector>

#include "warmledger/dates/dates.hpp"
#include "warmledger/loans/terms.hpp"

namespace warmledger::loans {

/// One payment. payment = interest + principal; balance is what is owed after it. Dollars, zero or more.
template <class N>
struct Payment {
  int number = 0;  ///< 1 is one month after the loan is paid out
  dates::Date date{};
  N payment{};
  N interest{};
  N principal{};
  N balance{};
};

template <class N>
struct Schedule {
  N amount{};         ///< what the household receives
  N level_payment{};  ///< the agreed monthly payment; the last one differs by what rounding left
  N total_interest{};
  std::vector<Payment<N>> payments;
};

/// Unrounded level payment that repays `amount` in `periods` payments at `rate` a period:
/// amount rate / (1 - (1 + rate)^-periods), and amount / periods at a rate of 0.
template <class N>
[[nodiscard]] N level_payment(const N& amount, const N& rate, int periods);

/// The schedule of a level-payment loan paid out on `start`. The payment and each month's interest (balance times
/// rate / 12) are rounded by terms.rounding; the last payment is the balance and its interest, so it ends at exactly
/// zero. When cents round a tiny loan away early, the schedule ends early. `amount` is rounded to cents first; 0 gives
/// an empty schedule. Throws ValueOutOfRange for a negative amount or terms outside their ranges.
template <class N>
[[nodiscard]] Schedule<N> level_schedule(const N& amount, const LoanTerms& terms, dates::Date start);

/// present value, `rate` a period, of `periods` payments of `payment` at the end of each; for checks and buy-downs.
template <class N>
[[nodiscard]] N present_value_of_payments(const N& payment, const N& rate, int periods);

extern template double level_payment<double>(const double&, const double&, int);
extern template money::Decimal level_payment<money::Decimal>(const money::Decimal&, const money::Decimal&, int);
extern template Schedule<double> level_schedule<double>(const double&, const LoanTerms&, dates::Date);
extern template Schedule<money::Decimal> level_schedule<money::Decimal>(const money::Decimal&, const LoanTerms&,
                                                                        dates::Date);
extern template double present_value_of_payments<double>(const double&, const double&, int);
extern template money::Decimal present_value_of_payments<money::Decimal>(const money::Decimal&, const money::Decimal&,
                                                                         int);

}  // namespace warmledger::loans
