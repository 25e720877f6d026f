#include "warmledger/loans/schedule.hpp"

#include <algorithm>
#include <cmath>

#include "warmledger/errors/errors.hpp"

namespace warmledger::loans {

using money::Decimal;

void check(const LoanTerms& terms) {
  errors::require_in_range("yearly_rate", terms.yearly_rate, 0.0, 1.0, "(0.06 is 6 %)");
  errors::require_in_range("term_months", terms.term_months, 1, 600, "months");
  errors::require_in_range("largest_usd", terms.largest_usd, 0.0, 1e12, "dollars");
}

namespace {

/// (1 - (1 + rate)^-periods) / rate without cancellation at small rates.
template <class N>
N annuity_factor(const N& rate, int periods) {
  using boost::multiprecision::expm1, boost::multiprecision::log1p;
  using std::expm1, std::log1p;
  if (rate == N(0)) return N(periods);
  return N(-expm1(N(-N(periods) * log1p(rate))) / rate);
}

}  // namespace

template <class N>
N level_payment(const N& amount, const N& rate, int periods) {
  return N(amount / annuity_factor(rate, periods));
}

template <class N>
N present_value_of_payments(const N& payment, const N& rate, int periods) {
  return N(payment * annuity_factor(rate, periods));
}

template <class N>
Schedule<N> level_schedule(const N& amount, const LoanTerms& terms, dates::Date start) {
  check(terms);
  errors::require_in_range("amount", money::to_double(amount), 0.0, terms.largest_usd, "dollars");
  Schedule<N> schedule;
  schedule.amount = money::round_cents(amount);
  if (schedule.amount == N(0)) return schedule;
  const N rate = N(terms.yearly_rate) / N(12);
  // A loan of a few cents would round to a payment of nothing; one cent is the least that repays it.
  schedule.level_payment = std::max(
      N(N(1) / N(100)), money::round_cents(level_payment(schedule.amount, rate, terms.term_months), terms.rounding));
  schedule.payments.reserve(static_cast<std::size_t>(terms.term_months));
  N balance = schedule.amount;
  for (int number = 1; number <= terms.term_months && balance > N(0); ++number) {
    Payment<N> line;
    line.number = number;
    line.date = dates::add_months(start, number);
    line.interest = money::round_cents(N(balance * rate), terms.rounding);
    const bool last = number == terms.term_months || N(balance + line.interest) <= schedule.level_payment;
    line.payment = last ? N(balance + line.interest) : schedule.level_payment;
    line.principal = line.payment - line.interest;
    // Cents in a double drift in the last bits; the balance is always whole cents, so put it back on them.
    balance = last ? N(0) : money::round_cents(N(balance - line.principal));
    line.balance = balance;
    schedule.total_interest += line.interest;
    schedule.payments.push_back(line);
  }
  schedule.total_interest = money::round_cents(schedule.total_interest);
  return schedule;
}

template double level_payment<double>(const double&, const double&, int);
template Decimal level_payment<Decimal>(const Decimal&, const Decimal&, int);
template Schedule<double> level_schedule<double>(const double&, const LoanTerms&, dates::Date);
template Schedule<Decimal> level_schedule<Decimal>(const Decimal&, const LoanTerms&, dates::Date);
template double present_value_of_payments<double>(const double&, const double&, int);
template Decimal present_value_of_payments<Decimal>(const Decimal&, const Decimal&, int);

}  // namespace warmledger::loans
