#include "warmledger/appraisal/parts.hpp"

#include <algorithm>
#include <limits>

namespace warmledger::appraisal {

using catalog::Program;
using ledger::Category;
using money::Decimal;

template <class N>
std::vector<LoanResult<N>> with_loans(const ledger::Ledger<N>& book, const Measures<N>& measures,
                                      const Program& program) {
  std::vector<LoanResult<N>> results;
  if (measures.due_at_install <= N(0)) return results;
  const std::vector<N> fuel = book.difference(Category::fuel);
  const std::vector<N> pump = book.difference(Category::pump_electricity);
  const N rate = economics::monthly_rate(N(program.nominal_discount_rate));
  for (std::size_t index = 0; index < program.loans.size(); ++index) {
    const loans::LoanTerms& terms = program.loans[index];
    LoanResult<N> result;
    result.loan = index;
    const N amount = std::min(measures.due_at_install, N(terms.largest_usd));
    result.schedule = loans::level_schedule(amount, terms, program.install_date);
    result.paid_by_household_at_install = money::round_cents(N(measures.due_at_install - result.schedule.amount));
    N lowest(std::numeric_limits<double>::max());
    N paid(0);
    for (std::size_t month = 1; month <= 12; ++month) {
      const N payment = month <= result.schedule.payments.size() ? result.schedule.payments[month - 1].payment : N(0);
      paid += payment;
      lowest = std::min(lowest, N(fuel[month] + pump[month] - payment));
    }
    result.average_month_net = N((measures.first_year_saving - paid) / N(12));
    result.lowest_month_net = lowest;
    ledger::Ledger<N> financed(book.start(), book.years());
    for (ledger::Series<N>& series : ledger::loan_series(result.schedule, terms.title, book.months()))
      financed.add(std::move(series));
    const std::vector<N> flows = financed.difference();
    result.net_savings = N(measures.net_savings + economics::net_present_value(rate, std::span<const N>(flows)));
    result.pays_from_month_one = result.paid_by_household_at_install <= N(0) && result.average_month_net >= N(0);
    results.push_back(std::move(result));
  }
  return results;
}

template std::vector<LoanResult<double>> with_loans<double>(const ledger::Ledger<double>&, const Measures<double>&,
                                                            const Program&);
template std::vector<LoanResult<Decimal>> with_loans<Decimal>(const ledger::Ledger<Decimal>&, const Measures<Decimal>&,
                                                              const Program&);

}  // namespace warmledger::appraisal
