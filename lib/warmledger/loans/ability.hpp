// Ability to pay: what a loan does to a household's month. Figures for a talk with a lender, not a credit decision.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "warmledger/loans/schedule.hpp"

namespace warmledger::loans {

/// A ratio as a decimal, or the reason why there is none.
template <class N>
struct Ratio {
  std::optional<N> value;
  std::string_view why_none;  ///< empty when there is a value
};

/// Debt payments of a month over the gross income of a month. Which share is too much is the lender's to say.
/// None without an income. Throws ValueOutOfRange for negative or infinite sums.
template <class N>
[[nodiscard]] Ratio<N> debt_to_income(const N& monthly_debt_payments, const N& yearly_income);

/// Saving of an average month over the payment of an average month: 1 and more pays for itself. None without payments.
template <class N>
[[nodiscard]] Ratio<N> payment_coverage(const N& monthly_saving, const N& monthly_payment);

/// Energy bills of a year, and loan payments of a year where they are counted, over the yearly income.
/// None without an income.
template <class N>
[[nodiscard]] Ratio<N> energy_burden(const N& yearly_bills, const N& yearly_income);

/// A household's purse by month, from the start on.
template <class N>
struct Purse {
  int months_out_of_pocket = 0;  ///< months in which more goes out than comes in
  N deepest{};                   ///< lowest running sum, zero or below: what the household must have had in hand
  int deepest_month = 0;         ///< when that is; 0 is the start
};

/// The purse of flows by month, month 0 first; received positive, paid negative. Less than half a cent is no flow.
template <class N>
[[nodiscard]] Purse<N> purse(std::span<const N> flows);

/// Payments of the loan's costliest year, lumps left out as far as `received` pays for them. `received` holds what
/// comes in by month, month 0 first (an incentive that is handed to the lender); what is not used waits. Years are
/// counted from the start of the loan.
template <class N>
[[nodiscard]] N costliest_year(const Schedule<N>& schedule, std::span<const N> received);

}  // namespace warmledger::loans
