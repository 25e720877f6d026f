#include <array>

#include "warmledger/catalog/program_reader.hpp"

namespace warmledger::catalog {

loans::LoanTerms read_loan(const Section& section) {
  using loans::CollectedOn, loans::DeferredInterest, money::Rounding;
  loans::LoanTerms loan;
  loan.id = section.text_of("id");
  loan.title = section.text_of("title");
  loan.yearly_rate = section.number_of("yearly_rate");
  loan.term_months = section.whole_of("term_months");
  loan.largest_usd = section.maybe_number("largest_usd").value_or(loan.largest_usd);
  loan.rounding = std::array{Rounding::half_up, Rounding::half_even, Rounding::up, Rounding::down}.at(
      section.choice_of("rounding"));
  loan.payments_per_year = section.whole_of("payments_per_year");
  loan.first_payment_date = section.maybe_date("first_payment_date");
  loan.odd_days_year = section.whole_of("odd_days_year");
  loan.deferral_months = section.whole_of("deferral_months");
  loan.deferred_interest =
      std::array{DeferredInterest::added, DeferredInterest::waived, DeferredInterest::waived_if_paid}.at(
          section.choice_of("deferred_interest"));
  loan.interest_only_months = section.whole_of("interest_only_months");
  loan.balloon_share = section.number_of("balloon_share");
  loan.amortisation_months = section.whole_of("amortisation_months");
  loan.lump_usd = section.number_of("lump_usd");
  loan.lump_share = section.number_of("lump_share");
  loan.lump_months = section.whole_of("lump_months");
  loan.lump_date = section.maybe_date("lump_date");
  loan.lump_from_incentives = section.flag_of("lump_from_incentives");
  loan.reamortise = section.flag_of("reamortise");
  loan.early_payoff_months = section.whole_of("early_payoff_months");
  loan.interest_deduction_rate = section.number_of("interest_deduction_rate");
  loan.dealer_fee_share = section.number_of("dealer_fee_share");
  loan.points_share = section.number_of("points_share");
  loan.fee_usd = section.number_of("fee_usd");
  loan.fees_financed = section.flag_of("fees_financed");
  loan.buy_down_rate = section.number_of("buy_down_rate");
  loan.buy_down_payer = section.text_of("buy_down_payer");
  loan.collected_on = std::array{CollectedOn::loan_bill, CollectedOn::utility_bill, CollectedOn::property_tax_bill}.at(
      section.choice_of("collected_on"));
  located(section.file(), section.line(), [&] { loans::check(loan); });
  return loan;
}

}  // namespace warmledger::catalog
