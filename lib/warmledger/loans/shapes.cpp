#include "warmledger/loans/shapes.hpp"

#include <cmath>

#include "warmledger/loans/schedule.hpp"

namespace warmledger::loans {

using money::Decimal;

template <class N>
PeriodRates<N> period_rates(const LoanTerms& terms, const N& yearly, dates::Date start) {
  const N regular = N(yearly / N(terms.payments_per_year));
  if (!terms.first_payment_date) return {regular, regular};
  const FirstPeriod odd = first_period(terms, start);
  return {regular, N(regular * N(odd.whole) + yearly * N(odd.days) / N(terms.odd_days_year))};
}

template <class N>
N annuity_factor(const N& rate, int periods) {
  using boost::multiprecision::expm1, boost::multiprecision::log1p;
  using std::expm1, std::log1p;
  if (rate == N(0)) return N(periods);
  return N(-expm1(N(-N(periods) * log1p(rate))) / rate);
}

template <class N>
N level_payment(const N& amount, const N& rate, int periods) {
  return N(amount / annuity_factor(rate, periods));
}

template <class N>
N present_value_of_payments(const N& payment, const N& rate, int periods) {
  return N(payment * annuity_factor(rate, periods));
}

template <class N>
N level_payment_to(const N& balance, const N& rate, const N& first, int periods, const N& residue) {
  const N later = annuity_factor(rate, periods - 1);
  const N worth = N(balance * (N(1) + first) - residue * (N(1) - rate * later));
  return N(worth / (N(1) + later));
}

#define WARMLEDGER_INSTANTIATE(N)                                                   \
  template PeriodRates<N> period_rates<N>(const LoanTerms&, const N&, dates::Date); \
  template N annuity_factor<N>(const N&, int);                                      \
  template N level_payment<N>(const N&, const N&, int);                             \
  template N present_value_of_payments<N>(const N&, const N&, int);                 \
  template N level_payment_to<N>(const N&, const N&, const N&, int, const N&);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::loans
