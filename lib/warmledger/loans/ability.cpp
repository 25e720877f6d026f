#include "warmledger/loans/ability.hpp"

#include <algorithm>

#include "warmledger/errors/errors.hpp"

namespace warmledger::loans {

using money::Decimal;

namespace {

template <class N>
void require_sum(std::string_view key, const N& value) {
  errors::require_in_range(key, money::to_double(value), 0.0, 1e12, "dollars");
}

template <class N>
Ratio<N> share_of(const N& part, const N& whole, std::string_view why_none) {
  if (whole <= N(0)) return {std::nullopt, why_none};
  return {N(part / whole), {}};
}

}  // namespace

template <class N>
Ratio<N> debt_to_income(const N& monthly_debt_payments, const N& yearly_income) {
  require_sum("monthly_debt_payments", monthly_debt_payments);
  require_sum("yearly_income", yearly_income);
  return share_of(N(monthly_debt_payments * N(12)), yearly_income, "there is no income");
}

template <class N>
Ratio<N> payment_coverage(const N& monthly_saving, const N& monthly_payment) {
  require_sum("monthly_payment", monthly_payment);
  errors::require_in_range("monthly_saving", money::to_double(monthly_saving), -1e12, 1e12, "dollars");
  return share_of(monthly_saving, monthly_payment, "there is nothing to pay");
}

template <class N>
Ratio<N> energy_burden(const N& yearly_bills, const N& yearly_income) {
  errors::require_in_range("yearly_bills", money::to_double(yearly_bills), -1e12, 1e12, "dollars");
  require_sum("yearly_income", yearly_income);
  return share_of(yearly_bills, yearly_income, "there is no income");
}

template <class N>
Purse<N> purse(std::span<const N> flows) {
  const N least = N(N(1) / N(200));
  Purse<N> result;
  N running(0);
  for (std::size_t month = 0; month < flows.size(); ++month) {
    running += flows[month];
    result.months_out_of_pocket += flows[month] <= N(-least);
    if (running < N(result.deepest - least)) {
      result.deepest = running;
      result.deepest_month = static_cast<int>(month);
    }
  }
  return result;
}

template <class N>
N costliest_year(const Schedule<N>& schedule, std::span<const N> received) {
  // The last payment settles what rounding left, about a cent a payment at most: no year is costlier by that.
  const N rounding = N(N(static_cast<int>(schedule.payments.size())) / N(100));
  N costliest(0);
  N in_hand(0);
  std::size_t month = 0;
  auto line = schedule.payments.begin();
  for (int year = 1; line != schedule.payments.end(); ++year) {
    const int months = 12 * year;
    for (const std::size_t end = std::min(received.size(), static_cast<std::size_t>(months) + 1); month < end; ++month)
      in_hand += received[month];
    const dates::Date last = dates::add_months(schedule.start, months);
    N agreed(0);
    N lumps(0);
    for (; line != schedule.payments.end() && line->date <= last; ++line) {
      agreed += N(line->payment - line->lump);
      lumps += line->lump;
    }
    const N used = std::min(lumps, in_hand);
    in_hand -= used;
    const N cost = N(agreed + lumps - used);
    if (year == 1 || cost > N(costliest + rounding)) costliest = cost;
  }
  return costliest;
}

#define WARMLEDGER_INSTANTIATE(N)                            \
  template Ratio<N> debt_to_income<N>(const N&, const N&);   \
  template Ratio<N> payment_coverage<N>(const N&, const N&); \
  template Ratio<N> energy_burden<N>(const N&, const N&);    \
  template Purse<N> purse<N>(std::span<const N>);            \
  template N costliest_year<N>(const Schedule<N>&, std::span<const N>);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::loans
