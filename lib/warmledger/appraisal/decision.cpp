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
  // A loan pays when it leaves nothing to find at install, no year of it costs more than the first year saves, and it
  // does not lose in the long run. The best loan is the best month, of those that pay if any does.
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

std::string_view rhythm(int payments_per_year) {
  switch (payments_per_year) {
    case 52:
      return "a week";
    case 26:
      return "every two weeks";
    case 4:
      return "a quarter";
    case 2:
      return "a half-year";
    case 1:
      return "a year";
    default:
      return "a month";
  }
}

/// The loan's part of the reason, with everything that a look at its first payment would miss.
template <class N>
std::string with_loan(const loans::LoanTerms& terms, const LoanResult<N>& loan, const N& first_year_saving) {
  const auto cents = [](const N& amount) { return money::dollars(money::to_double(amount)); };
  std::string text = fmt::format(
      "With {}: {} {} against an average saving of {} a month in the first year ({} a month left in the costliest "
      "year; "
      "lowest month {}).",
      terms.title, cents(loan.schedule.level_payment), rhythm(terms.payments_per_year),
      cents(N(first_year_saving / N(12))), cents(loan.average_month_net), cents(loan.lowest_month_net));
  if (loan.owed_at_end > N(0))
    text += fmt::format(" {} would still be owed when the study ends.", cents(loan.owed_at_end));
  if (loan.schedule.lending.dealer_fee > N(0))
    text += fmt::format(" The dealer's fee raises the price by {}.", cents(loan.schedule.lending.dealer_fee));
  if (loan.sponsor_cost > N(0))
    text += fmt::format(" {} pays the lender {} for the lower rate.", terms.buy_down_payer, cents(loan.sponsor_cost));
  return text;
}

template <class N>
std::string reason_of(const Appraisal<N>& a, const Program& program) {
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
      return fmt::format("{} In cash: {}.", with_loan(program.loans[loan.loan], loan, m.first_year_saving), figures);
    }
    case Decision::needs_more_help:
      return fmt::format("{} more at install would meet the program's thresholds: {}.", cents(*m.extra_help.value),
                         figures);
    case Decision::does_not_pay:
      break;
  }
  if (!m.extra_help.value) return fmt::format("Does not pay: {}; {}.", m.extra_help.why_none, figures);
  return fmt::format("It would need {} more at install, above the program's most of {}: {}.",
                     cents(*m.extra_help.value), usd(N(program.decision.largest_extra_help_usd)), figures);
}

}  // namespace

template <class N>
std::string Appraiser::reason(const Appraisal<N>& a) const {
  std::string text = reason_of(a, *program_);
  if (!program_->as_if.empty()) text += " A what-if, and not how things stand.";
  return text;
}

template void decide<double>(Appraisal<double>&, const Program&);
template void decide<Decimal>(Appraisal<Decimal>&, const Program&);
template std::string Appraiser::reason<double>(const Appraisal<double>&) const;
template std::string Appraiser::reason<Decimal>(const Appraisal<Decimal>&) const;

}  // namespace warmledger::appraisal
