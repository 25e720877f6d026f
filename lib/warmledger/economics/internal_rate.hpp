// Internal rates of return: every rate at which flows have a net present value of zero.
#pragma once

#include <span>
#include <string_view>
#include <vector>

#include "warmledger/economics/measures.hpp"

namespace warmledger::economics {

/// All internal rates of return above -1, per period of the flows.
template <class N>
struct InternalRates {
  std::vector<N> rates;        ///< ascending and distinct; a rate where the value only touches zero stands once
  std::string_view statement;  ///< why there is none, or that there are several; empty for exactly one rate
  int sign_changes = 0;        ///< of the flows in time, zeros left out: no more rates than that (Descartes' rule)
};

/// Every internal rate of return above -1 of flows at times 0, 1, 2, ... (ASTM E1057). All real roots are isolated, not
/// sampled: dividing by a power between two flows of opposite sign and differentiating removes that sign change, so
/// between roots of the derived sum the value is monotone and a bracket holds at most one root (the classic proof of
/// Descartes' rule). In `double`, an unclear sign at a turning point is settled with 50 digits; a turning point within
/// the rounding of the flows counts as touching zero. Throws ValueOutOfRange for a flow that is not finite.
template <class N>
[[nodiscard]] InternalRates<N> internal_rates(std::span<const N> flows);

/// The internal rate of return when there is exactly one; otherwise none, with the statement of internal_rates: with
/// several rates no single number answers the question.
template <class N>
[[nodiscard]] Measure<N> internal_rate_of_return(const InternalRates<N>& rates);
template <class N>
[[nodiscard]] Measure<N> internal_rate_of_return(std::span<const N> flows);

/// internal_rates of many rows at once, on `threads` threads (0: one a core); `flows` holds them row after row, each
/// `columns` long. The result does not depend on the number of threads. Throws ValueOutOfRange naming row (from 0) and
/// column of a flow that is not finite, Contradiction when the size is no multiple of `columns`.
[[nodiscard]] std::vector<InternalRates<double>> internal_rates_by_row(std::span<const double> flows,
                                                                       std::size_t columns, unsigned threads = 0);

}  // namespace warmledger::economics
