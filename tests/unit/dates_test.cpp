#include <doctest/doctest.h>

#include "warmledger/dates/dates.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;

TEST_CASE("months are counted from the start, so a 31st comes back after a short month") {
  const dates::Date start = dates::make_date(2027, 1, 31);
  CHECK(dates::iso(dates::add_months(start, 1)) == "2027-02-28");
  CHECK(dates::iso(dates::add_months(start, 2)) == "2027-03-31");
  CHECK(dates::iso(dates::add_months(start, 13)) == "2028-02-29");
  CHECK(dates::iso(dates::add_months(start, -2)) == "2026-11-30");
  CHECK(dates::iso(dates::add_months(dates::make_date(2028, 2, 29), 12)) == "2029-02-28");
  CHECK(dates::iso(dates::add_months(dates::make_date(2026, 12, 5), 600)) == "2076-12-05");
}

TEST_CASE("days some months apart, one after the other, are those counted from the start") {
  for (const unsigned day : {1U, 28U, 29U, 30U, 31U}) {
    for (const int step : {1, 3, 6, 12}) {
      dates::MonthDays days(dates::make_date(2027, 8, day), step);
      for (int k = 0; k < 200; ++k) {
        CHECK(days.day() == dates::add_months(dates::make_date(2027, 8, day), k * step));
        days.next();
      }
    }
  }
}

TEST_CASE("days between dates, leap days counted") {
  CHECK(dates::days_between(dates::make_date(2028, 2, 28), dates::make_date(2028, 3, 1)) == 2);
  CHECK(dates::days_between(dates::make_date(1978, 1, 3), dates::make_date(1978, 9, 15)) ==
        255);  // Regulation Z Appendix J (c)(5)(i)
  CHECK(dates::days_between(dates::make_date(2027, 1, 1), dates::make_date(2026, 12, 31)) == -1);
  CHECK(dates::day_of_year(dates::make_date(2027, 12, 31)) == 365);
  CHECK(dates::day_of_year(dates::make_date(2028, 12, 31)) == 366);
  CHECK(dates::days_in_month(2028, 2) == 29);
  CHECK(dates::days_in_month_365(2) == 28);
}

TEST_CASE("text that is no date, and days that do not exist, are refused with the value") {
  CHECK(dates::iso(dates::parse_date("2026-09-01")) == "2026-09-01");
  CHECK(dates::iso(dates::parse_date("0007-12-31")) == "0007-12-31");
  CHECK_THROWS_WITH_AS((void)dates::parse_date("9/1/2026", "install_date"),
                       "install_date: \"9/1/2026\" is not a date; allowed: year-month-day such as 2026-09-01",
                       errors::MalformedText);
  CHECK_THROWS_AS((void)dates::parse_date(""), errors::MalformedText);
  CHECK_THROWS_AS((void)dates::parse_date("2026-9-01 "), errors::MalformedText);
  CHECK_THROWS_WITH_AS((void)dates::parse_date("2026-02-30"),
                       "date: 2026-02-30 is not a day of the calendar; allowed: a date such as 2026-09-01",
                       errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)dates::make_date(2027, 2, 29), errors::ValueOutOfRange);
}
