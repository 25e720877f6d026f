#include "warmledger/climate/hourly.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <limits>
#include <numbers>
#include <optional>
#include <string_view>
#include <system_error>

#include <fmt/format.h>

#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::climate {

namespace {

constexpr std::size_t most_bytes = std::size_t{64} << 20U;
constexpr std::size_t most_cells = 512;  // of one line; TMY3 has 71, EPW 35
constexpr std::size_t most_filled_hours = 175;
// The earth is nearest to the sun in January: the solar constant times 1.0344.
constexpr double most_w_m2 = solar_constant_w_m2 * 1.035;
constexpr double missing = std::numeric_limits<double>::quiet_NaN();

/// One quantity that is read.
struct Variable {
  std::string_view name;      // beginning of the TMY3 column name
  std::string_view unit;      // as it stands in that name
  std::size_t epw_column;     // from 1
  double low, high;           // allowed
  double epw_missing;         // this value or more is a missing mark in EPW
  std::size_t longest_gap_h;  // filled
  std::string_view hint;      // said when the value is above the range
};
enum : std::size_t { global_light, beam_light, diffuse_light, dry_bulb, wind, variable_count };
constexpr std::array<Variable, variable_count> variables{{
    {"GHI", "W/m^2", 14, 0, most_w_m2, 9999, 3, "is it in kJ/m2?"},
    {"DNI", "W/m^2", 15, 0, most_w_m2, 9999, 3, "is it in kJ/m2?"},
    {"DHI", "W/m^2", 16, 0, most_w_m2, 9999, 3, "is it in kJ/m2?"},
    {"Dry-bulb", "C", 7, -90, 60, 99.9, 6, "is it in Fahrenheit or kelvin?"},
    {"Wspd", "m/s", 22, 0, 60, 999, 24, "is it in km/h or knots?"},
}};
constexpr std::size_t epw_albedo_column = 33;
constexpr std::size_t epw_header_lines = 8;
constexpr std::size_t no_column = std::numeric_limits<std::size_t>::max();

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view blanks = " \t\r";
  const std::size_t first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  text = text.substr(first, text.find_last_not_of(blanks) - first + 1);
  if (text.size() >= 2 && text.front() == '"' && text.back() == '"') text = text.substr(1, text.size() - 2);
  return text;
}

/// As it can stand in a sentence: printable ASCII, other bytes as ?, cut after 60 characters.
std::string shown(std::string_view text) {
  std::string line;
  for (const char c : text.substr(0, 60)) line += c >= ' ' && c <= '~' ? c : '?';
  return text.size() > 60 ? line + "..." : line;
}

std::optional<double> number_from(std::string_view text) {
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  const std::size_t sign = !text.empty() && text.front() == '-' ? 1 : 0;
  // from_chars would take "nan" and "inf".
  if (text.size() == sign || !((text[sign] >= '0' && text[sign] <= '9') || text[sign] == '.')) return std::nullopt;
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

std::optional<int> whole_from(std::string_view text) {
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

std::string read_bounded(const std::filesystem::path& file, const std::string& name) {
  const auto refuse = [&name](std::string value, std::string what, std::string allowed) {
    return errors::FileUnreadable({{name, {}, {}, ""}, std::move(value), std::move(what), std::move(allowed)});
  };
  std::error_code error;
  const auto status = std::filesystem::status(file, error);
  if (!std::filesystem::exists(status)) throw refuse("", "does not exist", "a file that is there");
  if (!std::filesystem::is_regular_file(status)) throw refuse("", "is no regular file", "a TMY3 or EPW file");
  std::ifstream stream(file, std::ios::binary);
  if (!stream.is_open()) throw refuse("", "cannot be read", "a file that this user may read");
  const auto size = std::filesystem::file_size(file, error);
  if (!error && size > most_bytes) {
    throw refuse(fmt::format("{} bytes", size), "are too many for a year of hours", "at most 64 MiB");
  }
  std::string text;
  text.resize(error ? most_bytes : static_cast<std::size_t>(size));
  stream.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (stream.bad()) throw refuse("", "cannot be read", "a file that this user may read");
  text.resize(static_cast<std::size_t>(stream.gcount()));
  if (text.starts_with("\x1F\x8B")) throw refuse("", "is compressed with gzip", "the unpacked file");
  if (text.starts_with("PK\x03\x04")) throw refuse("", "is a zip archive", "the unpacked file");
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    throw refuse("", "is in UTF-16", "ASCII or UTF-8; save it again as UTF-8");
  }
  return text;
}

/// The cells of one line; a quoted cell may hold commas.
void cells_of(std::string_view line, std::vector<std::string_view>& cells) {
  cells.clear();
  std::size_t begin = 0;
  while (cells.size() <= most_cells) {
    std::size_t end = begin;
    if (end < line.size() && line[end] == '"') {
      end = line.find('"', end + 1);
      end = end == std::string_view::npos ? line.size() : end;
    }
    end = std::min(line.find(',', end), line.size());
    cells.push_back(line.substr(begin, end - begin));
    if (end >= line.size()) return;
    begin = end + 1;
  }
}

struct Stamp {
  int year = 0, month = 0, day = 0, hour = 0;  // hour 1 to 24, the end of the hour
};

class Reader {
 public:
  Reader(std::string_view text, std::string name) : rest_(text), name_(std::move(name)) {
    if (rest_.starts_with("\xEF\xBB\xBF")) rest_.remove_prefix(3);
    // Old Macintosh line ends: carriage returns alone.
    if (rest_.find('\n') == std::string_view::npos) line_end_ = '\r';
  }

  HourlyYear read();

 private:
  [[nodiscard]] errors::Where at(std::string key = {}) const { return {name_, line_, {}, std::move(key)}; }
  [[nodiscard]] errors::Where whole_file(std::string key = {}) const { return {name_, {}, {}, std::move(key)}; }
  bool next_line(std::string_view& line);
  double site_number(std::string_view key, std::string_view text, double low, double high, std::string_view unit);
  void read_tmy3_head(std::string_view first);
  void read_epw_head(std::string_view first);
  void read_records();
  Stamp tmy3_stamp(std::string_view date, std::string_view time);
  Stamp epw_stamp();
  double cell_value(std::size_t variable);
  double albedo_value();
  [[nodiscard]] std::string column_name(std::size_t variable) const;
  void fill_gaps(const SunYear& sun);
  void settle_albedo();
  void check_levels();
  void check_sun(const SunYear& sun);
  std::vector<double>& values(std::size_t variable);

  std::string_view rest_;
  std::string name_;
  char line_end_ = '\n';
  long line_ = 0;
  bool epw_ = false;
  std::vector<std::string_view> cells_;
  std::size_t width_ = 0;  // cells of a record
  std::array<std::size_t, variable_count> column_{};
  std::array<std::string, variable_count> heading_;
  std::size_t albedo_column_ = no_column;
  std::size_t albedo_flag_column_ = no_column;
  std::vector<long> lines_;  // line of each hour kept
  HourlyYear year_;
};

bool Reader::next_line(std::string_view& line) {
  if (rest_.empty()) return false;
  ++line_;
  std::size_t end = rest_.find(line_end_);
  if (end == std::string_view::npos) end = rest_.size();
  line = rest_.substr(0, end);
  rest_.remove_prefix(std::min(end + 1, rest_.size()));
  while (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return true;
}

double Reader::site_number(std::string_view key, std::string_view text, double low, double high,
                           std::string_view unit) {
  const std::string_view cell = trimmed(text);
  const auto allowed = [&] {
    return fmt::format("{} to {}{}{}", errors::plain_number(low), errors::plain_number(high), unit.empty() ? "" : " ",
                       unit);
  };
  if (cell.empty()) throw errors::MissingValue({at(std::string(key)), "", "is empty", allowed()});
  const auto value = number_from(cell);
  if (!value) throw errors::MalformedText({at(std::string(key)), shown(cell), "is not a number", allowed()});
  if (!(*value >= low && *value <= high)) {
    throw errors::ValueOutOfRange({at(std::string(key)), shown(cell), "is out of range", allowed()});
  }
  return *value;
}

void Reader::read_tmy3_head(std::string_view first) {
  cells_of(first, cells_);
  if (cells_.size() < 7) {
    throw errors::MissingValue({at(), shown(first), "is not the station line of a TMY3 file",
                                "station number, name, state, UTC offset, latitude, longitude, elevation"});
  }
  Place& place = year_.place;
  place.station_id = shown(trimmed(cells_[0]));
  place.name = shown(trimmed(cells_[1]));
  place.state = shown(trimmed(cells_[2]));
  place.utc_offset_h = site_number("UTC offset", cells_[3], -12, 14, "hours, west negative");
  place.latitude_deg = site_number("latitude", cells_[4], -90, 90, "degrees");
  place.longitude_deg = site_number("longitude", cells_[5], -180, 180, "degrees, west negative");
  place.elevation_m = site_number("elevation", cells_[6], -450, 9000, "m");
  place.record = "TMY3";
  year_.source = fmt::format("TMY3 file of station {}", place.station_id);

  std::string_view head;
  if (!next_line(head)) throw errors::MissingValue({whole_file(), "", "ends after line 1", "column names in line 2"});
  cells_of(head, cells_);
  width_ = cells_.size();
  if (!trimmed(cells_[0]).starts_with("Date (") || cells_.size() < 2 || !trimmed(cells_[1]).starts_with("Time (")) {
    throw errors::MalformedText({at(), shown(head), "are not the column names of a TMY3 file",
                                 "\"Date (MM/DD/YYYY)\", \"Time (HH:MM)\" and so on"});
  }
  if (const auto form = trimmed(cells_[0]); form != "Date (MM/DD/YYYY)") {
    throw errors::MalformedText({at("column 1"), shown(form), "is a form of dates that is not read", "MM/DD/YYYY"});
  }
  for (std::size_t v = 0; v < variable_count; ++v) {
    column_[v] = no_column;
    const std::string begin = fmt::format("{} (", variables[v].name);
    const std::string wanted = fmt::format("{} ({})", variables[v].name, variables[v].unit);
    for (std::size_t k = 0; k < cells_.size(); ++k) {
      const std::string_view cell = trimmed(cells_[k]);
      if (!cell.starts_with(begin)) continue;
      if (cell != wanted) {
        throw errors::MalformedText({at(fmt::format("column {}", k + 1)), shown(cell), "is in another unit", wanted});
      }
      if (column_[v] != no_column) {
        throw errors::DuplicateName({at(wanted), "",
                                     fmt::format("stands twice, in columns {} and {}", column_[v] + 1, k + 1),
                                     "each column once"});
      }
      column_[v] = k;
    }
    if (column_[v] == no_column) {
      throw errors::MissingValue({at(), "", fmt::format("the column {} is missing", wanted), "all columns of TMY3"});
    }
    heading_[v] = wanted;
  }
  for (std::size_t k = 0; k < cells_.size(); ++k) {
    if (trimmed(cells_[k]) != "Alb (unitless)") continue;
    albedo_column_ = k;
    if (k + 1 < cells_.size() && trimmed(cells_[k + 1]) == "Alb source") albedo_flag_column_ = k + 1;
  }
}

void Reader::read_epw_head(std::string_view first) {
  cells_of(first, cells_);
  if (cells_.size() < 10) {
    throw errors::MissingValue({at("LOCATION"), fmt::format("{} cells", cells_.size()), "are too few",
                                "LOCATION, city, state, country, source, station number, latitude, longitude, UTC "
                                "offset, elevation"});
  }
  Place& place = year_.place;
  place.name = shown(trimmed(cells_[1]));
  place.state = shown(trimmed(cells_[2]));
  place.station_id = shown(trimmed(cells_[5]));
  place.latitude_deg = site_number("LOCATION, latitude", cells_[6], -90, 90, "degrees");
  place.longitude_deg = site_number("LOCATION, longitude", cells_[7], -180, 180, "degrees, west negative");
  place.utc_offset_h = site_number("LOCATION, UTC offset", cells_[8], -12, 14, "hours, west negative");
  place.elevation_m = site_number("LOCATION, elevation", cells_[9], -1000, 9999.9, "m");
  place.record = fmt::format("EPW, {}", shown(trimmed(cells_[4])));
  year_.source = fmt::format("EPW file of station {}", place.station_id);

  std::string_view line;
  for (std::size_t k = 1; k < epw_header_lines; ++k) {
    if (!next_line(line)) {
      throw errors::MissingValue({whole_file(), "", fmt::format("ends within the header, after line {}", line_),
                                  "8 header lines, the last DATA PERIODS"});
    }
    const bool last = k + 1 == epw_header_lines;
    if (last == line.starts_with("DATA PERIODS")) continue;
    throw errors::MalformedText({at(), shown(line), last ? "is not DATA PERIODS" : "stands too early",
                                 "8 header lines, the last DATA PERIODS"});
  }
  cells_of(line, cells_);
  const auto cell = [this](std::size_t k) { return k < cells_.size() ? trimmed(cells_[k]) : std::string_view(); };
  if (cell(1) != "1") {
    throw errors::NotAvailable({at("DATA PERIODS"), shown(cell(1)), "periods are not read", "1 period"});
  }
  if (cell(2) != "1") {
    throw errors::NotAvailable({at("DATA PERIODS"), shown(cell(2)), "records per hour are not read", "1 an hour"});
  }
  for (std::size_t v = 0; v < variable_count; ++v) {
    column_[v] = variables[v].epw_column - 1;
    constexpr std::array<std::string_view, variable_count> names{
        "global horizontal radiation", "direct normal radiation", "diffuse horizontal radiation",
        "dry bulb temperature", "wind speed"};
    heading_[v] = fmt::format("{} (column {})", names[v], column_[v] + 1);
  }
  albedo_column_ = epw_albedo_column - 1;
}

Stamp Reader::tmy3_stamp(std::string_view date, std::string_view time) {
  const auto bad = [this](std::string_view key, std::string_view value, std::string what, std::string allowed) {
    return errors::MalformedText({at(std::string(key)), shown(value), std::move(what), std::move(allowed)});
  };
  const std::size_t slash = date.find('/');
  const std::size_t second = slash == std::string_view::npos ? slash : date.find('/', slash + 1);
  const auto month = whole_from(date.substr(0, slash));
  const auto day =
      second == std::string_view::npos ? std::nullopt : whole_from(date.substr(slash + 1, second - slash - 1));
  const auto year = second == std::string_view::npos ? std::nullopt : whole_from(date.substr(second + 1));
  if (!month || !day || !year) throw bad("date", date, "is not a date", "MM/DD/YYYY, as 12/31/1995");
  const std::size_t colon = time.find(':');
  const auto hour = whole_from(time.substr(0, colon));
  const auto minute = colon == std::string_view::npos ? std::nullopt : whole_from(time.substr(colon + 1, 2));
  if (!hour || !minute) throw bad("time", time, "is not a time", "HH:MM, 01:00 to 24:00");
  if (*minute != 0) throw bad("time", time, "is not on the full hour", "one record an hour, stamped 01:00 to 24:00");
  return {*year, *month, *day, *hour};
}

Stamp Reader::epw_stamp() {
  const auto part = [this](std::size_t k, std::string_view key, int low, int high) {
    const std::string_view text = trimmed(cells_[k]);
    const auto value = whole_from(text);
    if (!value || *value < low || *value > high) {
      throw errors::MalformedText({at(fmt::format("{} (column {})", key, k + 1)), shown(text),
                                   value ? "is out of range" : "is not a whole number",
                                   fmt::format("{} to {}", low, high)});
    }
    return *value;
  };
  Stamp stamp{part(0, "year", 0, 9999), part(1, "month", 1, 12), part(2, "day", 1, 31), part(3, "hour", 0, 24)};
  const int minute = part(4, "minute", 0, 60);
  if (minute != 0 && minute != 60 && minute != 30) {
    throw errors::MalformedText({at("minute (column 5)"), std::to_string(minute), "is not a minute of hourly records",
                                 "0, 30 or 60; one record an hour"});
  }
  return stamp;
}

std::string Reader::column_name(std::size_t variable) const {
  return heading_[variable];
}

std::vector<double>& Reader::values(std::size_t variable) {
  switch (variable) {
    case global_light:
      return year_.global_w_m2;
    case beam_light:
      return year_.beam_normal_w_m2;
    case diffuse_light:
      return year_.diffuse_w_m2;
    case dry_bulb:
      return year_.dry_bulb_c;
    default:
      return year_.wind_m_s;
  }
}

double Reader::cell_value(std::size_t v) {
  const Variable& variable = variables[v];
  const std::string_view text = trimmed(cells_[column_[v]]);
  if (text.empty()) return missing;
  const auto allowed = [&] {
    return fmt::format("{} to {:.4g} {}{}", errors::plain_number(variable.low), variable.high,
                       v == dry_bulb ? "degC" : (v == wind ? "m/s" : "W/m2"),
                       epw_ ? fmt::format(", or {} where missing", errors::plain_number(variable.epw_missing))
                            : std::string(", or -9900 where missing"));
  };
  const auto value = number_from(text);
  if (!value) throw errors::MalformedText({at(column_name(v)), shown(text), "is not a number", allowed()});
  if (epw_ ? (*value >= variable.epw_missing && (v != dry_bulb || *value < 100)) : *value == -9900) return missing;
  if (!(*value >= variable.low && *value <= variable.high)) {
    throw errors::ValueOutOfRange(
        {at(column_name(v)), shown(text),
         *value > variable.high ? fmt::format("is out of range ({})", variable.hint) : std::string("is out of range"),
         allowed()});
  }
  return *value;
}

double Reader::albedo_value() {
  if (albedo_column_ >= cells_.size()) return missing;
  if (albedo_flag_column_ < cells_.size() && trimmed(cells_[albedo_flag_column_]) == "?") return missing;
  const auto value = number_from(trimmed(cells_[albedo_column_]));
  // 0 and 0.999 or more stand for unknown in files of either form; nothing depends on a wrong one but a little light.
  return value && *value > 0 && *value < 0.99 ? *value : missing;
}

void Reader::read_records() {
  for (std::size_t v = 0; v < variable_count; ++v) values(v).reserve(hours_in_year);
  year_.ground_albedo.reserve(hours_in_year);
  lines_.reserve(hours_in_year);
  int month = 1, day = 1, hour = 1;  // of the record that must come next
  int leap_hours = 0;
  std::string_view line;
  long blank_line = 0;
  while (next_line(line)) {
    if (trimmed(line).empty()) {
      if (blank_line == 0) blank_line = line_;
      continue;
    }
    if (blank_line != 0) {
      throw errors::MissingValue({{name_, blank_line, {}, ""}, "", "is blank within the records", "a record"});
    }
    if (lines_.size() == hours_in_year) {
      throw errors::MalformedText(
          {at(), shown(line), "stands after the last hour of the year", "8760 records, or 8784 with a 29 February"});
    }
    cells_of(line, cells_);
    if (epw_ && width_ == 0) {
      width_ = cells_.size();
      if (width_ < variables[wind].epw_column || width_ > most_cells) {
        throw errors::MalformedText(
            {at(), fmt::format("{} cells", width_), "do not make an EPW record", "35 cells, at least 22"});
      }
    }
    if (cells_.size() != width_) {
      throw errors::MalformedText(
          {at(), fmt::format("{} cells", cells_.size()),
           rest_.empty() ? "are not all of the record (is the file truncated?)" : "do not fit the other records",
           fmt::format("{} cells", width_)});
    }
    const Stamp stamp = epw_ ? epw_stamp() : tmy3_stamp(trimmed(cells_[0]), trimmed(cells_[1]));
    const std::string said = epw_ ? fmt::format("month {}, day {}, hour {}", stamp.month, stamp.day, stamp.hour)
                                  : fmt::format("{} {}", shown(trimmed(cells_[0])), shown(trimmed(cells_[1])));
    if (stamp.hour == 0) {
      throw errors::MalformedText(
          {at("time"), said, "stamps the beginning of an hour", "the end of each hour, 1 to 24 (01:00 to 24:00)"});
    }
    if (leap_hours > 0 && leap_hours < 24) {
      if (stamp.month == 2 && stamp.day == 29 && stamp.hour == leap_hours + 1) {
        ++leap_hours;
        continue;
      }
      throw errors::MalformedText({at("time"), said, "does not follow the record before it",
                                   fmt::format("29 February, hour {}", leap_hours + 1)});
    }
    if (leap_hours == 0 && month == 3 && day == 1 && hour == 1 && stamp.month == 2 && stamp.day == 29 &&
        stamp.hour == 1) {
      leap_hours = 1;
      continue;
    }
    if (stamp.month != month || stamp.day != day || stamp.hour != hour) {
      throw errors::MalformedText(
          {at("time"), said,
           lines_.empty() ? "is not the first hour of a year" : "does not follow the record before it",
           fmt::format("month {}, day {}, hour {}", month, day, hour)});
    }
    if (day == 1 && hour == 1) year_.years[static_cast<std::size_t>(month - 1)] = stamp.year;
    lines_.push_back(line_);
    for (std::size_t v = 0; v < variable_count; ++v) values(v).push_back(cell_value(v));
    year_.ground_albedo.push_back(albedo_value());
    if (++hour > 24) {
      hour = 1;
      if (++day > days_in_month[static_cast<std::size_t>(month - 1)]) {
        day = 1;
        ++month;
      }
    }
  }
  if (lines_.size() < hours_in_year) {
    throw errors::MissingValue(
        {whole_file(), fmt::format("{} hours", lines_.size()),
         fmt::format("do not make a year: the file ends after line {} (is it truncated?)", line_),
         fmt::format("8760 hours; the next would be month {}, day {}, hour {}", month, day, hour)});
  }
  if (leap_hours > 0) year_.remarks.emplace_back("the 24 hours of 29 February were left out");
}

void Reader::fill_gaps(const SunYear& sun) {
  for (std::size_t v = 0; v < variable_count; ++v) {
    std::vector<double>& column = values(v);
    FilledGaps filled;
    filled.column = column_name(v);
    const bool light = v <= diffuse_light;
    for (std::size_t i = 0; i < column.size(); ++i) {
      if (light && std::isnan(column[i]) && !(sun.lit_share[i] > 0)) {
        column[i] = 0;
        ++filled.dark_hours;
      }
    }
    const std::size_t count = column.size();
    for (std::size_t i = 0; i < count;) {
      if (!std::isnan(column[i])) {
        ++i;
        continue;
      }
      std::size_t end = i;
      while (end < count && std::isnan(column[end])) ++end;
      const std::size_t length = end - i;
      const auto gap_at = [&] { return errors::Where{name_, lines_[i], {}, column_name(v)}; };
      const std::string rule =
          fmt::format("gaps of at most {} hours in a row and {} in the year{}", variables[v].longest_gap_h,
                      most_filled_hours, light ? ", hours without sun not counted" : "");
      if (length > variables[v].longest_gap_h || length == count) {
        throw errors::MissingValue({gap_at(), "", fmt::format("is missing for {} hours from here on", length), rule});
      }
      filled.hours += length;
      filled.longest_hours = std::max(filled.longest_hours, length);
      if (filled.hours > most_filled_hours) {
        throw errors::MissingValue(
            {gap_at(), "", fmt::format("is missing in more than {} hours of the year", most_filled_hours), rule});
      }
      const double before = i > 0 ? column[i - 1] : column[end];
      const double after = end < count ? column[end] : before;
      for (std::size_t k = i; k < end; ++k) {
        const double part = static_cast<double>(k - i + 1) / static_cast<double>(length + 1);
        column[k] = before + part * (after - before);
      }
      i = end;
    }
    if (filled.hours + filled.dark_hours > 0) {
      year_.remarks.push_back(fmt::format(
          "{}: {} missing hours were interpolated (at most {} in a row){}", filled.column, filled.hours,
          filled.longest_hours,
          filled.dark_hours > 0 ? fmt::format(", and {} missing hours without sun set to 0", filled.dark_hours) : ""));
      year_.filled.push_back(std::move(filled));
    }
  }
}

void Reader::settle_albedo() {
  std::vector<double>& albedo = year_.ground_albedo;
  const auto known = [](double a) { return !std::isnan(a); };
  std::size_t i = 0;
  bool enough = true;
  for (std::size_t m = 0; m < 12; ++m) {
    const std::size_t hours = 24 * static_cast<std::size_t>(days_in_month[m]);
    const auto begin = albedo.begin() + static_cast<std::ptrdiff_t>(i);
    const auto count = std::count_if(begin, begin + static_cast<std::ptrdiff_t>(hours), known);
    enough = enough && static_cast<double>(count) >= 0.9 * static_cast<double>(hours);
    i += hours;
  }
  if (!enough) {
    albedo.clear();
    year_.remarks.emplace_back(
        "the file gives no ground albedo in a tenth of some month's hours or more; it is not used");
    return;
  }
  double last = *std::find_if(albedo.begin(), albedo.end(), known);
  for (double& value : albedo) last = value = known(value) ? value : last;
}

void Reader::check_levels() {
  const double brightest = *std::max_element(year_.global_w_m2.begin(), year_.global_w_m2.end());
  if (brightest < 200) {
    throw errors::ValueOutOfRange({whole_file(column_name(global_light)), errors::plain_number(brightest),
                                   "is the highest value of the year and too low for W/m2 (is it in kWh/m2 or MJ/m2?)",
                                   "W/m2, with some hour above 200"});
  }
  double mean = 0, mean_wind = 0;
  for (std::size_t i = 0; i < hours_in_year; ++i) {
    mean += year_.dry_bulb_c[i] / hours_in_year;
    mean_wind += year_.wind_m_s[i] / hours_in_year;
  }
  if (mean > 36) {
    throw errors::ValueOutOfRange({whole_file(column_name(dry_bulb)), fmt::format("{:.1f}", mean),
                                   "is the mean of the year and too high for degC (is it in Fahrenheit?)",
                                   "degC, with a mean of at most 36"});
  }
  if (mean_wind > 15) {
    throw errors::ValueOutOfRange({whole_file(column_name(wind)), fmt::format("{:.1f}", mean_wind),
                                   "is the mean of the year and too high for m/s (is it in km/h or knots?)",
                                   "m/s, with a mean of at most 15"});
  }
}

void Reader::check_sun(const SunYear& sun) {
  // Four signs of a wrong clock, offset or coordinate: sun before it rises, more light than outside the atmosphere, a
  // day whose middle is not noon, and parts that do not make the whole.
  double weight = 0, moment = 0, total = 0, parts = 0;
  std::size_t above = 0;
  for (std::size_t i = 0; i < hours_in_year; ++i) {
    const double global = year_.global_w_m2[i];
    total += global;
    parts += year_.beam_normal_w_m2[i] * sun.up[i] + year_.diffuse_w_m2[i];
    if (global > sun.extraterrestrial_horizontal_w_m2[i] + 20) ++above;
    // Mean of the angle of the light about noon, on the circle.
    weight += global * std::cos(sun.hour_angle_rad[i]);
    moment += global * std::sin(sun.hour_angle_rad[i]);
  }
  const double late_h = std::atan2(moment, weight) * 12 / std::numbers::pi;
  const Place& place = year_.place;
  if (std::fabs(late_h) > 1.5 || above > 1000) {
    throw errors::Contradiction(
        {whole_file(),
         fmt::format("the day's light is centred {:.1f} h {} solar noon and {} hours exceed the light "
                     "outside the atmosphere, which",
                     std::fabs(late_h), late_h < 0 ? "before" : "after", above),
         fmt::format("contradicts latitude {}, longitude {} and UTC offset {} (is a sign wrong, or are stamps of "
                     "another clock?)",
                     errors::plain_number(place.latitude_deg), errors::plain_number(place.longitude_deg),
                     errors::plain_number(place.utc_offset_h)),
         "hour-ending stamps in local standard time, north and east positive"});
  }
  if (std::fabs(late_h) > 0.75 || above > 75) {
    year_.remarks.push_back(
        fmt::format("the clock of the radiation disagrees with the sun: the day's light is centred {:.2f} h {} solar "
                    "noon and {} hours exceed the light outside the atmosphere by more than 20 W/m2",
                    std::fabs(late_h), late_h < 0 ? "before" : "after", above));
  }
  if (std::fabs(parts / total - 1) > 0.25) {
    throw errors::Contradiction(
        {whole_file(),
         fmt::format("beam and diffuse light together are {:.0f} % of the global light of the year, which",
                     100 * parts / total),
         "cannot be (are two columns exchanged?)",
         "global = direct normal times cosine of the zenith angle + diffuse"});
  }
  if (std::fabs(parts / total - 1) > 0.05) {
    year_.remarks.push_back(fmt::format("beam and diffuse light together are {:.0f} % of the global light of the year",
                                        100 * parts / total));
  }
}

HourlyYear Reader::read() {
  std::string_view first;
  if (!next_line(first) || trimmed(first).empty()) {
    throw errors::MissingValue({whole_file(), "", "has no first line", "a TMY3 or EPW file"});
  }
  if (trimmed(first).starts_with("Date (")) {
    throw errors::MissingValue({at(), "", "holds the column names, but the station line before them is missing",
                                "station number, name, state, UTC offset, latitude, longitude, elevation"});
  }
  const std::string_view start = trimmed(first.substr(0, std::min(first.find(','), first.size())));
  const std::size_t line_end = rest_.find_first_of("\r\n");
  const std::string_view second = trimmed(rest_.substr(0, line_end));
  if (start == "LOCATION") {
    epw_ = true;
    read_epw_head(first);
  } else if (second.starts_with("Date (") || second.starts_with("\"Date (")) {
    read_tmy3_head(first);
  } else {
    throw errors::MalformedText({at(), shown(first), "begins neither a TMY3 nor an EPW file",
                                 "a TMY3 file (station line, then \"Date (MM/DD/YYYY),Time (HH:MM),...\") or an EPW "
                                 "file (first word LOCATION)"});
  }
  // An offset more than 3.5 h from the sun's is used nowhere (the largest, western China, is 3.1 h; from memory).
  const double sun_offset = year_.place.longitude_deg / 15;
  double difference = std::fmod(year_.place.utc_offset_h - sun_offset + 36, 24.0) - 12;
  if (std::fabs(difference) > 3.5) {
    throw errors::Contradiction(
        {{name_, 1, {}, "UTC offset"},
         fmt::format("{} h", errors::plain_number(year_.place.utc_offset_h)),
         fmt::format("does not fit longitude {} (has one of them the wrong sign?)",
                     errors::plain_number(year_.place.longitude_deg)),
         fmt::format("{:.1f} h, give or take 3.5; west of Greenwich both are negative", sun_offset)});
  }
  read_records();
  const SunYear sun = sun_year(year_.place, year_.years);
  fill_gaps(sun);
  settle_albedo();
  check_levels();
  check_sun(sun);
  return std::move(year_);
}

void require_column(std::string_view key, const std::vector<double>& column, double low, double high,
                    std::string_view unit) {
  if (column.size() != hours_in_year) {
    throw errors::ValueOutOfRange({{"", {}, {}, std::string(key)},
                                   fmt::format("{} values", column.size()),
                                   "do not make a year",
                                   "8760 values, one an hour, without 29 February"});
  }
  // Every collector plane asks this of its year: without branches the compiler looks at several hours at once.
  std::int64_t good = 0;
  for (const double x : column) good += static_cast<std::int64_t>((x >= low) & (x <= high));
  if (good == static_cast<std::int64_t>(column.size())) return;
  const auto bad = std::find_if(column.begin(), column.end(), [&](double x) { return !(x >= low && x <= high); });
  errors::require_in_range(fmt::format("{}, hour {}", key, bad - column.begin() + 1), *bad, low, high, unit);
}

std::array<double, 365> mains_of_days(const Monthly& air_c, bool southern) {
  double mean = 0;
  for (std::size_t m = 0; m < 12; ++m) mean += air_c[m] * days_in_month[m] / 365.0;
  const auto [coldest, warmest] = std::minmax_element(air_c.begin(), air_c.end());
  std::array<double, 365> result{};
  for (std::size_t d = 0; d < result.size(); ++d) {
    result[d] = mains_temperature_c(static_cast<double>(d + 1), mean, *warmest - *coldest, southern);
  }
  return result;
}

Monthly monthly_mean(const std::vector<double>& column) {
  Monthly result{};
  std::size_t i = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    double sum = 0;
    const std::size_t hours = 24 * static_cast<std::size_t>(days_in_month[m]);
    for (const std::size_t end = i + hours; i < end; ++i) sum += column[i];
    result[m] = sum / static_cast<double>(hours);
  }
  return result;
}

}  // namespace

void require_whole(const HourlyYear& year) {
  require_column("global_w_m2", year.global_w_m2, 0, most_w_m2, "W/m2");
  require_column("beam_normal_w_m2", year.beam_normal_w_m2, 0, most_w_m2, "W/m2");
  require_column("diffuse_w_m2", year.diffuse_w_m2, 0, most_w_m2, "W/m2");
  require_column("dry_bulb_c", year.dry_bulb_c, -100, 70, "degC");
  require_column("wind_m_s", year.wind_m_s, 0, 60, "m/s");
  if (!year.ground_albedo.empty()) require_column("ground_albedo", year.ground_albedo, 0, 1, "");
}

HourlyYear read_hourly(const std::filesystem::path& file) {
  const std::string name = file.string();
  const std::string text = read_bounded(file, name);
  return Reader(text, name).read();
}

Climate monthly_means(const HourlyYear& year) {
  require_whole(year);
  Climate climate;
  climate.place = year.place;
  climate.months.horizontal_kwh_m2_day = monthly_mean(year.global_w_m2);
  for (double& value : climate.months.horizontal_kwh_m2_day) value *= 24.0 / 1000;
  climate.months.dry_bulb_c = monthly_mean(year.dry_bulb_c);
  climate.months.wind_m_s = monthly_mean(year.wind_m_s);
  if (!year.ground_albedo.empty()) climate.months.ground_albedo = monthly_mean(year.ground_albedo);
  std::size_t i = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    double sum = 0;
    for (int d = 0; d < days_in_month[m]; ++d, i += 24) {
      const auto day = year.dry_bulb_c.begin() + static_cast<std::ptrdiff_t>(i);
      const auto [low, high] = std::minmax_element(day, day + 24);
      sum += *high - *low;
    }
    climate.months.dry_bulb_range_k[m] = sum / days_in_month[m];
  }
  return climate;
}

std::array<double, 365> mains_by_day_c(const HourlyYear& year) {
  require_column("dry_bulb_c", year.dry_bulb_c, -100, 70, "degC");
  return mains_of_days(monthly_mean(year.dry_bulb_c), year.place.latitude_deg < 0);
}

std::array<double, 365> mains_by_day_c(const Climate& climate) {
  return mains_of_days(climate.months.dry_bulb_c, climate.place.latitude_deg < 0);
}

}  // namespace warmledger::climate
