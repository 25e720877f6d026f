// Disclosure from dates alone, against the published examples of Regulation Z (12 CFR 1026), Appendix J (c), as public
// transcriptions of the printed regulation give them (see apr_test.cpp for how many agree on which).
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "warmledger/loans/disclosure.hpp"

using namespace warmledger;
using namespace warmledger::loans;
using Kind = UnitPeriod::Kind;

namespace {

struct Flows {
  std::vector<DatedFlow<double>> all;

  /// `count` payments from `first` on, `months` or `days` apart.
  Flows& run(double amount, const char* first, int count, int months, int days = 0) {
    const dates::Date from = dates::parse_date(first);
    for (int k = 0; k < count; ++k) {
      const dates::Date shifted = dates::add_months(from, months * k);
      all.push_back({dates::Date{std::chrono::sys_days{shifted} + std::chrono::days{days * k}}, amount});
    }
    return *this;
  }
};

void check_rate(const char* start, double amount, const Flows& payments, Kind kind, int count, double published) {
  CAPTURE(start);
  CAPTURE(published);
  const DatedFlow<double> advance{dates::parse_date(start), amount};
  const auto shown =
      disclose(std::span<const DatedFlow<double>>(&advance, 1), std::span<const DatedFlow<double>>(payments.all), 0.0);
  CHECK(shown.unit_periods_per_year == unit_periods_per_year<double>({kind, count}));
  REQUIRE(shown.annual_percentage_rate.value.has_value());
  CHECK(std::round(*shown.annual_percentage_rate.value * 1e4) / 1e2 == doctest::Approx(published).epsilon(1e-12));
}

}  // namespace

TEST_CASE("Appendix J examples: the dates alone give unit-period and published rate") {
  check_rate("1978-01-10", 5000, Flows().run(230, "1978-02-10", 24, 1), Kind::month, 1, 9.69);
  check_rate("1978-02-10", 6000, Flows().run(200, "1978-04-01", 36, 1), Kind::month, 1, 11.82);
  // Semimonthly on the 1st and 16th.
  check_rate("1978-02-23", 5000, Flows().run(219.17, "1978-03-01", 12, 1).run(219.17, "1978-03-16", 12, 1),
             Kind::semimonth, 1, 10.34);
  check_rate("1978-05-23", 10000, Flows().run(385, "1978-10-01", 40, 3), Kind::month, 3, 8.97);
  check_rate("1978-03-20", 500, Flows().run(17.60, "1978-04-21", 30, 0, 7), Kind::week, 1, 14.96);
  check_rate("1978-01-10", 5000, Flows().run(250, "1978-02-10", 1, 1).run(230, "1978-03-10", 23, 1), Kind::month, 1,
             10.08);
  check_rate("1978-03-18", 400, Flows().run(39.50, "1978-04-20", 1, 0).run(38.31, "1978-05-18", 11, 0, 28), Kind::week,
             4, 28.50);
  check_rate("1978-01-10", 5000, Flows().run(230, "1978-02-10", 23, 1).run(280, "1980-01-10", 1, 1), Kind::month, 1,
             10.50);
  check_rate("1978-04-03", 200, Flows().run(9.50, "1978-04-11", 19, 0, 14).run(30, "1979-01-02", 1, 0), Kind::week, 2,
             12.22);
  check_rate("1978-01-10", 8000,
             Flows().run(449.36, "1978-03-01", 1, 0).run(465, "1978-05-01", 18, 2).run(200, "1981-05-01", 1, 0),
             Kind::month, 2, 7.30);
  // (c)(6)(i): skipped payments, every four weeks from 20 February 1978 (that day inferred from the published times).
  check_rate("1978-01-25", 2135,
             Flows()
                 .run(100, "1978-02-20", 9, 0, 28)
                 .run(100, "1978-11-13", 6, 0, 28)
                 .run(100, "1979-05-14", 6, 0, 28)
                 .run(100, "1979-11-12", 3, 0, 28),
             Kind::week, 4, 12.00);
  check_rate("1978-03-03", 7350,
             Flows()
                 .run(1000, "1978-09-15", 3, 1)
                 .run(2000, "1979-03-15", 1, 0)
                 .run(750, "1979-09-15", 3, 1)
                 .run(1000, "1980-02-01", 1, 0),
             Kind::month, 1, 10.22);
}

TEST_CASE("one payment: the term is the unit-period, at most a year") {
  const auto per_year = [](const char* from, const char* to, double paid) {
    const DatedFlow<double> advance{dates::parse_date(from), 1000};
    const DatedFlow<double> payment{dates::parse_date(to), paid};
    return disclose(std::span<const DatedFlow<double>>(&advance, 1), std::span<const DatedFlow<double>>(&payment, 1),
                    0.0);
  };
  CHECK(std::round(*per_year("1978-01-03", "1978-09-15", 1080).annual_percentage_rate.value * 1e4) / 1e2 ==
        doctest::Approx(11.45));
  CHECK(per_year("1978-01-03", "1978-07-03", 1044).unit_periods_per_year == 2.0);
  CHECK(per_year("1978-01-03", "1980-01-03", 1240).unit_periods_per_year == 1.0);
}
