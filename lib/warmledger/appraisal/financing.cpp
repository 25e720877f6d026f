#include <algorithm>
#include <array>
#include <limits>

#include "warmledger/appraisal/parts.hpp"

namespace warmledger::appraisal {

using catalog::Program;
using ledger::Category;
using money::Decimal;

namespace {

/// Incentives that arrive after the install date, by date.
template <class N>
std::vector<loans::DatedFlow<N>> later_awards(const ledger::Plan& plan) {
  std::vector<loans::DatedFlow<N>> later;
  for (const ledger::Award& award : plan.awards) {
    if (dates::days_between(plan.install_date, award.date) > 0)
      later.push_back({award.date, money::round_cents(N(award.usd))});
  }
  std::stable_sort(later.begin(), later.end(), [](const auto& a, const auto& b) { return a.date < b.date; });
  return later;
}

/// Works out one household's purchase with loan after loan.
template <class N>
class Financing {
 public:
  Financing(const Appraisal<N>& appraisal, const ledger::Sums<N>& sums, const catalog::Household& household,
            const Program& program)
      : book_(appraisal.ledger),
        measures_(appraisal.measures),
        household_(household),
        program_(program),
        rate_(economics::monthly_rate(N(program.nominal_discount_rate))),
        cash_(sums.cash()),
        later_(later_awards<N>(appraisal.plan)) {
    for (std::size_t month = 1; month <= 12; ++month)
      bills_[month - 1] =
          N(sums.difference(Category::fuel)[month] + sums.difference(Category::pump_electricity)[month]);
    const std::span<const N> received = sums.difference(Category::incentive);
    received_.assign(received.begin(), received.end());
    received_[0] = N(0);
  }

  [[nodiscard]] LoanResult<N> with(std::size_t index) const {
    const loans::LoanTerms& terms = program_.loans[index];
    const std::span<const loans::DatedFlow<N>> extra =
        terms.lump_from_incentives ? std::span(later_) : std::span<const loans::DatedFlow<N>>();
    LoanResult<N> result;
    result.loan = index;
    result.schedule = loans::make_schedule(measures_.due_at_install, terms, program_.install_date, extra);
    if (terms.buy_down_rate > 0)
      result.sponsor_cost = loans::buy_down(measures_.due_at_install, terms, program_.install_date, extra).cost;
    const loans::Lending<N>& lending = result.schedule.lending;
    result.paid_by_household_at_install =
        money::round_cents(N(measures_.due_at_install - lending.proceeds + lending.paid_at_closing));

    ledger::LoanMonths<N> loan = ledger::loan_months(result.schedule, book_.start(), book_.months());
    result.owed_at_end = N(N(0) - loan.owed_at_end);
    std::vector<N> flows = ledger::flows_of(std::move(loan), book_.months());
    if (terms.interest_deduction_rate > 0) {
      const ledger::Series<N> saved = ledger::interest_deduction(
          result.schedule, terms.title, terms.interest_deduction_rate, book_.start(), book_.months());
      auto month = static_cast<std::size_t>(saved.first_month);
      for (std::size_t k = 0; k < saved.amounts.size() && month < flows.size(); ++k) {
        flows[month] += saved.amounts[k];
        month += static_cast<std::size_t>(saved.step_months);
      }
    }
    result.net_savings = N(measures_.net_savings + economics::net_present_value(rate_, std::span<const N>(flows)));

    N lowest(std::numeric_limits<double>::max());
    for (std::size_t month = 1; month <= 12; ++month) {
      const N owed = month + 1 == flows.size() ? result.owed_at_end : N(0);
      lowest = std::min(lowest, N(bills_[month - 1] + flows[month] + owed));
    }
    result.lowest_month_net = lowest;
    for (std::size_t month = 0; month < flows.size(); ++month) flows[month] += cash_[month];
    result.purse = loans::purse(std::span<const N>(flows));

    const N costliest = loans::costliest_year(result.schedule, std::span<const N>(received_));
    result.average_month_net = N((measures_.first_year_saving - costliest) / N(12));
    result.pays_from_month_one = result.paid_by_household_at_install <= N(0) && result.average_month_net >= N(0);
    ratios(result, costliest);
    return result;
  }

 private:
  void ratios(LoanResult<N>& result, const N& costliest) const {
    const N income(household_.yearly_income_usd);
    const N month = N(costliest / N(12));
    result.coverage = loans::payment_coverage(N(measures_.first_year_saving / N(12)), month);
    if (household_.monthly_debt_payments_usd) {
      const N debts(*household_.monthly_debt_payments_usd);
      result.debt_ratio_before = loans::debt_to_income(debts, income);
      result.debt_ratio_after = loans::debt_to_income(N(debts + month), income);
    } else {
      result.debt_ratio_before = result.debt_ratio_after = {std::nullopt, "monthly_debt_payments_usd is not given"};
    }
    if (household_.yearly_energy_bills_usd) {
      const N bills = N(N(*household_.yearly_energy_bills_usd) - measures_.first_year_saving);
      result.energy_burden = loans::energy_burden(N(bills + costliest), income);
    } else {
      result.energy_burden = {std::nullopt, "yearly_energy_bills_usd is not given"};
    }
  }

  const ledger::Ledger<N>& book_;
  const Measures<N>& measures_;
  const catalog::Household& household_;
  const Program& program_;
  N rate_;
  std::array<N, 12> bills_;  ///< saved in months 1 to 12
  std::span<const N> cash_;  ///< what the purchase in cash changes in the household's purse, by month
  std::vector<N> received_;  ///< incentives by month, after the install date
  std::vector<loans::DatedFlow<N>> later_;
};

}  // namespace

template <class N>
std::vector<LoanResult<N>> with_loans(const Appraisal<N>& appraisal, const ledger::Sums<N>& sums,
                                      const catalog::Household& household, const Program& program) {
  std::vector<LoanResult<N>> results;
  if (appraisal.measures.due_at_install <= N(0) || program.loans.empty()) return results;
  results.reserve(program.loans.size());
  const Financing<N> financing(appraisal, sums, household, program);
  for (std::size_t index = 0; index < program.loans.size(); ++index) {
    LoanResult<N> result = financing.with(index);
    if (result.schedule.amount > N(0)) results.push_back(std::move(result));
  }
  return results;
}

template std::vector<LoanResult<double>> with_loans<double>(const Appraisal<double>&, const ledger::Sums<double>&,
                                                            const catalog::Household&, const Program&);
template std::vector<LoanResult<Decimal>> with_loans<Decimal>(const Appraisal<Decimal>&, const ledger::Sums<Decimal>&,
                                                              const catalog::Household&, const Program&);

}  // namespace warmledger::appraisal
