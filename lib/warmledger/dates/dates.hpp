// Dates: calendar days on std::chrono, month arithmetic that keeps the day of the month, and nothing that reads a
// clock.
#pragma once

#include <chrono>
#include <string>
#include <string_view>

namespace warmledger::dates {

using Date = std::chrono::year_month_day;

/// A day of the proleptic Gregorian calendar. Throws ValueOutOfRange for a day that does not exist (30 February).
[[nodiscard]] Date make_date(int year, unsigned month, unsigned day);

/// Reads "2026-09-01" (ISO 8601 calendar date). Throws MalformedText or ValueOutOfRange with `key` in the sentence.
[[nodiscard]] Date parse_date(std::string_view text, std::string_view key = "date");

/// "2026-09-01".
[[nodiscard]] std::string iso(Date date);

/// `months` months after `start` (before, if negative). A day that the month lacks becomes its last day, counted from
/// `start` each time: add_months(31 January, 1) is 28 or 29 February and add_months(31 January, 2) is 31 March.
[[nodiscard]] Date add_months(Date start, int months);

/// The days 0, `step`, 2 `step` ... months after a start: add_months, one after the other without its divisions.
class MonthDays {
 public:
  /// `step_months` 1 to 12.
  explicit MonthDays(Date start, int step_months = 1)
      : year_(static_cast<int>(start.year())),
        month_(static_cast<unsigned>(start.month())),
        day_(start.day()),
        step_(static_cast<unsigned>(step_months)) {}

  [[nodiscard]] Date day() const {
    const std::chrono::year year{year_};
    const std::chrono::month month{month_};
    if (day_ <= std::chrono::day{28}) return {year, month, day_};
    const std::chrono::day last = std::chrono::year_month_day_last{year, std::chrono::month_day_last{month}}.day();
    return {year, month, day_ < last ? day_ : last};
  }
  void next() {
    month_ += step_;
    if (month_ <= 12) return;
    month_ -= 12;
    ++year_;
  }

 private:
  int year_;
  unsigned month_;
  std::chrono::day day_;
  unsigned step_;
};

/// Days from `from` to `to`; negative if `to` is earlier.
[[nodiscard]] int days_between(Date from, Date to);

[[nodiscard]] unsigned days_in_month(int year, unsigned month);
/// Days of a month in a year of 365 days; month 1 to 12.
[[nodiscard]] int days_in_month_365(int month);
/// 1 to 366.
[[nodiscard]] int day_of_year(Date date);
[[nodiscard]] inline int year_of(Date date) {
  return static_cast<int>(date.year());
}
[[nodiscard]] inline int month_of(Date date) {
  return static_cast<int>(static_cast<unsigned>(date.month()));
}
[[nodiscard]] inline int day_of(Date date) {
  return static_cast<int>(static_cast<unsigned>(date.day()));
}
/// "January" ... "December"; month 1 to 12.
[[nodiscard]] std::string_view month_name(int month);

}  // namespace warmledger::dates
