// Roots: every x = exp(y) above 0 at which a sum of c[k] x^k is zero. Inside this room, and for its tests.
//
// Coefficients begin and end with a number that is not 0, none is larger than 1 in size, and both signs occur.
#pragma once

#include <optional>
#include <vector>

#include "warmledger/money/money.hpp"

namespace warmledger::economics {

template <class N>
[[nodiscard]] int sign(const N& value) {
  return value > N(0) ? 1 : value < N(0) ? -1 : 0;
}

/// y of the root of sums that have one root only and show it in one pass: at the root, the running sums
/// c[0] + c[1] x + ... keep the sign of c[0] until the last term. They are the coefficients of what is left when the
/// root is divided out (Horner), and a sum whose coefficients have one sign has no positive root (Descartes). That
/// holds of money that is paid back by its last flow and not before, whatever the signs of the flows between. None
/// where the pass does not show it; there may be one root all the same.
template <class N>
[[nodiscard]] std::optional<N> only_root(const std::vector<N>& c);

template <class N>
using Roots = std::optional<std::vector<N>>;

/// y of every distinct root, descending in y. `touching`: a turning point whose value is below this share of the summed
/// sizes counts as a root. None where some sign cannot be told from rounding, or derived coefficients leave the range
/// of `double`; never none of Decimals.
template <class N>
[[nodiscard]] Roots<N> every_root(const std::vector<N>& c, const N& touching);

}  // namespace warmledger::economics
