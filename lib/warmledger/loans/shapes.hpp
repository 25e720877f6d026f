// The level payment of every shape. Inside this room only.
#pragma once

#include "warmledger/loans/terms.hpp"

namespace warmledger::loans {

/// What one period costs: its rate, and that of the first, which can be odd.
template <class N>
struct PeriodRates {
  N regular{};
  N first{};
};

/// The rates a period at the yearly rate `yearly` of a loan paid out on `start`.
template <class N>
[[nodiscard]] PeriodRates<N> period_rates(const LoanTerms& terms, const N& yearly, dates::Date start);

/// (1 - (1 + rate)^-periods) / rate without cancellation at small rates; `periods` at a rate of 0.
template <class N>
[[nodiscard]] N annuity_factor(const N& rate, int periods);

/// Unrounded level payment, `first` being the rate of the first of `periods` and `rate` that of the others, which
/// leaves `residue` owed after the last: balance (1 + first) = payment (1 + a(periods - 1)) + residue (1 +
/// rate)^-(periods
/// - 1), a being the annuity factor.
template <class N>
[[nodiscard]] N level_payment_to(const N& balance, const N& rate, const N& first, int periods, const N& residue);

}  // namespace warmledger::loans
