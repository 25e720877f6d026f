#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "warmledger/errors/errors.hpp"
#include "warmledger/loans/schedule.hpp"

using namespace warmledger;
using money::Decimal;

namespace {

loans::LoanTerms terms(double rate, int months) {
  loans::LoanTerms t;
  t.yearly_rate = rate;
  t.term_months = months;
  return t;
}

const dates::Date start = dates::make_date(2026, 9, 1);

}  // namespace

TEST_CASE_TEMPLATE("principal sums to the amount, the balance ends at exactly zero, every line adds up", N, double,
                   Decimal) {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> rate(0.0, 1.0);
  std::uniform_int_distribution<int> term(1, 600);
  std::uniform_int_distribution<long long> cents(1, 5000000);
  for (int k = 0; k < 200; ++k) {
    const N amount = N(static_cast<double>(cents(random))) / N(100);
    const loans::LoanTerms t = terms(k % 10 == 0 ? 0.0 : rate(random), term(random));
    const auto schedule = loans::make_schedule(amount, t, start);
    N principal(0);
    N balance = schedule.amount;
    for (const auto& line : schedule.payments) {
      CHECK(money::round_cents(N(line.interest + line.principal)) == money::round_cents(line.payment));
      CHECK(line.interest >= N(0));
      balance = money::round_cents(N(balance - line.principal));
      CHECK(balance == line.balance);
      principal = money::round_cents(N(principal + line.principal));
    }
    CHECK(principal == schedule.amount);
    CHECK(schedule.payments.back().balance == N(0));
    CHECK(schedule.payments.size() <= static_cast<std::size_t>(t.term_months));
  }
}

TEST_CASE("both number types give the same schedule to the cent") {
  std::mt19937_64 random(11);
  std::uniform_real_distribution<double> rate(0.0, 0.4);
  std::uniform_int_distribution<int> term(1, 600);
  std::uniform_int_distribution<long long> cents(100, 100000000);
  for (int k = 0; k < 300; ++k) {
    const long long amount_cents = cents(random);
    const loans::LoanTerms t = terms(rate(random), term(random));
    const auto quick = loans::make_schedule(static_cast<double>(amount_cents) / 100.0, t, start);
    const auto exact = loans::make_schedule(Decimal(Decimal(amount_cents) / 100), t, start);
    REQUIRE(quick.payments.size() == exact.payments.size());
    for (std::size_t i = 0; i < quick.payments.size(); ++i) {
      CHECK(std::fabs(quick.payments[i].payment - money::to_double(exact.payments[i].payment)) < 0.011);
      CHECK(std::fabs(quick.payments[i].balance - money::to_double(exact.payments[i].balance)) < 0.011);
    }
  }
}

TEST_CASE("edge terms: rate 0, one payment, a cent, fifty years, a 31st") {
  const auto free = loans::make_schedule(1000.0, terms(0, 3), start);
  CHECK(free.payments[0].payment == 333.33);
  CHECK(free.payments[2].payment == 333.34);
  CHECK(free.total_interest == 0.0);
  const auto single = loans::make_schedule(500.0, terms(0.12, 1), start);
  REQUIRE(single.payments.size() == 1);
  CHECK(single.payments[0].payment == 505.0);
  const auto cent = loans::make_schedule(0.01, terms(0.06, 600), start);
  REQUIRE(cent.payments.size() == 1);
  CHECK(cent.payments[0].payment == 0.01);
  CHECK(loans::make_schedule(1e6, terms(0.05, 600), start).payments.size() == 600);
  CHECK(loans::make_schedule(0.0, terms(0.05, 600), start).payments.empty());
  const auto last_days = loans::make_schedule(100.0, terms(0.05, 3), dates::make_date(2027, 1, 31));
  CHECK(dates::iso(last_days.payments[0].date) == "2027-02-28");
  CHECK(dates::iso(last_days.payments[1].date) == "2027-03-31");
}

TEST_CASE("terms out of range are refused by name") {
  CHECK_THROWS_WITH_AS((void)loans::make_schedule(100.0, terms(40, 12), start),
                       "yearly_rate: 40 is out of range; allowed: 0 to 1 (0.06 is 6 %)", errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)loans::make_schedule(100.0, terms(0.05, 0), start), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)loans::make_schedule(100.0, terms(std::nan(""), 12), start), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)loans::make_schedule(-1.0, terms(0.05, 12), start), errors::ValueOutOfRange);
}
