#include "warmledger/appraisal/parts.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace warmledger::appraisal {

using catalog::Program;
using economics::Measure;
using money::Decimal;

std::string_view name_of(Decision decision) {
  static constexpr std::array<std::string_view, 5> names{"pays in cash", "pays with loan", "needs more help",
                                                         "does not pay", "not suitable"};
  return names.at(static_cast<std::size_t>(decision));
}

template <class N>
void decide(Appraisal<N>& a, const Program& program) {
  // A loan pays when it leaves nothing to find at install, costs nothing in the first year's average month, and does
  // not lose in the long run. The best loan is the best month, of those that pay if any does.
  const auto pays = [](const LoanResult<N>& l) { return l.pays_from_month_one && l.net_savings >= N(0); };
  const bool loan_pays = std::any_of(a.loans.begin(), a.loans.end(), pays);
  for (std::size_t i = 0; i < a.loans.size(); ++i) {
    if (loan_pays && !pays(a.loans[i])) continue;
    if (!a.best_loan || a.loans[i].average_month_net > a.loans[*a.best_loan].average_month_net) a.best_loan = i;
  }
  const Measure<N>& help = a.measures.extra_help;
  if (!a.unsuitable.empty()) {
    a.decision = Decision::not_suitable;
  } else if (help.value && *help.value == N(0)) {
    a.decision = Decision::pays_in_cash;
  } else if (loan_pays) {
    a.decision = Decision::pays_with_loan;
  } else if (help.value && *help.value <= N(program.decision.largest_extra_help_usd)) {
    a.decision = Decision::needs_more_help;
  } else {
    a.decision = Decision::does_not_pay;
  }
}

namespace {

template <class N>
std::string years_or_none(const Measure<N>& measure) {
  return measure.value ? fmt::format("{:.1f} years", money::to_double(*measure.value))
                       : fmt::format("none ({})", measure.why_none);
}

}  // namespace

template <class N>
std::string Appraiser::reason(const Appraisal<N>& a) const {
  const Measures<N>& m = a.measures;
  const auto usd = [](const N& amount) { return money::whole_dollars(money::to_double(amount)); };
  const auto cents = [](const N& amount) { return money::dollars(money::to_double(amount)); };
  const std::string figures =
      fmt::format("net cost {}, first-year saving {}, simple payback {}, net savings {}", usd(m.net_cost),
                  usd(m.first_year_saving), years_or_none(m.simple_payback_years), usd(m.net_savings));
  switch (a.decision) {
    case Decision::not_suitable:
      return fmt::format("{}.", fmt::join(a.unsuitable, "; "));
    case Decision::pays_in_cash:
      return fmt::format("Meets the program's thresholds in cash: {}.", figures);
    case Decision::pays_with_loan: {
      const LoanResult<N>& loan = a.loans[*a.best_loan];
      return fmt::format(
          "With {}: {} a month against an average saving of {} a month in the first year ({} a month left; lowest "
          "month {}). In cash: {}.",
          program_->loans[loan.loan].title, cents(loan.schedule.level_payment), cents(N(m.first_year_saving / N(12))),
          cents(loan.average_month_net), cents(loan.lowest_month_net), figures);
    }
    case Decision::needs_more_help:
      return fmt::format("{} more at install would meet the program's thresholds: {}.", cents(*m.extra_help.value),
                         figures);
    case Decision::does_not_pay:
      break;
  }
  if (!m.extra_help.value) return fmt::format("Does not pay: {}; {}.", m.extra_help.why_none, figures);
  return fmt::format("It would need {} more at install, above the program's most of {}: {}.",
                     cents(*m.extra_help.value), usd(N(program_->decision.largest_extra_help_usd)), figures);
}

template void decide<double>(Appraisal<double>&, const Program&);
template void decide<Decimal>(Appraisal<Decimal>&, const Program&);
template std::string Appraiser::reason<double>(const Appraisal<double>&) const;
template std::string Appraiser::reason<Decimal>(const Appraisal<Decimal>&) const;

}  // namespace warmledger::appraisal
