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

std::string grouped(std::string digits) {
  for (std::ptrdiff_t at = static_cast<std::ptrdiff_t>(digits.size()) - 3; at > 0; at -= 3) {
    digits.insert(static_cast<std::size_t>(at), ",");
  }
  return digits;
}

}  // namespace

std::string dollars(double amount) {
  const double rounded = round_cents(amount);
  const std::string text = fmt::format("{:.2f}", std::fabs(rounded));
  const std::size_t dot = text.size() - 3;
  return fmt::format("{}${}{}", rounded < 0 ? "-" : "", grouped(text.substr(0, dot)), text.substr(dot));
}

std::string whole_dollars(double amount) {
  const double rounded = std::round(amount);
  return fmt::format("{}${}", rounded < 0 ? "-" : "", grouped(fmt::format("{:.0f}", std::fabs(rounded))));
}

}  // namespace warmledger::money
