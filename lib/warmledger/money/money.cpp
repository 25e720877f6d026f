#include "warmledger/money/money.hpp"

#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::money {

template <class N>
N round_cents(const N& amount, Rounding rule) {
  using boost::multiprecision::abs, boost::multiprecision::floor, boost::multiprecision::isfinite;
  using std::abs, std::floor, std::isfinite;
  if (!isfinite(amount)) {
    throw errors::ValueOutOfRange({{"", {}, {}, "amount"},
                                   errors::plain_number(to_double(amount)),
                                   "is not a number of dollars",
                                   "finite amounts"});
  }
  const N tie_window = N(1) / N(10000000);
  const N cents = abs(amount) * N(100);
  N whole = floor(cents);
  const N rest = cents - whole;
  const N half = N(1) / N(2);
  switch (rule) {
    case Rounding::half_up:
      if (rest >= half - tie_window) whole += N(1);
      break;
    case Rounding::half_even: {
      const bool tie = abs(rest - half) <= tie_window;
      const bool odd = whole - N(2) * floor(whole / N(2)) > half;
      if (tie ? odd : rest > half) whole += N(1);
      break;
    }
    case Rounding::up:
      if (rest > tie_window) whole += N(1);
      break;
    case Rounding::down:
      if (rest >= N(1) - tie_window) whole += N(1);
      break;
  }
  const N rounded = whole / N(100);
  return amount < N(0) ? N(-rounded) : rounded;
}

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
