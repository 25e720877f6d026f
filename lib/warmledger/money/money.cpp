#include "warmledger/money/money.hpp"

#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/whole_cents.hpp"

namespace warmledger::money {

namespace {

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
double times_hundred(double usd) {
  return usd * 100.0;
}
Decimal times_hundred(const Decimal& usd) {
  return usd * 100U;
}
double hundredth(double cents) {
  return cents / 100.0;
}
Decimal hundredth(const Decimal& cents) {
  return cents / 100U;
}

}  // namespace

template <class N>
N round_whole_cents(const N& signed_cents, Rounding rule) {
  using boost::multiprecision::abs, boost::multiprecision::floor, boost::multiprecision::isfinite;
  using std::abs, std::floor, std::isfinite;
  if (!isfinite(signed_cents)) {
    throw errors::ValueOutOfRange({{"", {}, {}, "amount"},
                                   errors::plain_number(to_double(signed_cents)),
                                   "is not a number of dollars",
                                   "finite amounts"});
  }
  const Cents<N>& constants = cents_of<N>();
  const N cents = N(abs(signed_cents));
  N whole;
  switch (rule) {
    case Rounding::half_up:
      whole = floor(N(cents + constants.half_up));
      break;
    case Rounding::half_even: {
      whole = floor(cents);
      const N rest = cents - whole;
      const bool tie = N(abs(N(rest - constants.half))) <= constants.window;
      const bool odd = N(whole - N(2) * floor(N(whole / N(2)))) > constants.half;
      if (tie ? odd : rest > constants.half) whole += constants.one;
      break;
    }
    case Rounding::up:
      whole = floor(cents);
      if (N(cents - whole) > constants.window) whole += constants.one;
      break;
    case Rounding::down:
      whole = floor(N(cents + constants.window));
      break;
  }
  return signed_cents < N(0) ? N(-whole) : whole;
}

template <class N>
N round_cents(const N& amount, Rounding rule) {
  return hundredth(round_whole_cents(times_hundred(amount), rule));
}

template double round_whole_cents<double>(const double&, Rounding);
template Decimal round_whole_cents<Decimal>(const Decimal&, Rounding);
template double round_cents<double>(const double&, Rounding);
template Decimal round_cents<Decimal>(const Decimal&, Rounding);

namespace {

/// "-$1,234.56" of the digits of whole dollars and what stands behind them.
std::string spelled(bool negative, std::string_view digits, std::string_view rest) {
  std::string text = negative ? "-$" : "$";
  for (std::size_t at = 0; at < digits.size(); ++at) {
    if (at > 0 && (digits.size() - at) % 3 == 0) text += ',';
    text += digits[at];
  }
  return text.append(rest);
}

}  // namespace

std::string dollars(double amount) {
  const double rounded = round_cents(amount);
  const double size = std::fabs(rounded);
  std::string digits;
  if (size < 1e13) {
    // The double nearest to a whole number of cents gives that number back.
    digits = std::to_string(std::llround(size * 100));
    if (digits.size() < 3) digits.insert(0, 3 - digits.size(), '0');
    digits.insert(digits.size() - 2, 1, '.');
  } else {
    digits = fmt::format("{:.2f}", size);
  }
  const std::string_view text = digits;
  return spelled(rounded < 0, text.substr(0, text.size() - 3), text.substr(text.size() - 3));
}

std::string whole_dollars(double amount) {
  const double rounded = std::round(amount);
  const double size = std::fabs(rounded);
  return spelled(rounded < 0, size < 1e15 ? std::to_string(std::llround(size)) : fmt::format("{:.0f}", size), "");
}

}  // namespace warmledger::money
