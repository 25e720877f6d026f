// Schedule: every payment of a loan of any shape, to the cent.
#pragma once

#include <span>
#include <vector>

#include "warmledger/dates/dates.hpp"
#include "warmledger/loans/terms.hpp"

namespace warmledger::loans {

/// One payment date. payment = interest + principal, and balance = the balance before + added - principal. Dollars in
/// whole cents, zero or more.
template <class N>
struct Payment {
  int number = 0;  ///< 1 is the first payment period of the loan
  dates::Date date{};
  N payment{};    ///< 0 in a deferral
  N interest{};   ///< paid
  N principal{};  ///< paid
  N balance{};    ///< owed after the payment
  N added{};      ///< interest that was not paid and was added to the balance
  N lump{};       ///< part of the payment beyond the agreed one: a planned lump, or the early payoff
};

/// What is lent for a purchase, and where it goes: amount = proceeds + dealer_fee + (points_and_fee, if financed).
template <class N>
struct Lending {
  N amount{};           ///< lent: the first balance; 0 when the charges would eat all that the lender lends
  N proceeds{};         ///< towards the price for cash
  N dealer_fee{};       ///< by which the seller raises the price
  N points_and_fee{};   ///< of the lender
  N paid_at_closing{};  ///< points_and_fee, when the household pays them at the start
};

template <class N>
struct Schedule {
  Lending<N> lending;
  N amount{};  ///< lending.amount
  dates::Date start{};
  int payments_per_year = 12;
  N level_payment{};   ///< the first payment that repays principal, as agreed; the last one settles what rounding left
  N total_interest{};  ///< all payments less the amount
  N added_interest{};  ///< interest that became principal, in all
  std::vector<Payment<N>> payments;
};

template <class N>
struct DatedFlow {
  dates::Date date{};
  N amount{};
};

/// Unrounded level payment that repays `amount` in `periods` payments at `rate` a period:
/// amount rate / (1 - (1 + rate)^-periods), and amount / periods at a rate of 0.
template <class N>
[[nodiscard]] N level_payment(const N& amount, const N& rate, int periods);

/// present value, `rate` a period, of `periods` payments of `payment` at the end of each; for checks and buy-downs.
template <class N>
[[nodiscard]] N present_value_of_payments(const N& payment, const N& rate, int periods);

/// What is lent so that `needed` dollars reach the seller at the price for cash, within terms.largest_usd:
/// (needed + fee) / (1 - dealer fee share - points share), points and fee only where they are financed (common
/// practice). Throws ValueOutOfRange for a negative or infinite sum or terms outside their ranges.
template <class N>
[[nodiscard]] Lending<N> lend(const N& needed, const LoanTerms& terms);

/// The schedule of a loan that pays `needed` dollars of a purchase on `start`. 0 gives an empty one.
///
/// The payment and each period's interest (balance times the period's rate) are rounded by terms.rounding; the last
/// payment is the balance and its interest, so it ends at exactly zero. When cents round a tiny loan away, or lumps
/// repay it, it ends early. Interest that a payment does not cover (a deferral; a long first period whose interest
/// exceeds the level payment) is added to the balance, as the actuarial method does. With an odd first period all
/// payments are equal: the level payment repays the amount with that period's interest.
/// `extra` are further lumps, in order of date; each is applied with the first payment on or after its day, as far as
/// something is owed. Throws ValueOutOfRange or Contradiction for terms that check() refuses.
/// Sums above 100,000 dollars are worked in 50 digits for `double` too, whose digits do not suffice there.
template <class N>
[[nodiscard]] Schedule<N> make_schedule(const N& needed, const LoanTerms& terms, dates::Date start,
                                        std::span<const DatedFlow<N>> extra = {});

/// What is owed on `date`, payments of that day made: the balance, and the interest since the last payment by days.
template <class N>
[[nodiscard]] N owed_on(const Schedule<N>& schedule, dates::Date date);

/// A sponsor's payment to the lender for a lower rate.
template <class N>
struct BuyDown {
  N cost{};                   ///< present value at the lender's rate of what the payments fall by, to the cent
  N level_payment_without{};  ///< at the lender's rate
  N level_payment_with{};     ///< at the household's
};

/// What the lower rate of `terms` costs its payer. Zero without a buy-down.
template <class N>
[[nodiscard]] BuyDown<N> buy_down(const N& needed, const LoanTerms& terms, dates::Date start,
                                  std::span<const DatedFlow<N>> extra = {});

}  // namespace warmledger::loans
