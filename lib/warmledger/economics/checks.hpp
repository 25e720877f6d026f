// What the measures refuse, in one sentence each. Inside this room only.
#pragma once

#include <cmath>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "warmledger/economics/measures.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::economics {

inline constexpr int most_periods = 10000;

template <class N>
[[nodiscard]] bool is_finite(const N& value) {
  using boost::multiprecision::isfinite;
  using std::isfinite;
  return isfinite(value);
}

template <class N>
void require_rate(std::string_view key, const N& rate) {
  if (!is_finite(rate) || rate <= N(-1)) {
    throw errors::ValueOutOfRange({{"", {}, {}, std::string(key)},
                                   errors::plain_number(money::to_double(rate)),
                                   "is out of range",
                                   "finite rates above -1 (0.03 is 3 %)"});
  }
}

template <class N>
void require_amount(std::string_view key, const N& amount) {
  if (!is_finite(amount)) {
    throw errors::ValueOutOfRange({{"", {}, {}, std::string(key)},
                                   errors::plain_number(money::to_double(amount)),
                                   "is not an amount",
                                   "finite amounts"});
  }
}

template <class N>
void require_flows(std::span<const N> flows, std::string_view name = "flows") {
  bool all_finite = true;  // without a branch a flow: they nearly always are
  for (const N& flow : flows) all_finite &= is_finite(flow);
  if (all_finite) return;
  for (std::size_t k = 0; k < flows.size(); ++k) {
    if (!is_finite(flows[k])) require_amount(fmt::format("{}[{}]", name, k), flows[k]);
  }
}

/// The result, or ValueOutOfRange when it has left the range of numbers: never infinity.
template <class N>
[[nodiscard]] N in_number_range(std::string_view what, const N& rate, N result) {
  if (!is_finite(result)) {
    throw errors::ValueOutOfRange({{"", {}, {}, "rate"},
                                   errors::plain_number(money::to_double(rate)),
                                   fmt::format("makes the {} too large for a number", what),
                                   "rates and numbers of periods whose discount factors stay below 1e308"});
  }
  return result;
}

/// A quotient as a measure; none when it is too large for a number.
template <class N>
[[nodiscard]] Measure<N> quotient(const N& above, const N& below) {
  N value = N(above / below);
  if (!is_finite(value)) return {std::nullopt, "it is too large for a number"};
  return {std::move(value), {}};
}

}  // namespace warmledger::economics
