#include "warmledger/money/money.hpp"

#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/whole_cents.hpp"

namespace warmledger::money {

namespace {

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

void refuse_amount(double amount) {
  throw errors::ValueOutOfRange(
      {{"", {}, {}, "amount"}, errors::plain_number(amount), "is not a number of dollars", "finite amounts"});
}

template <class N>
N round_cents(const N& amount, Rounding rule) {
  return hundredth(round_whole_cents(times_hundred(amount), rule));
}

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
