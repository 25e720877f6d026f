// Annual percentage rate by the actuarial method of Regulation Z (12 CFR 1026), Appendix J, and the figures that are
// disclosed beside it. Not lending advice and not a compliance check: a creditor's own disclosure governs.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "warmledger/dates/dates.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::loans {

/// One advance or payment, in dollars, `whole_periods` + `fraction` unit-periods after the start of the finance charge.
/// Appendix J (b)(8) compounds over the whole unit-periods and charges simple interest over the fraction.
template <class N>
struct Flow {
  N amount{};             ///< dollars, 0 or more
  int whole_periods = 0;  ///< 0 to 100,000
  N fraction{};           ///< 0 to 1; exactly 1 occurs when 30 days remain before a whole month
};

/// A yearly rate as a decimal (0.0975 is 9.75 %), or the reason why there is none.
template <class N>
struct AnnualRate {
  std::optional<N> value;
  std::string_view why_none;  ///< empty when there is a value
};

/// Annual percentage rate of any pattern of advances and payments: the rate i a unit-period at which
///   sum A / [(1 + e i)(1 + i)^q] = sum P / [(1 + f i)(1 + i)^t]        (Appendix J (b)(8)),
/// times `unit_periods_per_year`. Credit whose payments fall short of the advances has a negative rate, above -1 a
/// unit-period. Patterns in which the household is at times the lender can have several rates: then the one nearest 0
/// on the side where payments and advances call for it (above 0 when payments exceed advances) is searched first.
/// None, with the reason, when nothing is advanced or paid, when a payment precedes every advance, or when no rate
/// above -1 a unit-period balances them. Throws ValueOutOfRange for an amount, time or unit_periods_per_year outside
/// its range (unit_periods_per_year: above 0, to 366).
template <class N>
[[nodiscard]] AnnualRate<N> apr(std::span<const Flow<N>> advances, std::span<const Flow<N>> payments,
                                const N& unit_periods_per_year);

/// The unit-period of Appendix J (b)(4): a standard interval, or a multiple of a week or month, at most 1 year.
struct UnitPeriod {
  enum class Kind { day, week, semimonth, month, year };
  Kind kind = Kind::month;
  int count = 1;  ///< weeks: 1 to 52; months: 1 to 11; 1 for the others
};

/// A span of time counted in unit-periods, exactly: whole + numerator / denominator.
struct PeriodCount {
  int whole = 0;
  int numerator = 0;
  int denominator = 1;
};

/// Unit-periods from `start` to `date`, Appendix J (b)(5) (wording of (b)(5) from memory; it reproduces the published
/// examples):
/// - month: whole months back from `date`; remaining days / 30;
/// - semimonth and several months: 30 days for each whole month back from `date`, plus the remaining days, divided by
///   15 or by 30 a month;
/// - days and weeks: days / days of the unit-period;
/// - year: whole years back from `date`; then remaining months / 12 when they are whole, otherwise days / 365.
/// `series_day` is the day of the month a series of payments falls on (31: the last day of each month), so that months
/// are counted from it although February is shorter, (b)(3); 0 takes the day of `date`.
/// Throws ValueOutOfRange when `date` precedes `start` or the unit-period is not one of the above.
[[nodiscard]] PeriodCount unit_periods(dates::Date start, dates::Date date, UnitPeriod period, int series_day = 0);

/// Unit-periods in a year, (b)(5): 365 days, 52 / weeks, 24 semimonths, 12 / months, 1.
template <class N>
[[nodiscard]] N unit_periods_per_year(UnitPeriod period);

/// The time and unit-periods a year of credit with one advance and one payment.
struct SinglePayment {
  PeriodCount time;
  int per_year_numerator = 1;    ///< unit-periods a year, as a ratio
  int per_year_denominator = 1;  ///< see per_year_numerator
};

/// One advance on `start`, one payment on `date`: under a year the term itself is the unit-period, 12 / months of it
/// a year when it is whole months, otherwise 365 / days ((b)(5)(vi)-(vii), from memory); from a year on, the year is.
/// Throws ValueOutOfRange unless `date` follows `start`.
[[nodiscard]] SinglePayment single_payment(dates::Date start, dates::Date date);

/// `amount` at a counted time.
template <class N>
[[nodiscard]] Flow<N> flow_at(const N& amount, PeriodCount time);

/// `count` equal flows, the first at `first` and each one unit-period after the one before.
template <class N>
[[nodiscard]] std::vector<Flow<N>> regular_flows(const N& amount, PeriodCount first, int count);

/// What a creditor discloses for closed-end credit (12 CFR 1026.18(b), (d), (e), (h)), in dollars.
template <class N>
struct Disclosure {
  N amount_financed{};    ///< advances less the prepaid finance charge
  N finance_charge{};     ///< total of payments less the amount financed
  N total_of_payments{};  ///< sum of all payments
  AnnualRate<N> annual_percentage_rate;
};

/// The disclosed figures. `prepaid_finance_charge` (points and fees that are part of the finance charge and are paid at
/// or before closing, or withheld) comes off the first advance. Throws as apr, and ValueOutOfRange when the prepaid
/// charge is negative or exceeds the first advance.
template <class N>
[[nodiscard]] Disclosure<N> disclose(std::span<const Flow<N>> advances, std::span<const Flow<N>> payments,
                                     const N& prepaid_finance_charge, const N& unit_periods_per_year);

/// Whether a disclosed rate is accurate under 12 CFR 1026.22(a)(2)-(3): within 1/8 of a percentage point of the exact
/// one, or 1/4 for an irregular transaction (several advances, or irregular payment periods or amounts; an odd first
/// period, first or last payment alone does not count). Rates as decimals.
[[nodiscard]] bool within_rate_tolerance(double disclosed, double exact, bool irregular);

extern template AnnualRate<double> apr<double>(std::span<const Flow<double>>, std::span<const Flow<double>>,
                                               const double&);
extern template double unit_periods_per_year<double>(UnitPeriod);
extern template Flow<double> flow_at<double>(const double&, PeriodCount);
extern template std::vector<Flow<double>> regular_flows<double>(const double&, PeriodCount, int);
extern template Disclosure<double> disclose<double>(std::span<const Flow<double>>, std::span<const Flow<double>>,
                                                    const double&, const double&);
extern template AnnualRate<money::Decimal> apr<money::Decimal>(std::span<const Flow<money::Decimal>>,
                                                               std::span<const Flow<money::Decimal>>,
                                                               const money::Decimal&);
extern template money::Decimal unit_periods_per_year<money::Decimal>(UnitPeriod);
extern template Flow<money::Decimal> flow_at<money::Decimal>(const money::Decimal&, PeriodCount);
extern template std::vector<Flow<money::Decimal>> regular_flows<money::Decimal>(const money::Decimal&, PeriodCount,
                                                                                int);
extern template Disclosure<money::Decimal> disclose<money::Decimal>(std::span<const Flow<money::Decimal>>,
                                                                    std::span<const Flow<money::Decimal>>,
                                                                    const money::Decimal&, const money::Decimal&);

}  // namespace warmledger::loans
