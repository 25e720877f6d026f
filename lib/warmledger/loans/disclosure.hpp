// Disclosure: what is disclosed of a loan, from the dates and amounts of its schedule alone.
//
// Not lending advice and not a compliance check: a creditor's own disclosure governs.
#pragma once

#include <span>

#include "warmledger/loans/apr.hpp"
#include "warmledger/loans/schedule.hpp"

namespace warmledger::loans {

/// The unit-period of credit whose advances and payments fall on `dates`, ascending (Regulation Z, 12 CFR 1026,
/// Appendix J (b)(4)): the standard interval, at most a year, that lies most often between neighbours; of equally
/// frequent ones the shorter; where none recurs, the standard interval nearest to the average one. `series_day` is the
/// day of the month that months are counted from, (b)(3).
struct Rhythm {
  UnitPeriod unit_period;
  int series_day = 0;
};
/// Throws MissingValue for fewer than two dates.
[[nodiscard]] Rhythm rhythm_of(std::span<const dates::Date> dates);

template <class N>
struct DatedDisclosure : Disclosure<N> {
  N unit_periods_per_year{};
  int number_of_payments = 0;
};

/// The disclosed figures of any pattern of dated advances and payments. The first advance, less the prepaid finance
/// charge, starts the count. Amounts of 0 are left out. One advance and one payment count as single_payment(); all else
/// by rhythm_of(). Throws as disclose() for unit-periods does; the rate is none, with a reason, where a payment
/// precedes the first advance.
template <class N>
[[nodiscard]] DatedDisclosure<N> disclose(std::span<const DatedFlow<N>> advances,
                                          std::span<const DatedFlow<N>> payments, const N& prepaid_finance_charge);

/// The disclosed figures of a schedule. The finance charge holds the interest, the lender's points and fee, and the
/// dealer's fee where it raises the price (12 CFR 1026.4(b)); so the amount financed is what the loan pays of the price
/// for cash, less points and fee that the household pays at the start.
template <class N>
[[nodiscard]] DatedDisclosure<N> disclose(const Schedule<N>& schedule);

}  // namespace warmledger::loans
