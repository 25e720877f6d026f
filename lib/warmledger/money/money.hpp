// Money: the two number types of every formula, and rounding to cents as a stated policy.
//
// Formulas of loans, ledger and economics are templates on the number type N and are instantiated for `double`
// (screening) and `Decimal` (audit). Cents are a policy, not a type: nothing is rounded unless a lender or an agency
// rounds, and then the code calls round_cents with the rule it means.
#pragma once

#include <string>

#include <boost/multiprecision/cpp_dec_float.hpp>

namespace warmledger::money {

/// 50 decimal digits. Expression templates are off: with them, `auto` and ternaries on sums dangle.
using Decimal = boost::multiprecision::number<boost::multiprecision::cpp_dec_float<50>, boost::multiprecision::et_off>;

/// How an amount becomes whole cents. "half" rules round to nearest and differ only in ties.
enum class Rounding {
  half_up,    ///< ties away from zero: what most loan contracts print (common practice)
  half_even,  ///< ties to the even cent
  up,         ///< away from zero: no amount shrinks
  down        ///< towards zero: cents dropped
};

/// `amount` in US dollars rounded to cents under `rule`; zero stays zero, negative amounts mirror positive ones.
/// A value within 1e-7 cents of a tie (or of a whole cent) counts as one, so that both number types round alike
/// although a `double` cannot hold most cents. Throws ValueOutOfRange if `amount` is not finite.
template <class N>
[[nodiscard]] N round_cents(const N& amount, Rounding rule = Rounding::half_up);

extern template double round_cents<double>(const double&, Rounding);
extern template Decimal round_cents<Decimal>(const Decimal&, Rounding);

/// "$1,234.56", "-$0.50"; cents are rounded half up.
[[nodiscard]] std::string dollars(double amount);
/// "$1,235": whole dollars, for sentences.
[[nodiscard]] std::string whole_dollars(double amount);

/// A number of either type as `double`, for display and columns.
[[nodiscard]] inline double to_double(double value) {
  return value;
}
[[nodiscard]] inline double to_double(const Decimal& value) {
  return value.convert_to<double>();
}

}  // namespace warmledger::money
