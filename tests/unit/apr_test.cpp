#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "warmledger/errors/errors.hpp"
#include "warmledger/loans/apr.hpp"
#include "warmledger/loans/schedule.hpp"

using namespace warmledger;
using namespace warmledger::loans;
using money::Decimal;
using Kind = UnitPeriod::Kind;

namespace {

template <class N>
AnnualRate<N> rate_of(const std::vector<Flow<N>>& advances, const std::vector<Flow<N>>& payments, const N& per_year) {
  return apr(std::span<const Flow<N>>(advances), std::span<const Flow<N>>(payments), per_year);
}

/// Present value as Appendix J writes it, straight from the formula.
double plain_present_value(const std::vector<Flow<double>>& flows, double i) {
  double sum = 0;
  for (const auto& flow : flows) sum += flow.amount / ((1 + flow.fraction * i) * std::pow(1 + i, flow.whole_periods));
  return sum;
}

dates::Date day(const char* text) {
  return dates::parse_date(text);
}

}  // namespace

TEST_CASE("present value at the rate equals the advances, for random credit of every shape") {
  std::mt19937_64 random(41);
  std::uniform_real_distribution<double> dollars(0.01, 5000);
  std::uniform_real_distribution<double> fraction(0, 1);
  std::uniform_int_distribution<int> count(1, 60);
  int negative = 0;
  for (int trial = 0; trial < 2000; ++trial) {
    std::vector<Flow<double>> advances{{dollars(random) * 10, 0, 0.0}};
    for (int k = 1; k < count(random) % 4; ++k) advances.push_back({dollars(random), k, fraction(random)});
    std::vector<Flow<double>> payments;
    const int payments_count = count(random);
    for (int k = 0; k < payments_count; ++k) payments.push_back({dollars(random), 4 + k, fraction(random)});
    const auto rate = rate_of(advances, payments, 12.0);
    REQUIRE(rate.value.has_value());
    const double i = *rate.value / 12;
    REQUIRE(i > -1);
    negative += i < 0;
    const double lent = plain_present_value(advances, i);
    CHECK(plain_present_value(payments, i) == doctest::Approx(lent).epsilon(1e-9));
  }
  CHECK(negative > 20);
}

TEST_CASE("both number types agree to 1e-9") {
  std::mt19937_64 random(43);
  std::uniform_int_distribution<int> cents(100, 50000);
  std::uniform_int_distribution<int> days(0, 30);
  for (int trial = 0; trial < 100; ++trial) {
    std::vector<Flow<double>> quick;
    std::vector<Flow<Decimal>> fine;
    const int odd = days(random);
    for (int k = 0; k < 24; ++k) {
      const int amount = cents(random);
      quick.push_back(flow_at(amount / 100.0, {k, odd, 30}));
      fine.push_back(flow_at(Decimal(Decimal(amount) / 100), {k, odd, 30}));
    }
    const int lent = cents(random) * 10;
    const auto a = rate_of<double>({{lent / 100.0, 0, 0}}, quick, 12.0);
    const auto b = rate_of<Decimal>({{Decimal(Decimal(lent) / 100), 0, 0}}, fine, Decimal(12));
    REQUIRE(a.value.has_value() == b.value.has_value());
    if (a.value) CHECK(*a.value == doctest::Approx(money::to_double(*b.value)).epsilon(1e-9));
  }
}

TEST_CASE("rates of zero, below zero and very high, long terms, tiny and huge amounts") {
  CHECK(*rate_of<double>({{1200, 0, 0}}, regular_flows(100.0, {1, 0, 1}, 12), 12.0).value == 0.0);
  // A third of a dollar is no binary number, but thirds that add up carry no interest either.
  CHECK(*rate_of<double>({{100, 0, 0}}, regular_flows(100.0 / 3, {1, 0, 1}, 3), 12.0).value == 0.0);
  // 100 lent, 81 back after two periods: (1 + i)^2 = 0.81.
  CHECK(*rate_of<double>({{100, 0, 0}}, {{81, 2, 0}}, 1.0).value == doctest::Approx(-0.1).epsilon(1e-13));
  // 1e-6 of the loan comes back: i = 1e-6 - 1.
  CHECK(*rate_of<double>({{100, 0, 0}}, {{0.0001, 1, 0}}, 1.0).value == doctest::Approx(1e-6 - 1).epsilon(1e-13));
  // A fraction of a period is simple interest: 1 + i / 30 = 10.
  CHECK(*rate_of<double>({{100, 0, 0}}, {flow_at(1000.0, {0, 1, 30})}, 12.0).value ==
        doctest::Approx(12 * 270).epsilon(1e-12));
  CHECK(*rate_of<double>({{1, 0, 0}}, {{1e12, 1, 0}}, 1.0).value == doctest::Approx(1e12 - 1).epsilon(1e-12));
  for (const double amount : {0.01, 1e12}) {
    const double payment = level_payment(amount, 0.07 / 12, 600);
    CHECK(*rate_of<double>({{amount, 0, 0}}, regular_flows(payment, {1, 0, 1}, 600), 12.0).value ==
          doctest::Approx(0.07).epsilon(1e-11));
  }
  // 600 months with almost nothing paid back, where (1 + i)^-600 would overflow.
  CHECK(*rate_of<double>({{1e6, 0, 0}}, {{1e-6, 600, 0}}, 12.0).value ==
        doctest::Approx(12 * (std::pow(1e-12, 1.0 / 600) - 1)).epsilon(1e-12));
  CHECK(money::to_double(*rate_of<Decimal>({{Decimal(100), 0, 0}}, {{Decimal(81), 2, 0}}, Decimal(1)).value) ==
        doctest::Approx(-0.1).epsilon(1e-15));
}

TEST_CASE("a schedule's own rate is recovered from its payments to the cents rounding") {
  const auto schedule =
      make_schedule<double>(6000, {.id = "", .title = "", .yearly_rate = 0.07, .term_months = 60}, day("2026-01-31"));
  std::vector<Flow<double>> payments;
  for (const auto& line : schedule.payments) {
    payments.push_back(flow_at(line.payment, unit_periods(day("2026-01-31"), line.date, {Kind::month, 1}, 31)));
    CHECK(payments.back().whole_periods == line.number);
    CHECK(payments.back().fraction == 0.0);
  }
  CHECK(std::fabs(*rate_of<double>({{6000, 0, 0}}, payments, 12.0).value - 0.07) < 2e-5);
}

TEST_CASE("no rate is none with a reason") {
  CHECK(rate_of<double>({}, {{10, 1, 0}}, 12.0).why_none == "nothing is advanced");
  CHECK(rate_of<double>({{0, 0, 0}}, {{10, 1, 0}}, 12.0).why_none == "nothing is advanced");
  CHECK(rate_of<double>({{10, 0, 0}}, {}, 12.0).why_none == "nothing is paid back");
  CHECK(rate_of<double>({{10, 1, 0}}, {{11, 0, 0.5}}, 12.0).why_none == "a payment falls before the first advance");
  // More is paid at once than was advanced: no rate can balance that.
  const auto at_once = rate_of<double>({{10, 0, 0}}, {{11, 0, 0}}, 12.0);
  CHECK_FALSE(at_once.value.has_value());
  CHECK(at_once.why_none == "no rate above -1 a unit-period balances payments and advances");
}

TEST_CASE("amounts, times and unit-periods a year outside their range are refused by name") {
  CHECK_THROWS_WITH_AS((void)rate_of<double>({{-5, 0, 0}}, {{10, 1, 0}}, 12.0),
                       "advances[0].amount: -5 is out of range; allowed: finite amounts of 0 or more dollars",
                       errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)rate_of<double>({{5, 0, 0}}, {{std::nan(""), 1, 0}}, 12.0), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)rate_of<double>({{5, 0, 0}}, {{6, -1, 0}}, 12.0), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)rate_of<double>({{5, 0, 0}}, {{6, 1, 1.5}}, 12.0), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)rate_of<double>({{5, 0, 0}}, {{6, 1, 0}}, 0.0), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)unit_periods(day("2026-02-01"), day("2026-01-01"), {Kind::month, 1}), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)unit_periods(day("2026-01-01"), day("2026-02-01"), {Kind::month, 12}), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)unit_periods(day("2026-01-01"), day("2026-02-01"), {Kind::year, 2}), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)single_payment(day("2026-01-01"), day("2026-01-01")), errors::ValueOutOfRange);
}

TEST_CASE("months count back from the later date: month ends, leap days, a 30-day remainder") {
  const auto count = [](const char* start, const char* date, UnitPeriod period, int series_day = 0) {
    return unit_periods(day(start), day(date), period, series_day);
  };
  const UnitPeriod month{Kind::month, 1};
  // A series on the last day of each month runs from last day to last day, through February.
  CHECK(count("2026-01-31", "2026-02-28", month, 31).whole == 1);
  CHECK(count("2026-01-31", "2026-02-28", month, 31).numerator == 0);
  CHECK(count("2028-01-31", "2028-02-29", month, 31).whole == 1);
  // Counted on the 28th itself, 31 January is 28 days before and 28 January is three days earlier.
  CHECK(count("2026-01-31", "2026-02-28", month).whole == 0);
  CHECK(count("2026-01-31", "2026-02-28", month).numerator == 28);
  CHECK(count("2026-01-30", "2026-03-30", month).whole == 2);
  // 2 January to 1 March: February whole, and 30 days, which are 30/30 and not a second month.
  const auto whole = count("2026-01-02", "2026-03-01", month);
  CHECK(whole.whole == 1);
  CHECK(whole.numerator == 30);
  CHECK(whole.denominator == 30);
  CHECK(count("2026-05-05", "2026-05-05", month).whole == 0);
  // Years: whole years back, then months of twelve or days of 365.
  CHECK(count("2026-01-15", "2028-07-15", {Kind::year, 1}).whole == 2);
  CHECK(count("2026-01-15", "2028-07-15", {Kind::year, 1}).numerator == 6);
  CHECK(count("2026-01-15", "2028-07-15", {Kind::year, 1}).denominator == 12);
  CHECK(count("2026-01-15", "2028-07-16", {Kind::year, 1}).numerator == 182);
  CHECK(count("2026-01-15", "2028-07-16", {Kind::year, 1}).denominator == 365);
  CHECK(unit_periods_per_year<double>({Kind::week, 2}) == 26.0);
  CHECK(unit_periods_per_year<double>({Kind::month, 6}) == 2.0);
  CHECK(unit_periods_per_year<double>({Kind::semimonth, 1}) == 24.0);
  CHECK(unit_periods_per_year<double>({Kind::day, 1}) == 365.0);
}

TEST_CASE("points withheld raise the rate and come off the amount financed") {
  const std::vector<Flow<double>> advances{{6000, 0, 0}};
  const auto payments = regular_flows(level_payment(6000.0, 0.06 / 12, 60), {1, 0, 1}, 60);
  const auto shown = [&](double points) {
    return disclose(std::span<const Flow<double>>(advances), std::span<const Flow<double>>(payments), points, 12.0);
  };
  CHECK(*shown(0).annual_percentage_rate.value == doctest::Approx(0.06).epsilon(1e-12));
  CHECK(*shown(120).annual_percentage_rate.value > 0.068);
  CHECK(shown(120).amount_financed == 5880.0);
  CHECK(shown(120).amount_financed + shown(120).finance_charge ==
        doctest::Approx(shown(120).total_of_payments).epsilon(1e-14));
  CHECK_THROWS_AS((void)shown(6001), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)shown(-1), errors::ValueOutOfRange);
}
