#include "warmledger/catalog/program_reader.hpp"

#include <array>

namespace warmledger::catalog {

loans::LoanTerms read_loan(const Section& section) {
  loans::LoanTerms loan;
  loan.id = section.text_of("id");
  loan.title = section.text_of("title");
  loan.yearly_rate = section.number_of("yearly_rate");
  loan.term_months = section.whole_of("term_months");
  loan.largest_usd = section.maybe_number("largest_usd").value_or(loan.largest_usd);
  loan.rounding =
      std::array{money::Rounding::half_up, money::Rounding::half_even, money::Rounding::up, money::Rounding::down}.at(
          section.choice_of("rounding"));
  located(section.file(), section.line(), [&] { loans::check(loan); });
  return loan;
}

}  // namespace warmledger::catalog
