// Hourly years: 8760 hours of weather of one place, and the readers of two public formats.
//
// Hour i of an array runs from i to i + 1 hours after the start of 1 January in local standard time, without daylight
// saving; there is no 29 February. In a file that hour is stamped with its end: hour 0 is "01:00", hour 23 "24:00".
#pragma once

#include <array>
#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "warmledger/climate/climate.hpp"
#include "warmledger/climate/solar_position.hpp"

namespace warmledger::climate {

/// Values that were missing in a file and were filled in.
struct FilledGaps {
  std::string column;
  std::size_t hours = 0;          ///< interpolated between their neighbours (daylight hours alone for irradiance)
  std::size_t longest_hours = 0;  ///< of them in one row
  std::size_t dark_hours = 0;     ///< missing irradiance of hours without sun, set to 0
};

struct HourlyYear {
  Place place;
  MonthYears years = ordinary_years;     ///< the calendar year that each month is taken from
  std::vector<double> global_w_m2;       ///< on the horizontal, mean over the hour
  std::vector<double> beam_normal_w_m2;  ///< on a plane that faces the sun
  std::vector<double> diffuse_w_m2;      ///< on the horizontal
  std::vector<double> dry_bulb_c;
  std::vector<double> wind_m_s;
  std::vector<double> ground_albedo;  ///< 8760 values, or empty where unknown
  std::string source;                 ///< "TMY3", "EPW" or "synthetic", with more words
  std::vector<FilledGaps> filled;
  std::vector<std::string> remarks;  ///< what a user of the year should know, one sentence each
};

/// Throws ValueOutOfRange unless every array has 8760 finite values within physical limits.
void require_whole(const HourlyYear& year);

/// Reads a TMY3 CSV (line 1 the station, line 2 the column names) or an EPW file; the content tells which. Files with
/// 8784 hours lose their 29 February, which `remarks` says. Missing values (TMY3 -9900; EPW 9999, 99.9, 999; empty
/// cells) are interpolated where at most 3 daylight hours of irradiance, 6 hours of temperature or 24 hours of wind
/// miss in one row and at most 175 hours in the year; `filled` counts them. Throws FileUnreadable, MalformedText,
/// MissingValue, ValueOutOfRange or Contradiction naming file, line, column, value and what is allowed: for a truncated
/// file, stamps out of order or not hour-ending, more than 64 MiB, values in other units than W/m2, degC and m/s, and a
/// clock, UTC offset or coordinates that disagree with the sun.
[[nodiscard]] HourlyYear read_hourly(const std::filesystem::path& file);

/// The twelve monthly means of an hourly year (albedo 0.2 where the year has none).
[[nodiscard]] Climate monthly_means(const HourlyYear& year);

/// Cold water temperature of each day, degC: mains_temperature_c with the year's mean air temperature and the span of
/// its monthly means.
[[nodiscard]] std::array<double, 365> mains_by_day_c(const HourlyYear& year);
[[nodiscard]] std::array<double, 365> mains_by_day_c(const Climate& climate);

}  // namespace warmledger::climate
