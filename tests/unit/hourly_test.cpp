// Hourly years: the readers, with files written here, whole and broken; and what is made of a year.
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <numeric>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "warmledger/climate/hourly.hpp"
#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/climate/synthesis.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using namespace warmledger::climate;
using doctest::Approx;

namespace {

/// An invented place in the middle of a time zone.
Climate invented() {
  Climate c;
  c.place = {"999990", "INVENTED FIELD", "ZZ", 40, -90, 200, -6, "invented"};
  c.months.horizontal_kwh_m2_day = {1.9, 2.8, 3.8, 4.7, 5.6, 6.1, 6.0, 5.3, 4.3, 3.2, 2.1, 1.7};
  c.months.dry_bulb_c = {-2, 0, 5, 11, 16, 21, 24, 23, 19, 13, 6, 1};
  c.months.dry_bulb_range_k = {8, 9, 10, 11, 12, 12, 12, 12, 12, 11, 9, 8};
  c.months.wind_m_s.fill(3.5);
  return c;
}

const HourlyYear& made() {
  static const HourlyYear year = synthesize(invented(), 7);
  return year;
}

using Row = std::vector<std::string>;

/// A weather file as lines of cells, to be spoilt and written.
struct Sheet {
  std::vector<std::string> head;
  std::vector<Row> rows;
  std::string line_end = "\n";
  std::string start;  // before the first line
  bool last_line_end = true;

  [[nodiscard]] std::string text() const {
    std::string all = start;
    for (const auto& line : head) all += line + line_end;
    for (const auto& row : rows) {
      for (std::size_t k = 0; k < row.size(); ++k) (all += k > 0 ? "," : "") += row[k];
      all += line_end;
    }
    if (!last_line_end) all.resize(all.size() - line_end.size());
    return all;
  }
};

enum TmyColumn : std::size_t { date, hour_of_day, ghi = 3, dni, dhi, temperature, speed, albedo, albedo_flag };
enum EpwColumn : std::size_t {
  e_hour = 3,
  e_minute = 4,
  e_temperature = 6,
  e_ghi = 13,
  e_dni,
  e_dhi,
  e_speed = 21,
  e_albedo = 32
};

const std::string tmy_columns =
    "Date (MM/DD/YYYY),Time (HH:MM),ETR (W/m^2),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),Dry-bulb (C),Wspd (m/s),"
    "Alb (unitless),Alb source";

void each_hour(bool leap, const std::function<void(int month, int day, int hour, std::size_t i)>& act) {
  std::size_t i = 0;
  for (int m = 1; m <= 12; ++m) {
    for (int d = 1; d <= days_in_month[static_cast<std::size_t>(m - 1)]; ++d) {
      for (int h = 1; h <= 24; ++h) act(m, d, h, i++);
    }
    if (leap && m == 2) {
      for (int h = 1; h <= 24; ++h) act(2, 29, h, i - 24 + static_cast<std::size_t>(h - 1));
    }
  }
}

Sheet tmy3(bool leap = false) {
  const HourlyYear& y = made();
  Sheet sheet;
  sheet.head = {"999990,\"INVENTED, FIELD\",ZZ,-6.0,40.000,-90.000,200", tmy_columns};
  each_hour(leap, [&](int m, int d, int h, std::size_t i) {
    sheet.rows.push_back({fmt::format("{:02}/{:02}/{}", m, d, m <= 6 ? 1996 : 1988), fmt::format("{:02}:00", h), "0",
                          fmt::format("{}", y.global_w_m2[i]), fmt::format("{}", y.beam_normal_w_m2[i]),
                          fmt::format("{}", y.diffuse_w_m2[i]), fmt::format("{}", y.dry_bulb_c[i]),
                          fmt::format("{}", y.wind_m_s[i]), "0.210", "F"});
  });
  return sheet;
}

Sheet epw(bool leap = false) {
  const HourlyYear& y = made();
  Sheet sheet;
  sheet.head = {"LOCATION,Invented Field,ZZ,ZZZ,Invented,999990,40.0,-90.0,-6.0,200.0",
                "DESIGN CONDITIONS,0",
                "TYPICAL/EXTREME PERIODS,0",
                "GROUND TEMPERATURES,0",
                "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
                "COMMENTS 1,invented",
                "COMMENTS 2,",
                "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"};
  each_hour(leap, [&](int m, int d, int h, std::size_t i) {
    Row row(35, "0");
    row[0] = "2001";
    row[1] = fmt::format("{}", m);
    row[2] = fmt::format("{}", d);
    row[e_hour] = fmt::format("{}", h);
    row[e_minute] = "60";
    row[5] = "?9?9E0";
    row[e_temperature] = fmt::format("{}", y.dry_bulb_c[i]);
    row[e_ghi] = fmt::format("{}", y.global_w_m2[i]);
    row[e_dni] = fmt::format("{}", y.beam_normal_w_m2[i]);
    row[e_dhi] = fmt::format("{}", y.diffuse_w_m2[i]);
    row[e_speed] = fmt::format("{}", y.wind_m_s[i]);
    row[e_albedo] = "0.21";
    sheet.rows.push_back(row);
  });
  return sheet;
}

/// A file in a folder of its own, removed at the end.
class Temporary {
 public:
  explicit Temporary(const std::string& text) {
    static int count = 0;
    folder_ = std::filesystem::temp_directory_path() /
              fmt::format("warmledger-hourly-{}-{}", reinterpret_cast<std::uintptr_t>(this), ++count);
    std::filesystem::create_directory(folder_);
    std::ofstream(file(), std::ios::binary) << text;
  }
  ~Temporary() {
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  Temporary(const Temporary&) = delete;
  Temporary& operator=(const Temporary&) = delete;
  [[nodiscard]] std::filesystem::path file() const { return folder_ / "year.csv"; }
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }

 private:
  std::filesystem::path folder_;
};

HourlyYear read_text(const std::string& text) {
  const Temporary temporary(text);
  return read_hourly(temporary.file());
}
HourlyYear read_sheet(const Sheet& sheet) {
  return read_text(sheet.text());
}

/// The sentence of the error of the type asked for, with the folder left out; another text if it does not come.
template <class E>
std::string refusal(const std::string& text) {
  const Temporary temporary(text);
  try {
    (void)read_hourly(temporary.file());
  } catch (const errors::Error& error) {
    std::string sentence = error.what();
    const std::string folder = temporary.folder().string() + "/";
    if (const auto found = sentence.find(folder); found != std::string::npos) sentence.erase(found, folder.size());
    return dynamic_cast<const E*>(&error) != nullptr ? sentence : "another type: " + sentence;
  }
  return "not refused";
}
template <class E>
std::string refusal(const Sheet& sheet) {
  return refusal<E>(sheet.text());
}

bool said(const HourlyYear& year, const std::string& words) {
  return std::any_of(year.remarks.begin(), year.remarks.end(),
                     [&](const std::string& r) { return r.find(words) != std::string::npos; });
}

}  // namespace

TEST_CASE("a TMY3 file comes back value for value") {
  const HourlyYear year = read_sheet(tmy3());
  CHECK(year.place.station_id == "999990");
  CHECK(year.place.name == "INVENTED, FIELD");
  CHECK(year.place.state == "ZZ");
  CHECK(year.place.utc_offset_h == -6);
  CHECK(year.place.latitude_deg == 40);
  CHECK(year.place.longitude_deg == -90);
  CHECK(year.place.elevation_m == 200);
  CHECK(year.years[0] == 1996);
  CHECK(year.years[11] == 1988);
  CHECK(year.global_w_m2 == made().global_w_m2);
  CHECK(year.beam_normal_w_m2 == made().beam_normal_w_m2);
  CHECK(year.diffuse_w_m2 == made().diffuse_w_m2);
  CHECK(year.dry_bulb_c == made().dry_bulb_c);
  CHECK(year.wind_m_s == made().wind_m_s);
  CHECK(year.ground_albedo == std::vector<double>(8760, 0.21));
  CHECK(year.filled.empty());
  CHECK(year.remarks.empty());
}

TEST_CASE("an EPW file comes back value for value") {
  const HourlyYear year = read_sheet(epw());
  CHECK(year.place.station_id == "999990");
  CHECK(year.place.name == "Invented Field");
  CHECK(year.place.utc_offset_h == -6);
  CHECK(year.place.longitude_deg == -90);
  CHECK(year.years[5] == 2001);
  CHECK(year.global_w_m2 == made().global_w_m2);
  CHECK(year.beam_normal_w_m2 == made().beam_normal_w_m2);
  CHECK(year.diffuse_w_m2 == made().diffuse_w_m2);
  CHECK(year.dry_bulb_c == made().dry_bulb_c);
  CHECK(year.wind_m_s == made().wind_m_s);
  CHECK(year.ground_albedo.size() == 8760);
  CHECK(year.remarks.empty());
}

TEST_CASE("line ends, byte-order mark, quotes, plus signs and column order do not matter") {
  for (Sheet sheet : {tmy3(), epw()}) {
    for (const char* line_end : {"\r\n", "\r"}) {
      sheet.line_end = line_end;
      CHECK(read_sheet(sheet).global_w_m2 == made().global_w_m2);
    }
    sheet.line_end = "\n";
    sheet.start = "\xEF\xBB\xBF";
    sheet.last_line_end = false;
    CHECK(read_sheet(sheet).dry_bulb_c == made().dry_bulb_c);
    CHECK(read_text(sheet.text() + "\n\n \r\n").dry_bulb_c == made().dry_bulb_c);
  }
  Sheet sheet = tmy3();
  sheet.rows[4000][date] = "6/16/1996";  // as spreadsheet programs write it
  sheet.rows[4000][hour_of_day] = "17:00";
  sheet.rows[5000][temperature] = " \"" + sheet.rows[5000][temperature] + "\" ";
  sheet.rows[5001][ghi] = "+" + sheet.rows[5001][ghi];
  REQUIRE(tmy3().rows[4000][date] == "06/16/1996");
  REQUIRE(tmy3().rows[4000][hour_of_day] == "17:00");
  CHECK(read_sheet(sheet).dry_bulb_c == made().dry_bulb_c);
  // Two columns exchanged together with their names.
  sheet = tmy3();
  sheet.head[1] =
      "Date (MM/DD/YYYY),Time (HH:MM),ETR (W/m^2),GHI (W/m^2),DHI (W/m^2),DNI (W/m^2),Dry-bulb (C),Wspd (m/s),"
      "Alb (unitless),Alb source";
  for (Row& row : sheet.rows) std::swap(row[dni], row[dhi]);
  CHECK(read_sheet(sheet).beam_normal_w_m2 == made().beam_normal_w_m2);
}

TEST_CASE("a leap year loses its 29 February and says so") {
  for (const Sheet& sheet : {tmy3(true), epw(true)}) {
    REQUIRE(sheet.rows.size() == 8784);
    const HourlyYear year = read_sheet(sheet);
    CHECK(year.global_w_m2 == made().global_w_m2);
    CHECK(said(year, "29 February"));
  }
}

TEST_CASE("short gaps are interpolated and counted") {
  Sheet sheet = tmy3();
  const std::size_t noon = 24 * 170 + 11;
  for (std::size_t k = 0; k < 3; ++k) sheet.rows[noon + k][ghi] = "-9900";
  for (std::size_t k = 0; k < 6; ++k) sheet.rows[k][temperature] = "-9900";  // at the edge: held
  sheet.rows[200][speed] = "";
  sheet.rows[24 * 170][dhi] = "-9900.0";  // at night
  const HourlyYear year = read_sheet(sheet);
  const auto& g = made().global_w_m2;
  CHECK(year.global_w_m2[noon + 1] == Approx((g[noon - 1] + g[noon + 3]) / 2).epsilon(1e-12));
  CHECK(year.global_w_m2[noon] == Approx(g[noon - 1] + (g[noon + 3] - g[noon - 1]) / 4).epsilon(1e-12));
  CHECK(year.dry_bulb_c[0] == made().dry_bulb_c[6]);
  CHECK(year.diffuse_w_m2[24 * 170] == 0);
  CHECK(year.wind_m_s[200] == Approx(3.5));
  REQUIRE(year.filled.size() == 4);
  CHECK(year.filled[0].column == "GHI (W/m^2)");
  CHECK(year.filled[0].hours == 3);
  CHECK(year.filled[0].longest_hours == 3);
  CHECK(year.filled[1].column == "DHI (W/m^2)");
  CHECK(year.filled[1].hours == 0);
  CHECK(year.filled[1].dark_hours == 1);
  CHECK(year.filled[2].hours == 6);
  CHECK(year.filled[3].hours == 1);
  CHECK(said(year, "GHI (W/m^2): 3 missing hours were interpolated (at most 3 in a row)"));

  Sheet other = epw();
  other.rows[noon][e_ghi] = "9999";
  other.rows[noon][e_dni] = "9999.0";
  other.rows[noon][e_temperature] = "99.9";
  other.rows[noon][e_speed] = "999";
  const HourlyYear from_epw = read_sheet(other);
  CHECK(from_epw.filled.size() == 4);
  CHECK(from_epw.dry_bulb_c[noon] == Approx((made().dry_bulb_c[noon - 1] + made().dry_bulb_c[noon + 1]) / 2));
}

TEST_CASE("long gaps are errors") {
  Sheet sheet = tmy3();
  const std::size_t noon = 24 * 170 + 11;  // 20 June, line 2 + 4092
  for (std::size_t k = 0; k < 4; ++k) sheet.rows[noon + k][dni] = "-9900";
  CHECK(refusal<errors::MissingValue>(sheet) ==
        "year.csv, line 4094, DNI (W/m^2): is missing for 4 hours from here on; allowed: gaps of at most 3 hours in a "
        "row and 175 in the year, hours without sun not counted");
  sheet = tmy3();
  for (std::size_t k = 0; k < 8760; k += 40) sheet.rows[k][temperature] = "-9900";  // 219 single hours
  CHECK(refusal<errors::MissingValue>(sheet).find("Dry-bulb (C): is missing in more than 175 hours of the year") !=
        std::string::npos);
  sheet = epw();
  for (Row& row : sheet.rows) row[e_speed] = "999";
  CHECK(refusal<errors::MissingValue>(sheet) ==
        "year.csv, line 9, wind speed (column 22): is missing for 8760 hours from here on; allowed: gaps of at most 24 "
        "hours in a row and 175 in the year");
}

TEST_CASE("ground albedo is kept only where it is known nearly everywhere") {
  Sheet sheet = tmy3();
  for (Row& row : sheet.rows) row[albedo_flag] = "?";
  const HourlyYear unknown = read_sheet(sheet);
  CHECK(unknown.ground_albedo.empty());
  CHECK(said(unknown, "ground albedo"));
  sheet = tmy3();
  sheet.rows[50][albedo] = "0.000";
  sheet.rows[51][albedo] = "0.5";
  const HourlyYear known = read_sheet(sheet);
  CHECK(known.ground_albedo[50] == 0.21);
  CHECK(known.ground_albedo[51] == 0.5);
}

TEST_CASE("cells that are no number or out of range are named with line, column, value and range") {
  Sheet sheet = tmy3();
  sheet.rows[11][ghi] = "n/a";
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 14, GHI (W/m^2): n/a is not a number; allowed: 0 to 1415 W/m2, or -9900 where missing");
  for (const char* text : {"nan", "inf", "1e999", "12,5", "0x10", "--3"}) {
    sheet = tmy3();
    sheet.rows[11][ghi] = fmt::format("\"{}\"", text);
    CHECK(refusal<errors::MalformedText>(sheet).starts_with(
        fmt::format("year.csv, line 14, GHI (W/m^2): {} is not a number", text)));
  }
  sheet = tmy3();
  sheet.rows[11][dhi] = "-3";
  CHECK(refusal<errors::ValueOutOfRange>(sheet) ==
        "year.csv, line 14, DHI (W/m^2): -3 is out of range; allowed: 0 to 1415 W/m2, or -9900 where missing");
  sheet = epw();
  sheet.rows[0][e_temperature] = "120";
  CHECK(refusal<errors::ValueOutOfRange>(sheet) ==
        "year.csv, line 9, dry bulb temperature (column 7): 120 is out of range (is it in Fahrenheit or kelvin?); "
        "allowed: -90 to 60 degC, or 99.9 where missing");
}

TEST_CASE("wrong units are suspected") {
  Sheet sheet = tmy3();
  for (Row& row : sheet.rows) row[ghi] = fmt::format("{}", std::stod(row[ghi]) * 3.6);  // kJ/m2
  CHECK(refusal<errors::ValueOutOfRange>(sheet).find("is out of range (is it in kJ/m2?)") != std::string::npos);
  sheet = tmy3();
  for (Row& row : sheet.rows) {
    for (const std::size_t k : {ghi, dni, dhi}) row[k] = fmt::format("{}", std::stod(row[k]) / 1000);  // kWh/m2
  }
  CHECK(refusal<errors::ValueOutOfRange>(sheet).find(
            "is the highest value of the year and too low for W/m2 (is it in kWh/m2 or MJ/m2?)") != std::string::npos);
  sheet = tmy3();
  for (Row& row : sheet.rows)
    row[temperature] = fmt::format("{}", std::min(58.0, std::stod(row[temperature]) * 1.8 + 32));
  CHECK(refusal<errors::ValueOutOfRange>(sheet).find("too high for degC (is it in Fahrenheit?)") != std::string::npos);
  sheet = epw();
  for (Row& row : sheet.rows) row[e_speed] = "18";
  CHECK(refusal<errors::ValueOutOfRange>(sheet).find("too high for m/s (is it in km/h or knots?)") !=
        std::string::npos);
  sheet = tmy3();
  sheet.head[1].replace(sheet.head[1].find("GHI (W/m^2)"), 11, "GHI (kJ/m^2)");
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 2, column 4: GHI (kJ/m^2) is in another unit; allowed: GHI (W/m^2)");
}

TEST_CASE("truncated, overlong and torn files") {
  Sheet sheet = tmy3();
  sheet.rows.resize(5000);
  CHECK(refusal<errors::MissingValue>(sheet) ==
        "year.csv: 5000 hours do not make a year: the file ends after line 5002 (is it truncated?); allowed: 8760 "
        "hours; the next would be month 7, day 28, hour 9");
  sheet = tmy3();
  sheet.rows.resize(5000);
  sheet.rows.back().resize(6);
  sheet.last_line_end = false;
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 5002: 6 cells are not all of the record (is the file truncated?); allowed: 10 cells");
  sheet = epw();
  sheet.rows.push_back(sheet.rows[0]);
  CHECK(refusal<errors::MalformedText>(sheet).starts_with("year.csv, line 8769: 2001,1,1,1,60,"));
  sheet = tmy3();
  sheet.rows[30].push_back("1");
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 33: 11 cells do not fit the other records; allowed: 10 cells");
  sheet = tmy3();
  sheet.rows[30] = {""};
  CHECK(refusal<errors::MissingValue>(sheet) == "year.csv, line 33: is blank within the records; allowed: a record");
  CHECK(refusal<errors::MissingValue>(std::string()) == "year.csv: has no first line; allowed: a TMY3 or EPW file");
  CHECK(refusal<errors::MalformedText>(tmy3().head[0] + "\n").find("begins neither a TMY3 nor an EPW file") !=
        std::string::npos);
  CHECK(refusal<errors::MissingValue>(tmy3().head[1] + "\n1,2\n") ==
        "year.csv, line 1: holds the column names, but the station line before them is missing; allowed: station "
        "number, name, state, UTC offset, latitude, longitude, elevation");
  CHECK(refusal<errors::MissingValue>(epw().head[0] + "\nDESIGN CONDITIONS,0\n") ==
        "year.csv: ends within the header, after line 2; allowed: 8 header lines, the last DATA PERIODS");
  CHECK(refusal<errors::MalformedText>(std::string("a,b\n1,2\n"))
            .starts_with("year.csv, line 1: a,b begins neither a TMY3 nor an EPW file"));
}

TEST_CASE("stamps end the hour and follow one another") {
  Sheet sheet = tmy3();
  for (std::size_t i = 0; i < sheet.rows.size(); ++i) sheet.rows[i][hour_of_day] = fmt::format("{:02}:00", i % 24);
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 3, time: 01/01/1996 00:00 stamps the beginning of an hour; allowed: the end of each hour, 1 to "
        "24 (01:00 to 24:00)");
  sheet = epw();
  for (std::size_t i = 0; i < sheet.rows.size(); ++i) sheet.rows[i][e_hour] = fmt::format("{}", i % 24);
  CHECK(refusal<errors::MalformedText>(sheet).find("stamps the beginning of an hour") != std::string::npos);
  sheet = tmy3();
  sheet.rows.erase(sheet.rows.begin() + 100);
  CHECK(
      refusal<errors::MalformedText>(sheet) ==
      "year.csv, line 103, time: 01/05/1996 06:00 does not follow the record before it; allowed: month 1, day 5, hour "
      "5");
  sheet = tmy3();
  sheet.rows.erase(sheet.rows.begin());
  CHECK(refusal<errors::MalformedText>(sheet).find("01/01/1996 02:00 is not the first hour of a year") !=
        std::string::npos);
  sheet = tmy3(true);
  sheet.rows.erase(sheet.rows.begin() + 59 * 24 + 5);
  CHECK(refusal<errors::MalformedText>(sheet).find("02/29/1996 07:00 does not follow the record before it; allowed: 29 "
                                                   "February, hour 6") != std::string::npos);
  sheet = tmy3();
  sheet.rows[7][hour_of_day] = "08:30";
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 10, time: 08:30 is not on the full hour; allowed: one record an hour, stamped 01:00 to 24:00");
  sheet = tmy3();
  sheet.rows[7][date] = "1996-01-01";
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 10, date: 1996-01-01 is not a date; allowed: MM/DD/YYYY, as 12/31/1995");
  sheet = epw();
  sheet.rows[7][e_minute] = "15";
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 16, minute (column 5): 15 is not a minute of hourly records; allowed: 0, 30 or 60; one record "
        "an hour");
  sheet = epw();
  sheet.rows[7][1] = "13";
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 16, month (column 2): 13 is out of range; allowed: 1 to 12");
}

TEST_CASE("signs of the offset and the coordinates are held against the sun") {
  const auto head = [](Sheet sheet, const std::string& line) {
    sheet.head[0] = line;
    return sheet;
  };
  CHECK(refusal<errors::Contradiction>(head(tmy3(), "999990,X,ZZ,6.0,40,-90,200")) ==
        "year.csv, line 1, UTC offset: 6 h does not fit longitude -90 (has one of them the wrong sign?); allowed: -6.0 "
        "h, "
        "give or take 3.5; west of Greenwich both are negative");
  CHECK(refusal<errors::Contradiction>(head(tmy3(), "999990,X,ZZ,-6.0,40,90,200"))
            .find("-6 h does not fit longitude 90") != std::string::npos);
  CHECK(refusal<errors::Contradiction>(head(tmy3(), "999990,X,ZZ,-8.0,40,-90,200"))
            .find("contradicts latitude 40, longitude -90 and UTC offset -8") != std::string::npos);
  CHECK(refusal<errors::Contradiction>(head(tmy3(), "999990,X,ZZ,-6.0,-40,-90,200")).find("contradicts latitude -40") !=
        std::string::npos);
  CHECK(said(read_sheet(head(tmy3(), "999990,X,ZZ,-7.0,40,-90,200")),
             "the clock of the radiation disagrees with the sun"));
  // West of the date line but on eastern time: the offset fits when taken round the globe.
  Climate east = invented();
  east.place.longitude_deg = 174;
  east.place.utc_offset_h = -12;
  CHECK(synthesize(east, 1).global_w_m2.size() == 8760);
  CHECK(refusal<errors::ValueOutOfRange>(head(tmy3(), "999990,X,ZZ,-6.0,140,-90,200")) ==
        "year.csv, line 1, latitude: 140 is out of range; allowed: -90 to 90 degrees");
  CHECK(refusal<errors::MissingValue>(head(tmy3(), "999990,X,ZZ,,40,-90,200")) ==
        "year.csv, line 1, UTC offset: is empty; allowed: -12 to 14 hours, west negative");
  CHECK(refusal<errors::MalformedText>(head(tmy3(), "999990,X,ZZ,-6.0,40N,-90,200")) ==
        "year.csv, line 1, latitude: 40N is not a number; allowed: -90 to 90 degrees");
  CHECK(refusal<errors::MissingValue>(head(epw(), "LOCATION,X,ZZ")).find("LOCATION: 3 cells are too few") !=
        std::string::npos);
}

TEST_CASE("columns of a TMY3 file and periods of an EPW file") {
  Sheet sheet = tmy3();
  sheet.head[1].replace(sheet.head[1].find("Wspd (m/s)"), 10, "Wdir (deg)");
  CHECK(refusal<errors::MissingValue>(sheet) ==
        "year.csv, line 2: the column Wspd (m/s) is missing; allowed: all columns of TMY3");
  sheet = tmy3();
  sheet.head[1].replace(sheet.head[1].find("ETR (W/m^2)"), 11, "GHI (W/m^2)");
  CHECK(refusal<errors::DuplicateName>(sheet) ==
        "year.csv, line 2, GHI (W/m^2): stands twice, in columns 3 and 4; allowed: each column once");
  sheet = tmy3();
  sheet.head[1].replace(6, 10, "DD/MM/YYYY");
  CHECK(refusal<errors::MalformedText>(sheet) ==
        "year.csv, line 2, column 1: Date (DD/MM/YYYY) is a form of dates that is not read; allowed: MM/DD/YYYY");
  sheet = tmy3();
  for (Row& row : sheet.rows) std::swap(row[ghi], row[dhi]);
  CHECK(refusal<errors::Contradiction>(sheet).find("are two columns exchanged?") != std::string::npos);
  sheet = epw();
  sheet.head[7] = "DATA PERIODS,1,4,Data,Sunday, 1/ 1,12/31";
  CHECK(refusal<errors::NotAvailable>(sheet) ==
        "year.csv, line 8, DATA PERIODS: 4 records per hour are not read; allowed: 1 an hour");
  sheet.head[7] = "DATA PERIODS,2,1,Data,Sunday, 1/ 1,12/31";
  CHECK(refusal<errors::NotAvailable>(sheet) ==
        "year.csv, line 8, DATA PERIODS: 2 periods are not read; allowed: 1 period");
  sheet.head.erase(sheet.head.begin() + 3);
  CHECK(refusal<errors::MalformedText>(sheet).find("stands too early") != std::string::npos);
}

TEST_CASE("files that are no text, no file, or too large") {
  CHECK(refusal<errors::FileUnreadable>(std::string("\x1F\x8B\x08", 3)) ==
        "year.csv: is compressed with gzip; allowed: the unpacked file");
  CHECK(refusal<errors::FileUnreadable>(std::string("PK\x03\x04")) ==
        "year.csv: is a zip archive; allowed: the unpacked file");
  CHECK(refusal<errors::FileUnreadable>(std::string("\xFF\xFEL\0", 4)) ==
        "year.csv: is in UTF-16; allowed: ASCII or UTF-8; save it again as UTF-8");
  const Temporary temporary("x");
  CHECK_THROWS_AS((void)read_hourly(temporary.folder() / "none.csv"), errors::FileUnreadable);
  CHECK_THROWS_AS((void)read_hourly(temporary.folder()), errors::FileUnreadable);
  CHECK_THROWS_AS((void)read_hourly("/dev/zero"), errors::FileUnreadable);
  // A sparse file above the limit is refused before it is read.
  std::filesystem::resize_file(temporary.file(), (std::uintmax_t{64} << 20U) + 1);
  CHECK_THROWS_WITH_AS((void)read_hourly(temporary.file()),
                       doctest::Contains("67108865 bytes are too many for a year of hours; allowed: at most 64 MiB"),
                       errors::FileUnreadable);
  // Noise of any bytes, and cells without end, end in an error that says where.
  std::string noise = tmy3().head[0] + "\n" + tmy_columns + "\n" + std::string(300000, ',');
  CHECK(refusal<errors::MalformedText>(noise).starts_with("year.csv, line 3: "));
  noise = "LOCATION" + std::string(100000, '\0') + "\n\xFF\xFE\n";
  CHECK(refusal<errors::Error>(noise).starts_with("year.csv, line 1: LOCATION????"));
  // A name with bytes that are no ASCII still reads; it is shown without them.
  Sheet sheet = tmy3();
  sheet.head[0] = "999990,\"CA\xD1ON\",ZZ,-6.0,40.000,-90.000,200";
  CHECK(read_sheet(sheet).place.name == "CA?ON");
}

TEST_CASE("every prefix of a file is refused, none crashes") {
  for (const Sheet& sheet : {tmy3(), epw()}) {
    const std::string text = sheet.text();
    for (std::size_t size = 0; size < text.size() - 40; size = size < 2000 ? size + 37 : size * 2 + 11) {
      CHECK(refusal<errors::Error>(text.substr(0, size)) != "not refused");
    }
  }
}

TEST_CASE("monthly means and mains water of an hourly year") {
  const Climate means = monthly_means(made());
  const Climate given = invented();
  for (std::size_t m = 0; m < 12; ++m) {
    CHECK(means.months.horizontal_kwh_m2_day[m] == Approx(given.months.horizontal_kwh_m2_day[m]).epsilon(1e-12));
    CHECK(means.months.dry_bulb_c[m] == Approx(given.months.dry_bulb_c[m]).epsilon(1e-12));
    CHECK(means.months.ground_albedo[m] == Approx(0.2));
  }
  const auto by_year = mains_by_day_c(made());
  const auto by_climate = mains_by_day_c(given);
  const Monthly by_month = mains_by_month_c(given);
  CHECK(std::accumulate(by_climate.begin(), by_climate.begin() + 31, 0.0) / 31 == Approx(by_month[0]).epsilon(1e-12));
  for (std::size_t d = 0; d < 365; ++d) CHECK(by_year[d] == Approx(by_climate[d]).epsilon(1e-9));

  HourlyYear bad = made();
  bad.wind_m_s.pop_back();
  CHECK_THROWS_WITH_AS((void)monthly_means(bad), doctest::Contains("wind_m_s: 8759 values do not make a year"),
                       errors::ValueOutOfRange);
  bad = made();
  bad.dry_bulb_c[9] = std::nan("");
  CHECK_THROWS_WITH_AS(require_whole(bad), doctest::Contains("dry_bulb_c, hour 10: NaN is out of range"),
                       errors::ValueOutOfRange);
}
