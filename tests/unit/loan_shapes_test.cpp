// Loans of every shape: what every schedule must hold, the two number types, and the shapes one by one.
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "warmledger/errors/errors.hpp"
#include "warmledger/loans/ability.hpp"
#include "warmledger/loans/disclosure.hpp"

using namespace warmledger;
using namespace warmledger::loans;
using money::Decimal;
using money::to_double;

namespace {

struct Case {
  double amount = 0;
  LoanTerms terms;
  dates::Date start{};
};

/// Random terms that check() accepts; every shape comes up.
class Cases {
 public:
  explicit Cases(unsigned seed) : random_(seed) {}

  Case next() {
    for (;;) {
      Case c = draw();
      try {
        check(c.terms);
        return c;
      } catch (const errors::Contradiction&) {
        continue;  // shapes that do not go together
      }
    }
  }

 private:
  bool one_in(int n) { return std::uniform_int_distribution<int>(1, n)(random_) == 1; }
  int whole(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
  double real(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random_); }

  Case draw() {
    static constexpr std::array rhythms{52, 26, 12, 12, 12, 4, 2, 1};
    Case c;
    // Cents from 0.01 to 1e12, every order of size alike; most of them household sums.
    const double size = one_in(8) ? real(-2, 12) : real(2, 4.9);
    c.amount = std::max(0.01, std::round(std::pow(10, size) * 100) / 100);
    LoanTerms& t = c.terms;
    t.payments_per_year = rhythms.at(static_cast<std::size_t>(whole(0, 7)));
    const int step = t.payments_per_year > 12 ? 1 : 12 / t.payments_per_year;
    t.term_months = step * whole(1, one_in(10) ? 600 / step : std::max(1, 180 / step));
    t.yearly_rate = one_in(6) ? 0 : one_in(10) ? real(0, 1) : real(0, 0.2);
    t.rounding = static_cast<money::Rounding>(whole(0, 3));
    c.start = dates::make_date(whole(2024, 2030), static_cast<unsigned>(whole(1, 12)), 1);
    c.start = dates::Date{c.start.year(), c.start.month(), std::chrono::day{one_in(3) ? 29U : 15U}};
    if (!c.start.ok()) c.start = dates::Date{c.start.year(), c.start.month(), std::chrono::day{28}};
    if (one_in(5)) {
      t.first_payment_date =
          dates::Date{std::chrono::sys_days{dates::add_months(c.start, step)} + std::chrono::days{whole(-6, 200)}};
      t.odd_days_year = one_in(2) ? 365 : 360;
    } else if (one_in(4)) {
      t.deferral_months = step * whole(1, 3);
      t.deferred_interest = static_cast<DeferredInterest>(whole(0, 2));
    }
    if (one_in(5)) t.interest_only_months = step * whole(1, 4);
    if (one_in(6)) t.balloon_share = real(0.05, 0.9);
    if (one_in(6)) t.amortisation_months = std::min(1200, t.term_months + step * whole(0, 60));
    if (one_in(5)) {
      if (one_in(2))
        t.lump_usd = std::round(c.amount * real(0, 0.6) * 100) / 100;
      else
        t.lump_share = real(0.05, 0.6);
      if (t.lump_usd > 0 || t.lump_share > 0) t.lump_months = whole(1, t.term_months);
      t.reamortise = one_in(2);
    }
    if (one_in(8)) t.early_payoff_months = whole(1, t.term_months);
    if (one_in(6)) t.dealer_fee_share = real(0.01, 0.3);
    if (one_in(5)) t.points_share = real(0.005, 0.05);
    if (one_in(6)) t.fee_usd = std::round(real(1, 400) * 100) / 100;
    t.fees_financed = one_in(2);
    if (one_in(6) && t.yearly_rate > 0) {
      t.buy_down_rate = t.yearly_rate * real(0.1, 1);
      t.buy_down_payer = "the town";
    }
    return c;
  }

  std::mt19937_64 random_;
};

long long cents(double dollars) {
  return std::llround(dollars * 100);
}

LoanTerms level(double rate, int months) {
  LoanTerms t;
  t.yearly_rate = rate;
  t.term_months = months;
  return t;
}

const dates::Date may = dates::make_date(2026, 5, 1);

}  // namespace

TEST_CASE("every schedule of every shape adds up to the cent and ends at exactly zero") {
  Cases cases(2026);
  for (int trial = 0; trial < 4000; ++trial) {
    const Case c = cases.next();
    CAPTURE(trial);
    const auto s = make_schedule(c.amount, c.terms, c.start);
    if (s.amount == 0.0) {  // the charges would eat the loan
      CHECK(c.terms.fee_usd + c.amount * (c.terms.points_share + c.terms.dealer_fee_share) > 0);
      continue;
    }
    const Lending<double>& l = s.lending;
    CHECK(cents(l.amount) ==
          cents(l.proceeds) + cents(l.dealer_fee) + cents(l.points_and_fee) - cents(l.paid_at_closing));
    if (l.amount < 1e12 && (c.terms.fees_financed || l.points_and_fee == 0.0))
      CHECK(std::fabs(l.proceeds - c.amount) <= 0.03 + 1e-12 * c.amount);
    // Counted in whole cents.
    long long balance = cents(s.amount);
    long long paid = 0;
    long long principal = 0;
    long long added = 0;
    dates::Date before = c.start;
    int number = 0;
    REQUIRE_FALSE(s.payments.empty());
    for (const auto& line : s.payments) {
      CHECK(line.number == ++number);
      CHECK(dates::days_between(before, line.date) > 0);
      before = line.date;
      for (const double amount : {line.payment, line.interest, line.principal, line.balance, line.added, line.lump})
        CHECK(amount >= 0.0);
      CHECK(line.lump <= line.payment);
      CHECK(cents(line.payment) == cents(line.interest) + cents(line.principal));
      balance += cents(line.added) - cents(line.principal);
      CHECK(balance == cents(line.balance));
      paid += cents(line.payment);
      principal += cents(line.principal);
      added += cents(line.added);
    }
    CHECK(s.payments.back().balance == 0.0);
    CHECK(principal == cents(s.amount) + added);
    CHECK(paid == cents(s.amount) + cents(s.total_interest));
    CHECK(added == cents(s.added_interest));
  }
}

TEST_CASE("double and 50 digits agree: amounts to the cent, rates to 1e-9") {
  Cases cases(77);
  int rates = 0;
  for (int trial = 0; trial < 2500; ++trial) {
    const Case c = cases.next();
    CAPTURE(trial);
    const auto quick = make_schedule(c.amount, c.terms, c.start);
    const auto fine = make_schedule(Decimal(c.amount), c.terms, c.start);
    REQUIRE(quick.payments.size() == fine.payments.size());
    CHECK(cents(quick.amount) == cents(to_double(fine.amount)));
    for (std::size_t k = 0; k < quick.payments.size(); ++k) {
      CHECK(quick.payments[k].date == fine.payments[k].date);
      CHECK(cents(quick.payments[k].payment) == cents(to_double(fine.payments[k].payment)));
      CHECK(cents(quick.payments[k].balance) == cents(to_double(fine.payments[k].balance)));
    }
    if (trial % 25 != 0 || quick.payments.empty()) continue;
    const auto a = disclose(quick).annual_percentage_rate;
    const auto b = disclose(fine).annual_percentage_rate;
    REQUIRE(a.value.has_value() == b.value.has_value());
    if (!a.value) continue;
    ++rates;
    CHECK(std::fabs(*a.value - to_double(*b.value)) <= 1e-9 * std::max(1.0, std::fabs(*a.value)));
    const auto bought = buy_down(c.amount, c.terms, c.start);
    CHECK(std::fabs(bought.cost - to_double(buy_down(Decimal(c.amount), c.terms, c.start).cost)) <=
          0.0101 + 1e-12 * c.amount);
  }
  CHECK(rates > 50);
}

TEST_CASE("the rate disclosed from the dates alone is the nominal rate of a loan without charges") {
  for (const int rhythm : {52, 26, 12, 4, 2, 1}) {
    CAPTURE(rhythm);
    for (const unsigned day : {1U, 15U, 28U, 31U}) {
      LoanTerms t = level(0.0799, 120);
      t.payments_per_year = rhythm;
      const auto start = dates::make_date(2027, 1, day);
      const auto shown = disclose(make_schedule(9000.0, t, start));
      CHECK(shown.unit_periods_per_year == static_cast<double>(rhythm));
      CHECK(std::fabs(*shown.annual_percentage_rate.value - 0.0799) < 3e-5);  // payments are whole cents
      t.interest_only_months = 24;
      CHECK(std::fabs(*disclose(make_schedule(9000.0, t, start)).annual_percentage_rate.value - 0.0799) < 3e-5);
      t.balloon_share = 0.4;
      CHECK(std::fabs(*disclose(make_schedule(9000.0, t, start)).annual_percentage_rate.value - 0.0799) < 3e-5);
      t.deferral_months = 12;
      CHECK(std::fabs(*disclose(make_schedule(9000.0, t, start)).annual_percentage_rate.value - 0.0799) < 3e-5);
    }
  }
}

TEST_CASE(
    "points and fees, paid or financed, raise the rate alike; a dealer's fee is a finance charge of a free loan") {
  LoanTerms t = level(0.06, 60);
  t.points_share = 0.02;
  t.fee_usd = 150;
  const auto paid = make_schedule(6000.0, t, may);
  CHECK(paid.amount == 6000.0);
  CHECK(paid.lending.paid_at_closing == 270.0);
  CHECK(disclose(paid).amount_financed == 5730.0);
  t.fees_financed = true;
  const auto lent = make_schedule(6000.0, t, may);
  CHECK(lent.amount == 6275.51);  // (6000 + 150) / 0.98
  CHECK(lent.lending.proceeds == 6000.0);
  CHECK(disclose(lent).amount_financed == 6000.0);
  CHECK(disclose(lent).finance_charge == doctest::Approx(disclose(lent).total_of_payments - 6000.0));

  LoanTerms free = level(0.0, 120);
  free.dealer_fee_share = 0.2;
  const auto raised = make_schedule(6000.0, free, may);
  CHECK(raised.amount == 7500.0);
  CHECK(raised.lending.dealer_fee == 1500.0);
  CHECK(raised.level_payment == 62.5);
  CHECK(disclose(raised).amount_financed == 6000.0);
  CHECK(disclose(raised).finance_charge == 1500.0);
  CHECK(*disclose(raised).annual_percentage_rate.value > 0.04);
}

TEST_CASE("deferral: interest added, waived, or waived if paid by its end") {
  LoanTerms t = level(0.12, 24);
  t.deferral_months = 12;
  const auto added = make_schedule(1000.0, t, may);
  CHECK(added.payments[11].balance == 1126.84);  // 1000 * 1.01^12 = 1126.83, and a cent of twelve roundings
  CHECK(added.added_interest == 126.84);
  t.deferred_interest = DeferredInterest::waived;
  CHECK(make_schedule(1000.0, t, may).payments[11].balance == 1000.0);
  t.deferred_interest = DeferredInterest::waived_if_paid;
  const auto late = make_schedule(1000.0, t, may);
  CHECK(late.payments[10].balance == 1000.0);
  CHECK(late.payments[11].balance == 1120.0);  // twelve months of 10 dollars, charged at once
  t.early_payoff_months = 12;
  const auto in_time = make_schedule(1000.0, t, may);
  REQUIRE(in_time.payments.size() == 12);
  CHECK(in_time.payments[11].payment == 1000.0);
  CHECK(in_time.total_interest == 0.0);
  CHECK(*disclose(in_time).annual_percentage_rate.value == 0.0);
  t.early_payoff_months = 13;
  CHECK(make_schedule(1000.0, t, may).total_interest == doctest::Approx(131.2));  // one month too late
}

TEST_CASE("a lump ends the loan sooner, or lowers the payment and keeps the term") {
  LoanTerms t = level(0.06, 120);
  t.lump_usd = 1800;
  t.lump_months = 11;
  const auto sooner = make_schedule(6000.0, t, may);
  CHECK(sooner.level_payment == 66.61);
  CHECK(sooner.payments[10].payment == doctest::Approx(1866.61));
  CHECK(sooner.payments[10].lump == 1800.0);
  CHECK(sooner.payments[11].payment == 66.61);
  CHECK(sooner.payments.size() < 90);
  t.reamortise = true;
  const auto lower = make_schedule(6000.0, t, may);
  CHECK(lower.payments.size() == 120);
  CHECK(lower.payments[11].payment == money::round_cents(level_payment(lower.payments[10].balance, 0.005, 109)));
  t.lump_usd = 60000;
  CHECK(make_schedule(6000.0, t, may).payments.size() == 11);  // no more than is owed
}

TEST_CASE("equal payments that run below the interest of a long first period add what they leave to the balance") {
  LoanTerms t = level(0.18, 360);
  t.first_payment_date = dates::make_date(2027, 11, 20);
  const auto s = make_schedule(5000.0, t, may);
  CHECK(s.payments[0].principal == 0.0);
  CHECK(s.payments[0].added > 1000.0);
  CHECK(s.payments[0].interest == s.level_payment);
  CHECK(s.payments.back().balance == 0.0);
  CHECK(std::fabs(s.payments.back().payment - s.level_payment) < 20);  // cents of 360 payments at 18 %
  // 2 November to 20 December 2026: one month back to 20 November, and 18 days.
  t = level(0.07, 60);
  t.first_payment_date = dates::make_date(2026, 12, 20);
  const auto odd = make_schedule(6000.0, t, dates::make_date(2026, 11, 2));
  CHECK(odd.payments[0].interest == money::round_cents(6000 * (0.07 / 12 + 0.07 * 18 / 365)));
  CHECK(std::fabs(odd.payments.back().payment - odd.level_payment) < 0.6);
}

TEST_CASE("a sponsor's buy-down costs what the lender's later payments are worth") {
  LoanTerms t = level(0.08, 120);
  t.buy_down_rate = 0.08;
  t.buy_down_payer = "the county";
  const auto free = buy_down(6000.0, t, may);
  CHECK(free.level_payment_with == 50.0);
  CHECK(free.level_payment_without == 72.80);
  // To the cents of the payments: 6000 less 120 payments of 50 at 8 %.
  CHECK(std::fabs(free.cost - (6000 - present_value_of_payments(50.0, 0.08 / 12, 120))) < 0.3);
  CHECK(buy_down(6000.0, level(0.08, 120), may).cost == 0.0);
}

TEST_CASE("what is owed on a day, between payments too") {
  const auto s = make_schedule(6000.0, level(0.06, 120), may);
  CHECK(owed_on(s, may) == 6000.0);
  CHECK(owed_on(s, s.payments[11].date) == s.payments[11].balance);
  const dates::Date between = dates::make_date(2027, 5, 16);  // 15 of 31 days after payment 12
  CHECK(owed_on(s, between) == money::round_cents(s.payments[11].balance + s.payments[12].interest * 15 / 31));
  CHECK(owed_on(s, dates::make_date(2040, 1, 1)) == 0.0);
}

TEST_CASE("payment days one after the other, and what is owed on any day, as a walk over the payments has them") {
  Cases cases(61);
  for (int trial = 0; trial < 300; ++trial) {
    const Case c = cases.next();
    PaymentDates days(c.terms, c.start);
    for (int number = 1; number <= 60; ++number) CHECK(days.next() == payment_date(c.terms, c.start, number));
    const auto s = make_schedule(c.amount, c.terms, c.start);
    for (int days_on : {-1, 0, 1, 13, 200, 1000, 4000, 20000}) {
      const dates::Date date{std::chrono::sys_days{c.start} + std::chrono::days{days_on}};
      double owed = s.amount;
      dates::Date since = c.start;
      for (const auto& line : s.payments) {
        if (line.date > date) {
          const double interest =
              (line.interest + line.added) * dates::days_between(since, date) / dates::days_between(since, line.date);
          if (date > since) owed = money::round_cents(owed + interest);
          break;
        }
        owed = line.balance;
        since = line.date;
      }
      CHECK(owed_on(s, date) == owed);
    }
  }
}

TEST_CASE("ability to pay") {
  CHECK(*debt_to_income(1800.0, 60000.0).value == doctest::Approx(0.36));
  CHECK_FALSE(debt_to_income(1800.0, 0.0).value.has_value());
  CHECK(debt_to_income(1800.0, 0.0).why_none == "there is no income");
  CHECK_THROWS_AS((void)debt_to_income(-1.0, 60000.0), errors::ValueOutOfRange);
  CHECK(*payment_coverage(30.0, 60.0).value == 0.5);
  CHECK(payment_coverage(30.0, 0.0).why_none == "there is nothing to pay");
  const std::vector<double> flows{-100, 20, -30, 50, 200};
  const auto found = purse(std::span<const double>(flows));
  CHECK(found.months_out_of_pocket == 2);
  CHECK(found.deepest == -110.0);
  CHECK(found.deepest_month == 2);
  // A balloon is in the costliest year, a lump only as far as nothing came in for it.
  LoanTerms t = level(0.06, 36);
  t.balloon_share = 0.5;
  const std::vector<double> nothing(37, 0.0);
  const auto s = make_schedule(6000.0, t, may);
  CHECK(costliest_year(s, std::span<const double>(nothing)) > 3000.0);
  t = level(0.06, 120);
  t.lump_usd = 1000;
  t.lump_months = 10;
  std::vector<double> credit(37, 0.0);
  credit[9] = 700;
  const auto lumped = make_schedule(6000.0, t, may);
  CHECK(costliest_year(lumped, std::span<const double>(credit)) == doctest::Approx(12 * 66.61 + 300));
}

TEST_CASE("terms that do not go together are refused by name") {
  LoanTerms t = level(0.06, 120);
  t.payments_per_year = 7;
  CHECK_THROWS_WITH_AS(check(t), "payments_per_year: 7 is no such rhythm; allowed: 52, 26, 12, 4, 2, 1",
                       errors::ValueOutOfRange);
  t.payments_per_year = 2;
  t.term_months = 121;
  CHECK_THROWS_AS(check(t), errors::Contradiction);
  t = level(0.06, 24);
  t.interest_only_months = 24;
  CHECK_THROWS_AS(check(t), errors::Contradiction);
  t = level(0.06, 24);
  t.buy_down_rate = 0.01;
  CHECK_THROWS_AS(check(t), errors::MissingValue);
  t = level(0.06, 24);
  t.first_payment_date = may;
  CHECK_THROWS_AS((void)make_schedule(100.0, t, may), errors::ValueOutOfRange);
  t = level(0.06, 24);
  t.lump_usd = 5;
  CHECK_THROWS_AS(check(t), errors::Contradiction);
}
