// Formulas of prices as small pure templates. N is double, the 50-digit Decimal, or several numbers side by side:
// anything with + - * /, construction from double, and min and max found by its namespace. Nothing branches on an
// amount.
#pragma once

#include <algorithm>
#include <span>

namespace warmledger::prices {

/// A block of a month's units: those above `from` up to `to` cost `usd_per_unit` each (beside the rate of their hour).
struct Block {
  double from = 0;
  double to = 0;  ///< `endless` for the last block
  double usd_per_unit = 0;
};
inline constexpr double endless = 1e30;

/// What a month's `units` cost in the blocks of a tariff, dollars.
template <class N>
[[nodiscard]] N block_charge(std::span<const Block> blocks, const N& units) {
  using std::max;
  using std::min;
  N usd(0);
  for (const Block& block : blocks)
    usd = usd + N(block.usd_per_unit) * max(N(0), N(min(units, N(block.to)) - N(block.from)));
  return usd;
}

/// What a month's `units` add to a bill that already holds `other_units`: the rate of their hours, and the blocks they
/// fall into, which are the last ones. The bill with them less the bill without them; fixed charges drop out.
template <class N>
[[nodiscard]] N added_charge(std::span<const Block> blocks, const N& units, const N& usd_per_unit,
                             const N& other_units) {
  return units * usd_per_unit + block_charge<N>(blocks, N(other_units + units)) - block_charge<N>(blocks, other_units);
}

}  // namespace warmledger::prices
