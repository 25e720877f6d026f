// Rounding for arithmetic that counts in cents.
#pragma once

#include <cmath>
#include <cstdint>

#include "warmledger/money/money.hpp"

namespace warmledger::money {

/// ValueOutOfRange for an amount that is not finite.
[[noreturn]] void refuse_amount(double amount);

/// What round_cents needs of a number type besides arithmetic. A Decimal is multiplied and divided by a whole number in
/// one pass, and its constants are made once: dividing two Decimals takes as long as a hundred sums.
template <class N>
struct Cents {
  N half{0.5};
  N one{1};
  N window = N(1) / N(10000000);  ///< this near to a tie or a whole cent counts as one
  N half_up = N(half + window);
};
template <class N>
const Cents<N>& cents_of() {
  static const Cents<N> constants;
  return constants;
}
/// The whole number at or below `value`, which is 0 or more.
inline double whole_part(double value) {
  // As std::floor, without the call that it is where the instruction set is not known: from 2^52 on all are whole.
  return value < 4503599627370496.0 ? static_cast<double>(static_cast<std::int64_t>(value)) : value;
}
inline Decimal whole_part(const Decimal& value) {
  return floor(value);
}

/// `signed_cents` rounded to whole cents under `rule`, as round_cents rounds dollars. Throws ValueOutOfRange if not
/// finite.
template <class N>
[[nodiscard]] N round_whole_cents(const N& signed_cents, Rounding rule = Rounding::half_up) {
  using boost::multiprecision::abs, boost::multiprecision::isfinite;
  using std::abs, std::isfinite;
  if (!isfinite(signed_cents)) refuse_amount(to_double(signed_cents));
  const Cents<N>& constants = cents_of<N>();
  const N cents = N(abs(signed_cents));
  N whole;
  switch (rule) {
    case Rounding::half_up:
      whole = whole_part(N(cents + constants.half_up));
      break;
    case Rounding::half_even: {
      whole = whole_part(cents);
      const N rest = cents - whole;
      const bool tie = N(abs(N(rest - constants.half))) <= constants.window;
      const bool odd = N(whole - N(2) * whole_part(N(whole / N(2)))) > constants.half;
      if (tie ? odd : rest > constants.half) whole += constants.one;
      break;
    }
    case Rounding::up:
      whole = whole_part(cents);
      if (N(cents - whole) > constants.window) whole += constants.one;
      break;
    case Rounding::down:
      whole = whole_part(N(cents + constants.window));
      break;
  }
  return signed_cents < N(0) ? N(-whole) : whole;
}

}  // namespace warmledger::money
