#include "warmledger/dates/dates.hpp"

#include <array>
#include <charconv>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::dates {

namespace chrono = std::chrono;

Date make_date(int year, unsigned month, unsigned day) {
  const Date date{chrono::year{year}, chrono::month{month}, chrono::day{day}};
  if (!date.ok()) {
    throw errors::ValueOutOfRange({{"", {}, {}, "date"},
                                   fmt::format("{:04}-{:02}-{:02}", year, month, day),
                                   "is not a day of the calendar",
                                   "a date such as 2026-09-01"});
  }
  return date;
}

Date parse_date(std::string_view text, std::string_view key) {
  const auto number = [&](std::size_t at, std::size_t length, auto& out) {
    const char* first = text.data() + at;
    const auto [end, error] = std::from_chars(first, first + length, out);
    return error == std::errc{} && end == first + length;
  };
  int year = 0;
  unsigned month = 0;
  unsigned day = 0;
  if (text.size() != 10 || text[4] != '-' || text[7] != '-' || !number(0, 4, year) || !number(5, 2, month) ||
      !number(8, 2, day)) {
    throw errors::MalformedText({{"", {}, {}, std::string(key)},
                                 fmt::format("\"{}\"", text),
                                 "is not a date",
                                 "year-month-day such as 2026-09-01"});
  }
  const Date date{chrono::year{year}, chrono::month{month}, chrono::day{day}};
  if (!date.ok()) {
    throw errors::ValueOutOfRange({{"", {}, {}, std::string(key)},
                                   std::string(text),
                                   "is not a day of the calendar",
                                   "a date such as 2026-09-01"});
  }
  return date;
}

std::string iso(Date date) {
  const int year = year_of(date);
  if (year < 0 || year > 9999) return fmt::format("{:04}-{:02}-{:02}", year, month_of(date), day_of(date));
  std::string text = "0000-00-00";
  const auto write = [&text](std::size_t end, int number) {
    for (; number != 0; number /= 10) text[--end] = static_cast<char>('0' + number % 10);
  };
  write(4, year);
  write(7, month_of(date));
  write(10, day_of(date));
  return text;
}

Date add_months(Date start, int months) {
  const chrono::year_month target = chrono::year_month{start.year(), start.month()} + chrono::months{months};
  const chrono::year_month_day_last last{target.year(), chrono::month_day_last{target.month()}};
  const chrono::day day = start.day() > last.day() ? last.day() : start.day();
  return Date{target.year(), target.month(), day};
}

int days_between(Date from, Date to) {
  return static_cast<int>((chrono::sys_days{to} - chrono::sys_days{from}).count());
}

unsigned days_in_month(int year, unsigned month) {
  return static_cast<unsigned>(
      chrono::year_month_day_last{chrono::year{year}, chrono::month_day_last{chrono::month{month}}}.day());
}

int days_in_month_365(int month) {
  static constexpr std::array<int, 12> days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return days.at(static_cast<std::size_t>(month - 1));
}

int day_of_year(Date date) {
  return days_between(Date{date.year(), chrono::January, chrono::day{1}}, date) + 1;
}

std::string_view month_name(int month) {
  static constexpr std::array<std::string_view, 12> names{"January",   "February", "March",    "April",
                                                          "May",       "June",     "July",     "August",
                                                          "September", "October",  "November", "December"};
  return names.at(static_cast<std::size_t>(month - 1));
}

}  // namespace warmledger::dates
