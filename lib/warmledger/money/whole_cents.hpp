// Rounding for arithmetic that counts in cents.
#pragma once

#include "warmledger/money/money.hpp"

namespace warmledger::money {

/// `signed_cents` rounded to whole cents under `rule`, as round_cents rounds dollars. Throws ValueOutOfRange if not
/// finite.
template <class N>
[[nodiscard]] N round_whole_cents(const N& signed_cents, Rounding rule = Rounding::half_up);

}  // namespace warmledger::money
