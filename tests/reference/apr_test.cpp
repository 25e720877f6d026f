// Annual percentage rates against the published examples of Regulation Z (12 CFR 1026), Appendix J (c).
//
// Amounts, times and rates as public transcriptions of the printed regulation give them: (c)(1) to (c)(5)(i) agree in
// two transcriptions, (c)(5)(ii) to (c)(6)(ii) stand in one. The regulation's own example pages were not readable.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "warmledger/loans/apr.hpp"

using namespace warmledger;
using namespace warmledger::loans;
using money::Decimal;
using Kind = UnitPeriod::Kind;

namespace {

/// Payments in runs of equal amounts one unit-period apart.
struct Run {
  double amount;
  PeriodCount first;
  int count;
};

struct Example {
  std::string name;
  double advance;
  std::vector<Run> runs;
  double per_year;
  double published;  ///< percent, two decimals
};

const std::vector<Example>& examples() {
  static const std::vector<Example> all{
      {"(c)(1)(i) regular", 5000, {{230, {1, 0, 1}, 24}}, 12, 9.69},
      {"(c)(1)(ii) long first period", 6000, {{200, {1, 19, 30}, 36}}, 12, 11.82},
      {"(c)(1)(iii) semimonthly, short first period", 5000, {{219.17, {0, 6, 15}, 24}}, 24, 10.34},
      {"(c)(1)(iv) quarterly, long first period", 10000, {{385, {1, 39, 90}, 40}}, 4, 8.97},
      {"(c)(1)(v) weekly, long first period", 500, {{17.60, {4, 4, 7}, 30}}, 52, 14.96},
      {"(c)(2)(i) odd first payment", 5000, {{250, {1, 0, 1}, 1}, {230, {2, 0, 1}, 23}}, 12, 10.08},
      {"(c)(2)(ii) 4-weekly, odd first, long first", 400, {{39.50, {1, 5, 28}, 1}, {38.31, {2, 5, 28}, 11}}, 13, 28.50},
      {"(c)(3)(i) odd last payment", 5000, {{230, {1, 0, 1}, 23}, {280, {24, 0, 1}, 1}}, 12, 10.50},
      {"(c)(3)(ii) biweekly, short first, odd last", 200, {{9.50, {0, 8, 14}, 19}, {30, {19, 8, 14}, 1}}, 26, 12.22},
      {"(c)(4)(i) odd first and last",
       5000,
       {{250, {1, 0, 1}, 1}, {230, {2, 0, 1}, 22}, {280, {24, 0, 1}, 1}},
       12,
       10.90},
      {"(c)(4)(ii) 2-monthly, short first, odd both",
       8000,
       {{449.36, {0, 52, 60}, 1}, {465, {1, 52, 60}, 18}, {200, {19, 52, 60}, 1}},
       6,
       7.30},
      {"(c)(5)(i) one payment, days", 1000, {{1080, {1, 0, 1}, 1}}, 365.0 / 255, 11.45},
      {"(c)(5)(ii) one payment, months", 1000, {{1044, {1, 0, 1}, 1}}, 2, 8.80},
      {"(c)(5)(iii) one payment, 1.5 years", 1000, {{1135.19, {1, 6, 12}, 1}}, 1, 8.76},
      {"(c)(5)(iv) one payment, 2 years", 1000, {{1240, {2, 0, 1}, 1}}, 1, 11.36},
      {"(c)(6)(i) skipped payments, 4-weekly",
       2135,
       {{100, {0, 26, 28}, 9}, {100, {10, 12, 28}, 6}, {100, {16, 26, 28}, 6}, {100, {23, 12, 28}, 3}},
       13,
       12.00},
      {"(c)(6)(ii) skipped and single payments",
       7350,
       {{1000, {6, 12, 30}, 3}, {2000, {12, 12, 30}, 1}, {750, {18, 12, 30}, 3}, {1000, {22, 29, 30}, 1}},
       12,
       10.22},
  };
  return all;
}

template <class N>
N rate_of(const Example& example) {
  const std::vector<Flow<N>> advances{{N(example.advance), 0, N(0)}};
  std::vector<Flow<N>> payments;
  for (const Run& run : example.runs) {
    // Through cents, so that the 50-digit type gets 219.17 and not the nearest double.
    const N amount = N(N(std::round(run.amount * 100)) / N(100));
    for (const Flow<N>& flow : regular_flows(amount, run.first, run.count)) payments.push_back(flow);
  }
  const auto rate = apr(std::span<const Flow<N>>(advances), std::span<const Flow<N>>(payments), N(example.per_year));
  REQUIRE_MESSAGE(rate.value.has_value(), example.name);
  return *rate.value;
}

dates::Date day(const char* text) {
  return dates::parse_date(text);
}

void check_count(PeriodCount found, int whole, int numerator, int denominator) {
  CHECK(found.whole == whole);
  CHECK(found.numerator == numerator);
  CHECK(found.denominator == denominator);
}

}  // namespace

TEST_CASE("Appendix J examples (c)(1) to (c)(6): the published digits in both number types") {
  REQUIRE(examples().size() == 17);
  for (const Example& example : examples()) {
    CAPTURE(example.name);
    const double quick = rate_of<double>(example);
    const double fine = money::to_double(rate_of<Decimal>(example));
    CHECK(std::round(quick * 1e4) / 1e2 == doctest::Approx(example.published).epsilon(1e-12));
    CHECK(std::round(fine * 1e4) / 1e2 == doctest::Approx(example.published).epsilon(1e-12));
    CHECK(std::fabs(quick - fine) <= 1e-12);
  }
}

TEST_CASE("Appendix J examples to six decimals, recomputed separately by bisection") {
  static constexpr std::array<double, 17> recomputed{9.685708,  11.816508, 10.337903, 8.970770,  14.962223, 10.082890,
                                                     28.497940, 10.500469, 12.224857, 10.895549, 7.301765,  11.450980,
                                                     8.800000,  8.757047,  11.355287, 11.995116, 10.215444};
  for (std::size_t k = 0; k < recomputed.size(); ++k) {
    CAPTURE(examples()[k].name);
    CHECK(std::fabs(rate_of<double>(examples()[k]) * 100 - recomputed[k]) <= 5.1e-7);
  }
}

TEST_CASE("Appendix J examples: dates give the published unit-periods") {
  check_count(unit_periods(day("1978-01-10"), day("1978-02-10"), {Kind::month, 1}), 1, 0, 30);
  check_count(unit_periods(day("1978-02-10"), day("1978-04-01"), {Kind::month, 1}), 1, 19, 30);
  check_count(unit_periods(day("1978-02-23"), day("1978-03-01"), {Kind::semimonth, 1}), 0, 6, 15);
  check_count(unit_periods(day("1978-05-23"), day("1978-10-01"), {Kind::month, 3}), 1, 39, 90);
  check_count(unit_periods(day("1978-03-20"), day("1978-04-21"), {Kind::week, 1}), 4, 4, 7);
  check_count(unit_periods(day("1978-03-18"), day("1978-04-20"), {Kind::week, 4}), 1, 5, 28);
  check_count(unit_periods(day("1978-04-03"), day("1978-04-11"), {Kind::week, 2}), 0, 8, 14);
  check_count(unit_periods(day("1978-01-10"), day("1978-03-01"), {Kind::month, 2}), 0, 52, 60);
  check_count(unit_periods(day("1978-03-03"), day("1978-09-15"), {Kind::month, 1}), 6, 12, 30);
  check_count(unit_periods(day("1978-01-25"), day("1978-02-20"), {Kind::week, 4}), 0, 26, 28);
}

TEST_CASE("Appendix J examples with one payment: dates give unit-period, time and rate") {
  struct Case {
    const char* date;
    double payment;
    double published;
  };
  // (c)(5)(i) has its dates; for the others any start will do, so they begin on the same day.
  for (const Case& single : {Case{"1978-09-15", 1080, 11.45}, Case{"1978-07-03", 1044, 8.80},
                             Case{"1979-07-03", 1135.19, 8.76}, Case{"1980-01-03", 1240, 11.36}}) {
    CAPTURE(single.date);
    const SinglePayment term = single_payment(day("1978-01-03"), day(single.date));
    const std::vector<Flow<double>> advances{{1000, 0, 0}};
    const std::vector<Flow<double>> payments{flow_at(single.payment, term.time)};
    const double per_year = static_cast<double>(term.per_year_numerator) / term.per_year_denominator;
    const auto rate = apr(std::span<const Flow<double>>(advances), std::span<const Flow<double>>(payments), per_year);
    REQUIRE(rate.value.has_value());
    CHECK(std::round(*rate.value * 1e4) / 1e2 == doctest::Approx(single.published).epsilon(1e-12));
  }
  const SinglePayment days = single_payment(day("1978-01-03"), day("1978-09-15"));
  CHECK(days.per_year_numerator == 365);
  CHECK(days.per_year_denominator == 255);
}

TEST_CASE("Appendix J examples tell wrong day counts apart") {
  const auto percent = [](double advance, const std::vector<Flow<double>>& payments, double per_year) {
    const std::vector<Flow<double>> advances{{advance, 0, 0}};
    const auto rate = apr(std::span<const Flow<double>>(advances), std::span<const Flow<double>>(payments), per_year);
    return std::round(rate.value.value() * 1e4) / 1e2;
  };
  // 51 days in place of 52 gives 7.31 and not 7.30.
  std::vector<Flow<double>> bimonthly{flow_at(449.36, {0, 51, 60})};
  for (const auto& flow : regular_flows(465.0, {1, 51, 60}, 18)) bimonthly.push_back(flow);
  bimonthly.push_back(flow_at(200.0, {19, 51, 60}));
  CHECK(percent(8000, bimonthly, 6) == doctest::Approx(7.31));
  // Half a year compounded in place of simple gives 8.82 and not 8.76.
  CHECK(std::round((std::pow(1.13519, 1 / 1.5) - 1) * 1e6) / 1e4 == doctest::Approx(8.8209));
  CHECK(percent(1000, {flow_at(1135.19, {1, 6, 12})}, 1) == doctest::Approx(8.76));
}

TEST_CASE("several advances (constructed; no published number was readable)") {
  const std::vector<Flow<double>> advances{{1000, 0, 0}, {1000, 1, 0}, {1000, 2, 0}};
  const auto payments = regular_flows(270.0, {3, 0, 1}, 12);
  const auto rate = apr(std::span<const Flow<double>>(advances), std::span<const Flow<double>>(payments), 12.0);
  CHECK(std::fabs(rate.value.value() * 100 - 12.474401) <= 1e-6);
}

TEST_CASE("disclosed figures of example (c)(1)(i): finance charge 520, total of payments 5,520") {
  const std::vector<Flow<double>> advances{{5000, 0, 0}};
  const auto payments = regular_flows(230.0, {1, 0, 1}, 24);
  const auto shown =
      disclose(std::span<const Flow<double>>(advances), std::span<const Flow<double>>(payments), 0.0, 12.0);
  CHECK(shown.amount_financed == 5000.0);
  CHECK(shown.total_of_payments == 5520.0);
  CHECK(shown.finance_charge == 520.0);
  CHECK(std::round(shown.annual_percentage_rate.value.value() * 1e4) / 1e2 == doctest::Approx(9.69));
}

TEST_CASE("tolerances of 12 CFR 1026.22(a)(2)-(3): 1/8 point, 1/4 for irregular transactions") {
  CHECK(within_rate_tolerance(0.10125, 0.10, false));
  CHECK(within_rate_tolerance(0.09875, 0.10, false));
  CHECK_FALSE(within_rate_tolerance(0.101250001, 0.10, false));
  CHECK(within_rate_tolerance(0.1025, 0.10, true));
  CHECK_FALSE(within_rate_tolerance(0.102500001, 0.10, true));
}
