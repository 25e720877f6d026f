// The CSV reader and the catalogue: look-ups, a folder of the user's own, and errors that name file, line and column.
#include "warmledger/catalog/catalog.hpp"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>

#include <doctest/doctest.h>

#include "warmledger/catalog/text.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace fs = std::filesystem;
using namespace warmledger;

namespace {

/// A folder of its own for each test, removed at the end.
class Folder {
 public:
  explicit Folder(const std::string& name) : path_(fs::temp_directory_path() / ("warmledger catalog test " + name)) {
    fs::remove_all(path_);
    fs::create_directories(path_);
  }
  ~Folder() { fs::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] fs::path write(const std::string& name, std::string_view content) const {
    fs::create_directories((path_ / name).parent_path());
    std::ofstream(path_ / name, std::ios::binary) << content;
    return path_ / name;
  }
  [[nodiscard]] const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

template <class E, class F>
std::string message_of(F&& work) {
  try {
    work();
  } catch (const E& error) {
    return error.what();
  }
  FAIL("nothing of the expected type was thrown");
  return {};
}

std::string read_whole(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

/// `text` with the first `from` replaced; fails if it does not occur.
std::string with(std::string text, std::string_view from, std::string_view to) {
  const std::size_t at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, from);
  return text.replace(at, from.size(), to);
}

}  // namespace

TEST_CASE("csv: quotes, commas, line ends and the byte-order mark as in RFC 4180") {
  const Folder folder("good");
  const auto file = folder.write(
      "a.csv", "\xEF\xBB\xBFid,\"na,me\",note\r\n1,\"say \"\"hi\"\"\",\"two\r\nlines\"\r\n2,,\n\n3, b ,=1+1");
  const catalog::CsvTable table = catalog::read_csv(file);
  CHECK(table.header == std::vector<std::string>{"id", "na,me", "note"});
  REQUIRE(table.rows.size() == 3);
  CHECK(table.rows[0] == std::vector<std::string>{"1", "say \"hi\"", "two\r\nlines"});
  CHECK(table.rows[1] == std::vector<std::string>{"2", "", ""});
  CHECK(table.rows[2] == std::vector<std::string>{"3", " b ", "=1+1"});
  CHECK(table.lines == std::vector<long>{2, 4, 6});
}

TEST_CASE("csv: a single column may have empty cells; a header alone has no rows") {
  const Folder folder("one column");
  CHECK(catalog::read_csv(folder.write("a.csv", "id\n1\n\n2\n")).rows.size() == 3);
  CHECK(catalog::read_csv(folder.write("b.csv", "id,place\n")).rows.empty());
  CHECK(catalog::read_csv(folder.write("c.csv", "id,place\n1,")).rows.at(0) == std::vector<std::string>{"1", ""});
}

TEST_CASE("csv: what is wrong is said with file and line") {
  const Folder folder("bad");
  const auto message = [&]<class E>(std::string_view content, const E*) {
    const auto file = folder.write("bad.csv", content);
    const std::string text = message_of<E>([&] { (void)catalog::read_csv(file); });
    CHECK(text.starts_with(file.string()));
    return text.substr(std::min(text.size(), file.string().size()));
  };
  const errors::MalformedText* malformed = nullptr;
  const errors::FileUnreadable* unreadable = nullptr;
  const errors::DuplicateName* duplicate = nullptr;
  const errors::MissingValue* missing = nullptr;
  CHECK(message("a,b\n1,2\n1,2,3\n", malformed) ==
        ", line 3: 3 cells do not fit the header; allowed: 2 cells, as in the header; a comma inside a cell needs "
        "quotes around it");
  CHECK(message("a,b\n1,\"open\n2,3\n", malformed) ==
        ", line 2: a quote that opens here is never closed; allowed: a closing quote; a quote inside a quoted cell is "
        "written twice");
  CHECK(message("a,b\n1,\"x\"y\n", malformed)
            .starts_with(", line 2: \"x\" is followed by more text after its closing quote"));
  CHECK(message("a,b\n1,5\" pipe\n", malformed)
            .starts_with(", line 2: 5\" has a quote inside a cell that does not begin with one"));
  CHECK(message("a,b\n1,caf\xE9\n", unreadable) ==
        ", line 2: byte 0xE9 at offset 9 is not UTF-8; allowed: UTF-8; save it again as UTF-8");
  CHECK(message("\xFF\xFE"
                "a",
                unreadable) == ": is in UTF-16; allowed: UTF-8; save it again as UTF-8");
  CHECK(message("a,b,a\n", duplicate) ==
        ", line 1, a: stands twice in the header, in columns 1 and 3; allowed: each column name once");
  CHECK(message("a,,\n", duplicate).find("(both without a name)") != std::string::npos);
  for (const std::string_view content : {"", "\n\n", "\xEF\xBB\xBF"})
    CHECK(message(content, missing).starts_with(": is empty; allowed: a header line"));
  CHECK(message_of<errors::FileUnreadable>([&] {
          (void)catalog::read_csv(folder.path() / "none.csv");
        }).ends_with("none.csv: does not exist; allowed: a file that is there"));
  CHECK(message_of<errors::FileUnreadable>([&] {
          (void)catalog::read_csv(folder.path());
        }).ends_with("is a folder; allowed: a file"));
}

TEST_CASE("text: UTF-8 is told from what only looks like it (RFC 3629)") {
  CHECK_FALSE(catalog::first_bad_utf8("plain \xC3\xA9 \xE2\x82\xAC \xF0\x9F\x98\x80").has_value());
  for (const std::string_view bad : {"\x80", "\xC0\x80", "\xC1\xBF", "\xE0\x80\x80", "\xED\xA0\x80", "\xF4\x90\x80\x80",
                                     "\xF5\x80\x80\x80", "\xE2\x82", "\xC3"}) {
    CHECK(catalog::first_bad_utf8(bad) == 0U);
  }
  CHECK(catalog::first_bad_utf8("ab\xFF") == 2U);
  CHECK(catalog::shown("a\tb\xFF") == "a\\x09b\\xFF");
  CHECK(catalog::shown(std::string(100, 'x')) == std::string(60, 'x') + "...");
}

TEST_CASE("text: numbers as people write them, and nothing guessed") {
  const auto value = [](std::string_view text) {
    const catalog::NumberText read = catalog::number_from(text);
    CHECK_MESSAGE(read.what.empty(), text);
    return read.value;
  };
  CHECK(value("12.5") == 12.5);
  CHECK(value(" $1,234,567.25 ") == 1234567.25);
  CHECK(value("-3") == -3);
  CHECK(value("-1,000") == -1000);
  CHECK(value("1e3") == 1000);
  CHECK(value(".5") == 0.5);
  for (const std::string_view bad :
       {"",      " ",   "$",  "-",   "nan", "NaN", "inf",          "-inf", "0x10", "12.5.1",
        "1 000", "12%", "+5", "--5", "5-",  "(5)", "\u0661\u0662", "1e",   "five", ",123"}) {
    CHECK_MESSAGE(catalog::number_from(bad).what == "is not a number", bad);
  }
  for (const std::string_view bad : {"12,5", "1,23,456", "1234,567", "1,234,", "1,2e3"}) {
    CHECK_MESSAGE(catalog::number_from(bad).what == "has a comma that does not part groups of three digits", bad);
  }
  CHECK(catalog::number_from("1.5,000").what != "");
  CHECK(catalog::number_from("1e400").what == "is too large or too small to be held as a number");
}

TEST_CASE("catalogue: look-ups") {
  const catalog::Catalog catalog = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  CHECK(catalog.price("CO", prices::Fuel::propane)->price.usd_per_unit == 2.302);
  CHECK(catalog.price("CO", prices::Fuel::propane)->state == "CO");
  CHECK(catalog.price("NH", prices::Fuel::propane)->state == "US");
  CHECK(catalog.price("", prices::Fuel::propane)->price.usd_per_unit == 2.674);
  CHECK(catalog::Catalog{}.price("CO", prices::Fuel::propane) == nullptr);

  CHECK(catalog.collector("flat-plate-selective").collector.loss_w_m2k == 4.0);
  const std::string collector =
      message_of<errors::UnknownName>([&] { (void)catalog.collector("flat-plate-selectiv"); });
  CHECK(collector ==
        "collector: \"flat-plate-selectiv\" is not known (did you mean flat-plate-selective?); allowed: "
        "flat-plate-selective, flat-plate-painted, evacuated-tube");

  using hotwater::HeaterKind;
  using prices::Fuel;
  CHECK(catalog.heater(HeaterKind::storage, Fuel::electricity, 0).least_age_years == 0);
  CHECK(catalog.heater(HeaterKind::storage, Fuel::electricity, 11.99).least_age_years == 0);
  CHECK(catalog.heater(HeaterKind::storage, Fuel::electricity, 12).least_age_years == 12);
  CHECK(catalog.heater(HeaterKind::storage, Fuel::electricity, 60).least_age_years == 22);
  CHECK(catalog.heater(HeaterKind::storage, Fuel::natural_gas, 5).input_w ==
        doctest::Approx(40000 * units::watt_per_btu_h).epsilon(1e-12));
  CHECK(message_of<errors::UnknownName>([&] { (void)catalog.heater(HeaterKind::heat_pump, Fuel::heating_oil, 5); }) ==
        "heater_fuel: heating_oil does not occur together with heater_kind heat_pump; allowed: electricity");
  CHECK_THROWS_AS((void)catalog.heater(HeaterKind::storage, Fuel::electricity, std::nan("")), errors::ValueOutOfRange);

  REQUIRE(catalog.jurisdictions.contains("federal"));
  CHECK(catalog.jurisdictions.at("federal").size() == 4);
}

TEST_CASE("catalogue: every heater with a store leaves room for standby loss, and ratings fall with age") {
  const catalog::Catalog catalog = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  for (const catalog::HeaterEntry& entry : catalog.heaters) {
    CAPTURE(entry.uniform_energy_factor);
    if (entry.kind != hotwater::HeaterKind::instantaneous)
      CHECK(entry.uniform_energy_factor < entry.recovery_efficiency);
    const catalog::HeaterEntry& fresh = catalog.heater(entry.kind, entry.fuel, 0);
    CHECK(entry.uniform_energy_factor <= fresh.uniform_energy_factor);
    CHECK(hotwater::heater_from_rating(entry.kind, entry.fuel, entry.uniform_energy_factor, entry.recovery_efficiency,
                                       entry.input_w)
              .input_w == entry.input_w);
  }
}

TEST_CASE("catalogue: a folder of the user's own takes the place of single files") {
  const Folder folder("override");
  const std::string prices = read_whole(fs::path(WARMLEDGER_DATA_DIR) / "prices.csv");
  (void)folder.write("prices.csv",
                     "fuel,state,usd_per_unit,period,source,status\npropane,US,1.25,2026,our dealer,verified\n");
  (void)folder.write("incentives/our-state.toml",
                     "[[incentive]]\nid = \"x\"\ntitle = \"t\"\npayer = \"p\"\ncitation = \"c\"\nstanding = "
                     "\"invented\"\nkind = \"rebate\"\nflat_usd = 5\n");
  const catalog::Catalog catalog = catalog::read_catalog(WARMLEDGER_DATA_DIR, folder.path());
  CHECK(catalog.prices.size() == 1);
  CHECK(catalog.price("CO", prices::Fuel::propane)->price.source == "our dealer (verified)");
  CHECK(catalog.price("CO", prices::Fuel::electricity) == nullptr);
  CHECK(catalog.collectors.size() == 3);
  CHECK(catalog.jurisdictions.size() == 17);
  CHECK(catalog.jurisdictions.at("our-state").at(0).id == "x");
}

TEST_CASE("catalogue: a folder that is not there is named") {
  CHECK(message_of<errors::FileUnreadable>([] { (void)catalog::read_catalog("/no/such/folder"); }) ==
        "/no/such/folder: does not exist; allowed: the folder that holds the catalogue files");
  CHECK(message_of<errors::FileUnreadable>([] {
          (void)catalog::read_catalog(WARMLEDGER_DATA_DIR, "/no/such/folder");
        }).starts_with("/no/such/folder: does not exist"));
}

TEST_CASE("catalogue: a wrong cell is named with file, line and column") {
  const Folder folder("wrong cells");
  const auto message = [&](const std::string& name, std::string_view from, std::string_view to) {
    const std::string good = read_whole(fs::path(WARMLEDGER_DATA_DIR) / name);
    const auto file = folder.write(name, with(good, from, to));
    const std::string text =
        message_of<errors::Error>([&] { (void)catalog::read_catalog(WARMLEDGER_DATA_DIR, folder.path()); });
    fs::remove(file);
    CHECK(text.starts_with(file.string()));
    return text.substr(std::min(text.size(), file.string().size()));
  };
  CHECK(message("climates.csv", ",34.3,", ",134.3,") ==
        ", line 2, latitude_deg: 134.3 is out of range; allowed: -90 to 90");
  CHECK(message("climates.csv", "690190,", "690150,") ==
        ", line 3, station_id: 690150 stands twice; allowed: each once");
  CHECK(message("climates.csv", ",CA,", ",Ca,") == ", line 2, state: Ca is not a state; allowed: two capital letters");
  CHECK(message("climates.csv", "3.344", "much") ==
        ", line 2, horizontal_kwh_m2_day_01: much is not a number; allowed: a number, 0 to 12");
  CHECK(message("climates.csv", ",wind_m_s_01", ",wind_ms_01")
            .starts_with(", line 1, wind_ms_01: is no column of this file (did you mean wind_m_s_01?)"));
  CHECK(message("fuels.csv", "natural_gas,therm", "natural_gas,ccf") ==
        ", line 3, unit: ccf is not the unit this fuel is sold in; allowed: therm");
  CHECK(message("fuels.csv", "heating_oil,", "propane,") == ", line 5, fuel: propane stands twice; allowed: each once");
  CHECK(message("fuels.csv", "53.06", "") == ", line 3, co2_kg_per_mmbtu: is empty; allowed: a number, 0 to 200");
  CHECK(message("prices.csv", "propane,", "propan,")
            .starts_with(", line 14, fuel: \"propan\" is not known (did you mean propane?)"));
  CHECK(message("prices.csv", ",2.674,", ",-2.674,") ==
        ", line 14, usd_per_unit: -2.674 is out of range; allowed: 0.001 to 100");
  CHECK(message("prices.csv", ",secondary account", ",hearsay") ==
        ", line 2, status: hearsay is not known; allowed: verified, secondary account, from memory, common practice");
  CHECK(message("collectors.csv", "0.72", "1.72") ==
        ", line 2, optical_efficiency: 1.72 is out of range; allowed: 0.01 to 1");
  CHECK(message("heaters.csv", "4500,,", "4500,15000,") ==
        ", line 2, input_w: is given beside input_btu_h; allowed: exactly one of input_w and input_btu_h");
  CHECK(message("heaters.csv", "heat_pump,electricity,0,", "heat_pump,electricity,1,")
            .find("heat_pump on electricity has no row for a new heater") != std::string::npos);
  CHECK(message("tax.csv", "48475", "11000") ==
        ", line 3, up_to_usd: 11000 does not rise above the bracket before it; allowed: upper ends that rise, the last "
        "one empty");
  CHECK(message("tax.csv", ",0.37,,", ",0.37,900000,").find("2025 single has no last bracket") != std::string::npos);
  CHECK(
      message("tax.csv", "single,15750,0.12", "single,15000,0.12") ==
      ", line 3, standard_deduction_usd: 15000 differs from the row above of the same year and status; allowed: 15750");
  CHECK(message("poverty.csv", "2026-01-13", "2026-13-01") ==
        ", line 2, valid_from: 2026-13-01 is not a day of the calendar; allowed: a date such as 2026-09-01");
  CHECK(message("poverty.csv", "alaska", "Alaska") ==
        ", line 3, region: Alaska is not known; allowed: contiguous, alaska, hawaii");
  CHECK(message("poverty.csv", "27320", "21640") ==
        ", line 2, persons_3_usd: 21640 does not rise above the guideline for one person fewer; allowed: guidelines "
        "that rise with the household");
  CHECK(message("poverty.csv", "alaska", "contiguous") ==
        ", line 3, region: contiguous from 2026-01-13 stands twice; allowed: each once");
  CHECK(message("income_tiers.csv", "area_median_by_size", "median").starts_with(", line 2, measure: median is not"));
  CHECK(message("income_tiers.csv", ",yes,0.3,", ",perhaps,0.3,") ==
        ", line 2, least_included: perhaps is not known; allowed: yes, no");
  CHECK(message("income_tiers.csv", ",0.5,no,0.8,", ",0.9,no,0.8,") ==
        ", line 6, most_share: 0.8 is below least_share 0.9; allowed: a share at or above least_share");
  CHECK(message("income_tiers.csv", "very low,area_median_by_size,,yes,0.5,", "very low,area_median_by_size,,yes,,") ==
        ", line 3, most_share: and least_share are both empty; allowed: one of the two or both");
  CHECK(message("incentives/federal.toml", "cap_usd", "cap_us")
            .starts_with(", line 37, incentive.cap_us: is no key of this table (did you mean cap_usd?); allowed: id, "
                         "title, payer, paid_by, citation"));
  CHECK(message("incentives/federal.toml", "[[incentive]]", "title = \"x\"\n[[incentive]]")
            .find(", title: is no key of this table; allowed: incentive") != std::string::npos);
}
