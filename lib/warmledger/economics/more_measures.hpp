// More measures: annual values, levelised cost, break-even values, lasting payback, timing within the year, and the
// modified internal rate of return. Conventions for flows and rates as in measures.hpp.
#pragma once

#include <span>

#include "warmledger/economics/measures.hpp"

namespace warmledger::economics {

/// When within a year the flows of that year fall. flows[0] is always at time 0.
enum class Timing {
  end_of_year,    ///< flows[k] at time k: the usual convention
  mid_year,       ///< flows[k] at time k - 0.5
  start_of_year,  ///< flows[k] at time k - 1
  monthly         ///< flows[k] in twelve even parts at the ends of the months of year k
};
/// "end_of_year", "mid_year", "start_of_year", "monthly".
[[nodiscard]] std::string_view name_of(Timing timing);
/// Inverse of name_of; throws UnknownName with the nearest.
[[nodiscard]] Timing timing_named(std::string_view name);

/// What the end-of-year present value of a year's flow is multiplied by under a timing convention: 1, (1 + d)^0.5,
/// 1 + d, or the twelve parts' (1 + d) UPV(monthly rate, 12) / 12. Yearly rate above -1.
template <class N>
[[nodiscard]] N timing_factor(const N& rate, Timing timing);
/// Present value at time 0 of yearly flows under a timing convention; with end_of_year it is net_present_value.
template <class N>
[[nodiscard]] N present_value(const N& rate, std::span<const N> flows, Timing timing);

/// Uniform capital recovery factor: the even amount at the end of each of `periods` that has a present value of 1,
/// d / [1 - (1 + d)^-N]; 1 / N at a rate of 0. periods 1 to 10,000.
template <class N>
[[nodiscard]] N uniform_capital_recovery(const N& rate, int periods);
/// Equivalent annual value: `present_value` as an even amount at the end of each of `years` (1 to 10,000).
template <class N>
[[nodiscard]] N equivalent_annual_value(const N& rate, const N& present_value, int years);

/// Levelised cost: present value of costs over present value of the quantity delivered (heat saved, say), in dollars a
/// unit. Costs positive. None when the quantity's present value is not positive.
template <class N>
[[nodiscard]] Measure<N> levelised_cost(const N& cost_present_value, const N& quantity_present_value);
/// Levelised cost of yearly costs and quantities at times 0, 1, 2, ..., both discounted at `rate`.
template <class N>
[[nodiscard]] Measure<N> levelised_cost(const N& rate, std::span<const N> costs, std::span<const N> quantities);

/// Break-even value of one input (a fuel price, an installed cost): where net savings, linear in it, are zero, given
/// net savings at two different values. None when net savings do not depend on the value. The break-even value may lie
/// outside the two and may be negative: whether it makes sense is the caller's to say. Throws Contradiction when the
/// two values are equal.
template <class N>
[[nodiscard]] Measure<N> break_even(const N& value_a, const N& net_savings_a, const N& value_b, const N& net_savings_b);

/// Periods after which the running sum of `flows` is zero or more and never again below zero, with the fraction of the
/// crossing period by straight line. Never earlier than payback (the first recovery): a later replacement can take the
/// sum below zero again. 0 when the sum is never below zero; none when it ends below zero.
template <class N>
[[nodiscard]] Measure<N> lasting_payback(std::span<const N> flows);
/// lasting_payback of the flows discounted at `rate`.
template <class N>
[[nodiscard]] Measure<N> lasting_discounted_payback(const N& rate, std::span<const N> flows);

/// Modified internal rate of return: paid amounts discounted to time 0 at `finance_rate`, received amounts compounded
/// to the last period at `reinvest_rate`, and the rate that grows the one to the other,
///   (PV(reinvest, received) / -PV(finance, paid))^(1/n) (1 + reinvest) - 1 over n periods,
/// the formula of spreadsheets' MIRR and of numpy-financial. None unless something is paid and something received.
template <class N>
[[nodiscard]] Measure<N> modified_internal_rate_of_return(std::span<const N> flows, const N& finance_rate,
                                                          const N& reinvest_rate);

}  // namespace warmledger::economics
