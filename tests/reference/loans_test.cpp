// Loan arithmetic against published values.
#include <doctest/doctest.h>

#include <array>

#include "warmledger/loans/schedule.hpp"

using namespace warmledger;

TEST_CASE("level payments: published examples") {
  // A database vendor's manual page for its PAYMENT function: 998.38. numpy-financial docstring for pmt:
  // 1854.0247200054619. The third is a classic from memory, the fourth constructed.
  CHECK(money::round_cents(loans::level_payment(100000.0, 0.105 / 12, 240)) == 998.38);
  CHECK(loans::level_payment(200000.0, 0.075 / 12, 180) == doctest::Approx(1854.0247200054619).epsilon(1e-13));
  CHECK(money::round_cents(loans::level_payment(200000.0, 0.06 / 12, 360)) == 1199.10);
  CHECK(loans::level_payment(6000.0, 0.05 / 12, 60) == doctest::Approx(113.227402).epsilon(1e-8));
  CHECK(loans::present_value_of_payments(1854.0247200054619, 0.075 / 12, 180) ==
        doctest::Approx(200000.0).epsilon(1e-13));
}

TEST_CASE_TEMPLATE("2500 at 8.24 %, 12 payments: the numpy-financial ipmt/ppmt example, rounded to cents each month", N,
                   double, money::Decimal) {
  // Interest and principal of the docstring differ from these by a cent in lines 6, 8, 10 and 12: it does not round.
  struct Line {
    double interest, principal, payment, balance;
  };
  static constexpr std::array<Line, 12> expected{{{17.17, 200.58, 217.75, 2299.42},
                                                  {15.79, 201.96, 217.75, 2097.46},
                                                  {14.40, 203.35, 217.75, 1894.11},
                                                  {13.01, 204.74, 217.75, 1689.37},
                                                  {11.60, 206.15, 217.75, 1483.22},
                                                  {10.18, 207.57, 217.75, 1275.65},
                                                  {8.76, 208.99, 217.75, 1066.66},
                                                  {7.32, 210.43, 217.75, 856.23},
                                                  {5.88, 211.87, 217.75, 644.36},
                                                  {4.42, 213.33, 217.75, 431.03},
                                                  {2.96, 214.79, 217.75, 216.24},
                                                  {1.48, 216.24, 217.72, 0.00}}};
  loans::LoanTerms terms;
  terms.yearly_rate = 0.0824;
  terms.term_months = 12;
  const auto schedule = loans::make_schedule(N(2500), terms, dates::make_date(2026, 1, 1));
  REQUIRE(schedule.payments.size() == 12);
  for (std::size_t k = 0; k < 12; ++k) {
    const auto& line = schedule.payments[k];
    CHECK(money::to_double(line.interest) == doctest::Approx(expected[k].interest).epsilon(1e-12));
    CHECK(money::to_double(line.principal) == doctest::Approx(expected[k].principal).epsilon(1e-12));
    CHECK(money::to_double(line.payment) == doctest::Approx(expected[k].payment).epsilon(1e-12));
    CHECK(money::to_double(line.balance) == doctest::Approx(expected[k].balance).epsilon(1e-12));
  }
  CHECK(money::to_double(schedule.total_interest) == doctest::Approx(112.97).epsilon(1e-12));
}

TEST_CASE_TEMPLATE("last payment and total interest under monthly half-up rounding (recomputed in decimal)", N, double,
                   money::Decimal) {
  struct Case {
    double amount, rate;
    int months;
    double last, interest;
  };
  for (const Case& c : {Case{6000, 0.05, 60, 113.06, 793.63}, Case{200000, 0.06, 360, 1200.14, 231677.04},
                        Case{200000, 0.075, 180, 1855.50, 133725.08}}) {
    loans::LoanTerms terms;
    terms.yearly_rate = c.rate;
    terms.term_months = c.months;
    const auto schedule = loans::make_schedule(N(c.amount), terms, dates::make_date(2026, 1, 1));
    CHECK(money::to_double(schedule.payments.back().payment) == doctest::Approx(c.last).epsilon(1e-12));
    CHECK(money::to_double(schedule.total_interest) == doctest::Approx(c.interest).epsilon(1e-12));
  }
}
