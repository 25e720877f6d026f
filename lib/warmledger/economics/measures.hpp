// Economics: measures over cash flows, as pure functions. Nothing here knows what a flow is for.
//
// Flows are given per period from time 0: flows[0] falls at time 0, flows[k] at the end of period k. Received amounts
// are positive, paid ones negative. Rates are per period of the flows and decimal (0.03 is 3 %); real rates go with
// constant dollars, nominal with money of the day, and the caller never mixes them. Formulas: ASTM E917, E964, E1057,
// E1074, E1121 and 10 CFR 436 subpart A; the clause stands beside each function.
//
// Every function throws ValueOutOfRange for a rate that is not finite and above -1, for a flow or amount that is not
// finite, and for a result that would leave the range of numbers: infinity and NaN neither enter nor leave.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "warmledger/money/money.hpp"

namespace warmledger::economics {

/// A number, or the reason why there is none. Never 0, NaN or infinity in place of "none".
template <class N>
struct Measure {
  std::optional<N> value;
  std::string_view why_none;  ///< empty when there is a value
};

/// Single present value factor (1 + rate)^-time; rate above -1.
template <class N>
[[nodiscard]] N single_present_value(const N& rate, const N& time);
/// Uniform present value factor: 1 a period for `periods` (0 to 10,000), [1 - (1 + d)^-N] / d.
template <class N>
[[nodiscard]] N uniform_present_value(const N& rate, int periods);
/// Modified uniform present value factor: a cost of 1 at base-date prices that escalates at `escalation` each period.
template <class N>
[[nodiscard]] N modified_uniform_present_value(const N& rate, const N& escalation, int periods);

/// Present value at time 0 of flows at times 0, 1, 2, ...; also net benefits of ASTM E1074 when flows are net.
template <class N>
[[nodiscard]] N net_present_value(const N& rate, std::span<const N> flows);
/// net_present_value of several series of one length, into `values`. Side by side they take little longer than one.
template <class N>
void net_present_values(const N& rate, std::span<const std::span<const N>> series, std::span<N> values);
/// Rate of one of `periods_per_year` (1 to 366) even parts of a year that compounds to `yearly_rate`.
template <class N>
[[nodiscard]] N periodic_rate(const N& yearly_rate, int periods_per_year);
/// The yearly rate that a rate per period compounds to: the inverse.
template <class N>
[[nodiscard]] N yearly_rate(const N& periodic_rate, int periods_per_year);
/// Rate of a twelfth of a year that compounds to `yearly_rate`: (1 + r)^(1/12) - 1.
template <class N>
[[nodiscard]] N monthly_rate(const N& yearly_rate);
/// The real rate that goes with a nominal one: (1 + nominal) / (1 + inflation) - 1 (Fisher).
template <class N>
[[nodiscard]] N real_rate(const N& nominal_rate, const N& inflation_rate);

/// Periods until the running sum of `flows` first reaches zero or more, with the fraction of the crossing period by
/// straight line (ASTM E1121; simple when flows are undiscounted). 0 when flows[0] is already not negative. None when
/// the sum never gets there.
template <class N>
[[nodiscard]] Measure<N> payback(std::span<const N> flows);
/// payback of the flows discounted at `rate`.
template <class N>
[[nodiscard]] Measure<N> discounted_payback(const N& rate, std::span<const N> flows);

/// Savings-to-investment ratio (10 CFR 436.21, ASTM E964): present value of savings in energy and upkeep over present
/// value of the extra investment, replacement less remaining value. None when nothing is invested.
template <class N>
[[nodiscard]] Measure<N> savings_to_investment(const N& savings_present_value, const N& investment_present_value);
/// Adjusted internal rate of return (10 CFR 436.22, ASTM E1057): (1 + d) SIR^(1/N) - 1. None without a positive ratio.
template <class N>
[[nodiscard]] Measure<N> adjusted_internal_rate_of_return(const N& rate, const Measure<N>& ratio, int years);

}  // namespace warmledger::economics
