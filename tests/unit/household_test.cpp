// The household sheet: every column's meaning, default and refusal, and the sentences that come with them.
#include "warmledger/catalog/household.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using catalog::SheetReader;
using catalog::SheetRow;

namespace {

using Cells = std::map<std::string, std::string>;

Cells good_cells() {
  return {{"household_id", "A-1"},
          {"place", "Denver Intl AP, CO"},
          {"occupants", "4"},
          {"yearly_income_usd", "52000"},
          {"heater_fuel", "propane"}};
}

/// Reads one row of a sheet whose columns are those of `cells`.
SheetRow read_one(const Cells& cells) {
  std::vector<std::string> header;
  std::vector<std::string_view> values;
  for (const auto& [name, value] : cells) {
    header.push_back(name);
    values.push_back(value);
  }
  return SheetReader(header, "county.csv").read(12, values);
}

/// The good row with some cells changed or added.
SheetRow read_with(const Cells& changes) {
  Cells cells = good_cells();
  for (const auto& [name, value] : changes) cells[name] = value;
  return read_one(cells);
}

std::vector<std::string> sentences(const SheetRow& row) {
  std::vector<std::string> out;
  for (const errors::Problem& problem : row.problems) out.push_back(errors::sentence(problem));
  return out;
}

/// The one problem of a row.
std::string only_problem(const SheetRow& row) {
  const std::vector<std::string> all = sentences(row);
  REQUIRE_MESSAGE(all.size() == 1, fmt::format("{}", fmt::join(all, "\n")));
  return all[0];
}

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

}  // namespace

TEST_CASE("sheet: a short row is filled with stated defaults") {
  const SheetRow row = read_one(good_cells());
  CHECK(row.problems.empty());
  const catalog::Household& h = row.household;
  CHECK(h.id == "A-1");
  CHECK(h.place == "Denver Intl AP, CO");
  CHECK(h.occupants == 4);
  CHECK(h.yearly_income_usd == 52000);
  CHECK(h.heater_fuel == prices::Fuel::propane);
  CHECK(h.tenure == incentives::Tenure::owner);
  CHECK(h.filing_status == incentives::FilingStatus::single);
  CHECK(h.heater_kind == hotwater::HeaterKind::storage);
  CHECK(h.set_temperature_c == doctest::Approx(51.6666667).epsilon(1e-8));
  CHECK(h.roof_tilt_deg == doctest::Approx(26.5650512).epsilon(1e-8));
  CHECK(h.roof_azimuth_deg == 180);
  CHECK(h.shading_share == 0);
  CHECK_FALSE(h.latitude_deg.has_value());
  CHECK_FALSE(h.tax_liability_usd.has_value());
  CHECK_FALSE(h.hot_water_l_day.has_value());
  CHECK_FALSE(h.installed_cost_usd.has_value());
  CHECK(h.package.empty());
  for (const auto& price : h.own_price_usd_per_unit) CHECK_FALSE(price.has_value());
  CHECK(h.defaults_used == std::vector<std::string>{
                               "tenure = owner (most people who ask about work on a roof own it (common practice))",
                               "filing_status = single (the status with the smallest deduction and brackets)",
                               "heater_kind = storage (by far the most common kind (common practice))",
                               "set_temperature_f = 125 (the delivery temperature of the federal test of water heaters "
                               "(10 CFR 430 subpart B appendix E))",
                               "roof_pitch_rise_in_12 = 6 (a common pitch of US roofs (common practice), 26.6 degrees)",
                               "roof_azimuth_deg = 180 (south; look at the roof before relying on it)",
                               "shading_pct = 0 (no shade; look at the roof before relying on it)"});
}

TEST_CASE("sheet: a full row in trade units arrives in SI") {
  const SheetRow row = read_with({{"latitude_deg", "39.8"},
                                  {"longitude_deg", " -104.7 "},
                                  {"yearly_income_usd", "$52,000.50"},
                                  {"tenure", "renter"},
                                  {"filing_status", " head_of_household "},
                                  {"tax_liability_usd", "1,200"},
                                  {"heater_kind", "instantaneous"},
                                  {"heater_fuel", "natural_gas"},
                                  {"heater_uniform_energy_factor", "0.82"},
                                  {"heater_age_years", "7.5"},
                                  {"set_temperature_f", "140"},
                                  {"hot_water_gal_day", "80"},
                                  {"roof_pitch_rise_in_12", "8"},
                                  {"roof_azimuth_deg", "200"},
                                  {"shading_pct", "15"},
                                  {"roof_area_ft2", "100"},
                                  {"electricity_price_usd_per_kwh", "0.16"},
                                  {"natural_gas_price_usd_per_therm", "1.5"},
                                  {"propane_price_usd_per_gal", "2.7"},
                                  {"heating_oil_price_usd_per_gal", "3.6"},
                                  {"yearly_energy_bills_usd", "2400"},
                                  {"installed_cost_usd", "$9,500"},
                                  {"package", " two-panels "}});
  CHECK(sentences(row).empty());
  const catalog::Household& h = row.household;
  CHECK(h.latitude_deg == 39.8);
  CHECK(h.longitude_deg == -104.7);
  CHECK(h.yearly_income_usd == 52000.50);
  CHECK(h.tenure == incentives::Tenure::renter);
  CHECK(h.filing_status == incentives::FilingStatus::head_of_household);
  CHECK(h.tax_liability_usd == 1200.0);
  CHECK(h.heater_kind == hotwater::HeaterKind::instantaneous);
  CHECK(h.heater_fuel == prices::Fuel::natural_gas);
  CHECK(h.heater_uniform_energy_factor == 0.82);
  CHECK(h.heater_age_years == 7.5);
  CHECK(h.set_temperature_c == doctest::Approx(60).epsilon(1e-12));
  CHECK(*h.hot_water_l_day == doctest::Approx(302.83294272).epsilon(1e-12));
  CHECK(h.roof_tilt_deg == doctest::Approx(33.690068).epsilon(1e-7));  // common practice: 8 in 12 is about 34 degrees
  CHECK(h.roof_azimuth_deg == 200);
  CHECK(h.shading_share == doctest::Approx(0.15).epsilon(1e-12));
  CHECK(*h.roof_area_m2 == doctest::Approx(9.290304).epsilon(1e-12));
  CHECK(h.own_price_usd_per_unit[0] == 0.16);
  CHECK(h.own_price_usd_per_unit[1] == 1.5);
  CHECK(h.own_price_usd_per_unit[2] == 2.7);
  CHECK(h.own_price_usd_per_unit[3] == 3.6);
  CHECK(h.yearly_energy_bills_usd == 2400.0);
  CHECK(h.installed_cost_usd == 9500.0);
  CHECK(h.package == "two-panels");
  CHECK(h.defaults_used.empty());
}

TEST_CASE("sheet: the columns in other units") {
  const SheetRow row = read_with(
      {{"set_temperature_c", "50"}, {"hot_water_l_day", "200"}, {"roof_tilt_deg", "0"}, {"roof_area_m2", "12"}});
  CHECK(sentences(row).empty());
  CHECK(row.household.set_temperature_c == 50);
  CHECK(row.household.hot_water_l_day == 200.0);
  CHECK(row.household.roof_tilt_deg == 0);
  CHECK(row.household.roof_area_m2 == 12.0);
  for (const std::string& used : row.household.defaults_used) {
    CHECK(used.find("set_temperature") == std::string::npos);
    CHECK(used.find("roof_pitch") == std::string::npos);
  }
}

TEST_CASE("sheet: own bills are one number of a year or twelve months, and a heater can be due in any case") {
  const SheetRow row = read_with({{"water_heating_units", "2,400"},
                                  {"home_fuel_bill_usd", "90; 80;70;60;50;40;40;40;50;60;80;$100"},
                                  {"heater_replaced_now", "Yes"}});
  CHECK(sentences(row).empty());
  CHECK(row.household.water_heating_units == std::vector<double>{2400});
  REQUIRE(row.household.home_fuel_bill_usd.size() == 12);
  CHECK(row.household.home_fuel_bill_usd[0] == 90);
  CHECK(row.household.home_fuel_bill_usd[11] == 100);
  CHECK(row.household.heater_replaced_now);
  CHECK(only_problem(read_with({{"home_fuel_units", "1;2;3"}}))
            .starts_with(
                "county.csv, row 12, home_fuel_units: 1;2;3 is neither one number nor twelve; allowed: one number "
                "for a year, or twelve from January parted by semicolons; each 0 to 10000000"));
  CHECK(only_problem(read_with({{"home_fuel_units", "1;-2"}})).find("is out of range") != std::string::npos);
  CHECK(only_problem(read_with({{"home_fuel_units", "1;;2"}})).find("home_fuel_units: 1;;2 is") != std::string::npos);
  CHECK(
      only_problem(read_with({{"water_heating_units", "1"}, {"water_heating_bill_usd", "1"}})).find("are both given") !=
      std::string::npos);
}

TEST_CASE("sheet: each refusal names file, row, column, value and what is allowed") {
  const auto problem = [](const std::string& column, const std::string& value) {
    const std::string text = only_problem(read_with({{column, value}}));
    const std::string start = "county.csv, row 12, " + column + ": ";
    CHECK_MESSAGE(text.starts_with(start), text);
    return text.substr(std::min(start.size(), text.size()));
  };
  CHECK(problem("roof_pitch_rise_in_12", "90") ==
        "90 is out of range; allowed: 0 to 24 inches of rise in 12 inches of run");
  CHECK(problem("occupants", "-2") == "-2 is out of range; allowed: a whole number, 1 to 20 persons");
  CHECK(problem("occupants", "0") == "0 is out of range; allowed: a whole number, 1 to 20 persons");
  CHECK(problem("occupants", "2.5") == "2.5 is not a whole number; allowed: a whole number, 1 to 20 persons");
  CHECK(problem("occupants", "four") == "four is not a number; allowed: a whole number, 1 to 20 persons");
  CHECK(problem("occupants", "") == "is missing; allowed: a whole number, 1 to 20 persons");
  CHECK(problem("occupants", "  ") == "is missing; allowed: a whole number, 1 to 20 persons");
  CHECK(problem("occupants", "=1+1") == "=1+1 is not a number; allowed: a whole number, 1 to 20 persons");
  for (const std::string bad : {"nan", "NaN", "inf", "-inf", "0x10", "\u0661\u0662"}) {
    CHECK(problem("yearly_income_usd", bad) == bad + " is not a number; allowed: 0 to 100000000 US dollars a year");
  }
  CHECK(problem("yearly_income_usd", "1e400") ==
        "1e400 is too large or too small to be held as a number; allowed: 0 to 100000000 US dollars a year");
  CHECK(problem("yearly_income_usd", "12,5") ==
        "12,5 has a comma that does not part groups of three digits; allowed: 0 to 100000000 US dollars a year");
  CHECK(problem("yearly_income_usd", "1e9") == "1e9 is out of range; allowed: 0 to 100000000 US dollars a year");
  CHECK(problem("heater_fuel", "coal") == "coal is not known; allowed: electricity, natural_gas, propane, heating_oil");
  CHECK(
      problem("heater_fuel", "natural gaz") ==
      "natural gaz is not known (did you mean natural_gas?); allowed: electricity, natural_gas, propane, heating_oil");
  // Words in any case, with blanks or hyphens for underscores.
  for (const std::string good : {"Natural Gas", "NATURAL_GAS", " natural-gas "})
    CHECK(sentences(read_with({{"heater_fuel", good}})).empty());
  CHECK(sentences(read_with({{"tenure", "Owner"}})).empty());
  CHECK(problem("tenure", "Ownr") == "Ownr is not known (did you mean owner?); allowed: owner, renter");
  CHECK(problem("shading_pct", "100.1") == "100.1 is out of range; allowed: 0 to 100 percent");
  CHECK(problem("electricity_price_usd_per_kwh", "16") == "16 is out of range; allowed: 0.01 to 5 US dollars per kWh");
  CHECK(problem("installed_cost_usd", "-1") == "-1 is out of range; allowed: 0 to 1000000 US dollars");
  CHECK(problem("household_id", "") == "is missing; allowed: text on one line, up to 10000 characters");
  CHECK(problem("household_id", "  ") == "\"  \" is blank; allowed: text on one line, up to 10000 characters");
  CHECK(problem("household_id", "A\t1") ==
        "A\\x091 has a control character (a tab, a line end or the like); allowed: text on one line, up to 10000 "
        "characters");
  CHECK(problem("place", "Den\nver") ==
        "Den\\x0Aver has a control character (a tab, a line end or the like); allowed: text on one line, up to 10000 "
        "characters");
  CHECK(problem("package", "\xFF") == "\\xFF is not UTF-8; allowed: text on one line, up to 10000 characters");
  CHECK(only_problem(read_with({{"heater_kind", "heat_pump"}})) ==
        "county.csv, row 12, heater_fuel: propane does not occur together with heater_kind heat_pump; allowed: "
        "electricity");
  CHECK(problem("place", std::string(10001, 'x')) ==
        std::string(60, 'x') + "... is 10001 characters long; allowed: up to 10000 characters");
}

TEST_CASE("sheet: a cell of 10,000 characters is read, counted in characters and not in bytes") {
  std::string accents;
  for (int i = 0; i < 10000; ++i) accents += "\u00E9";
  const SheetRow row = read_with({{"place", accents}});
  CHECK(sentences(row).empty());
  CHECK(row.household.place == accents);
}

TEST_CASE("sheet: every number column refuses what lies outside its range, and takes its ends") {
  for (const catalog::Column& column : catalog::household_columns()) {
    if (column.kind != catalog::CellKind::number && column.kind != catalog::CellKind::whole_number) continue;
    const std::string name(column.name);
    CAPTURE(name);
    Cells base;
    if (name == "latitude_deg") base["longitude_deg"] = "0";
    if (name == "longitude_deg") base["latitude_deg"] = "0";
    const auto problems_of = [&](double value) {
      Cells cells = base;
      cells[name] = fmt::format("{}", value);
      return read_with(cells).problems;
    };
    CHECK(problems_of(column.low).empty());
    CHECK(problems_of(column.high).empty());
    for (const double value :
         {column.low - 1e-3 - 1.0 * (column.kind == catalog::CellKind::whole_number), column.high * 1.001 + 1}) {
      const auto problems = problems_of(value);
      REQUIRE(problems.size() == 1);
      CHECK(problems[0].where.key == name);
      CHECK(problems[0].allowed.find(fmt::format("{} to {}", errors::plain_number(column.low),
                                                 errors::plain_number(column.high))) != std::string::npos);
    }
  }
}

TEST_CASE("sheet: place or both coordinates") {
  Cells cells = good_cells();
  cells["place"] = "";
  CHECK(only_problem(read_one(cells)) ==
        "county.csv, row 12, place: is missing, and so are latitude_deg and longitude_deg; allowed: a place, or both "
        "coordinates");
  cells["latitude_deg"] = "40";
  cells["longitude_deg"] = "";
  CHECK(only_problem(read_one(cells)) ==
        "county.csv, row 12, longitude_deg: is missing beside latitude_deg; allowed: -180 to 180 degrees, east "
        "positive (negative in the mainland US)");
  cells["longitude_deg"] = "-105";
  CHECK(read_one(cells).problems.empty());
  cells["latitude_deg"] = "";
  CHECK(only_problem(read_one(cells)).starts_with("county.csv, row 12, latitude_deg: is missing beside longitude_deg"));
  // A coordinate that is there but wrong is one problem, not two.
  cells["latitude_deg"] = "north";
  CHECK(only_problem(read_one(cells)).starts_with("county.csv, row 12, latitude_deg: north is not a number"));
}

TEST_CASE("sheet: the same said twice in different units is a problem") {
  CHECK(only_problem(read_with({{"set_temperature_f", "120"}, {"set_temperature_c", "49"}})) ==
        "county.csv, row 12, set_temperature_f and set_temperature_c: are both given; allowed: one of the two");
  CHECK(only_problem(read_with({{"roof_pitch_rise_in_12", "6"}, {"roof_tilt_deg", "26.6"}}))
            .starts_with("county.csv, row 12, roof_pitch_rise_in_12 and roof_tilt_deg: are both given"));
  CHECK(only_problem(read_with({{"hot_water_gal_day", "60"}, {"hot_water_l_day", "227"}})).find("are both given") !=
        std::string::npos);
  CHECK(only_problem(read_with({{"roof_area_ft2", "60"}, {"roof_area_m2", "6"}})).find("are both given") !=
        std::string::npos);
  CHECK(read_with({{"set_temperature_f", ""}, {"set_temperature_c", "49"}}).problems.empty());
}

TEST_CASE("sheet: all problems of a row are collected") {
  const SheetRow row = read_with({{"occupants", "many"},
                                  {"yearly_income_usd", ""},
                                  {"heater_fuel", "wood"},
                                  {"roof_pitch_rise_in_12", "90"},
                                  {"place", ""}});
  std::vector<std::string> keys;
  for (const errors::Problem& problem : row.problems) keys.push_back(problem.where.key);
  std::sort(keys.begin(), keys.end());
  CHECK(keys ==
        std::vector<std::string>{"heater_fuel", "occupants", "place", "roof_pitch_rise_in_12", "yearly_income_usd"});
  CHECK(row.household.id == "A-1");
}

TEST_CASE("sheet: identifiers keep their text exactly and stand once") {
  SheetReader reader({"household_id", "place", "occupants", "yearly_income_usd", "heater_fuel"}, "county.csv");
  const auto read = [&](long number, std::string_view id) {
    const std::vector<std::string_view> cells{id, "722780", "3", "40000", "electricity"};
    return reader.read(number, cells);
  };
  for (const std::string_view id : {"=1+1", " 007 ", "@x", "-", "\u00E9t\u00E9", "1,5", "$5"}) {
    const SheetRow row = read(1, id);
    CHECK(row.problems.empty());
    CHECK(row.household.id == id);
  }
  CHECK(only_problem(read(9, "=1+1")) ==
        "county.csv, row 9, household_id: =1+1 already stands in row 1; allowed: each identifier once");
  CHECK(read(10, "=1+2").problems.empty());
}

TEST_CASE("sheet: a row of another length than the header is a problem and is still read") {
  SheetReader reader({"household_id", "place", "occupants", "yearly_income_usd", "heater_fuel"}, "county.csv");
  const std::vector<std::string_view> few{"A", "722780", "3", "40000"};
  CHECK(sentences(reader.read(1, few)) ==
        std::vector<std::string>{
            "county.csv, row 1: 4 cells do not fit the header; allowed: 5 cells",
            "county.csv, row 1, heater_fuel: is missing; allowed: electricity, natural_gas, propane, heating_oil"});
  const std::vector<std::string_view> many{"B", "722780", "3", "40000", "propane", "x"};
  CHECK(reader.read(2, many).problems.size() == 1);
}

TEST_CASE("sheet header: unknown columns are reported with the nearest name; twins and gaps are refused") {
  const SheetReader reader({"household_id", "place", "occupants", "yearly_income_usd", "heater_fuel", "roof_azimuth",
                            "favourite colour of door"},
                           "county.csv");
  REQUIRE(reader.unknown_columns().size() == 2);
  CHECK(reader.unknown_columns()[0].name == "roof_azimuth");
  CHECK(reader.unknown_columns()[0].nearest == "roof_azimuth_deg");
  CHECK(reader.unknown_columns()[1].name == "favourite colour of door");

  CHECK(message_of<errors::DuplicateName>([] {
          SheetReader({"household_id", "place", "place"}, "county.csv");
        }) == "county.csv, place: stands twice in the header, in columns 2 and 3; allowed: each column name once");
  CHECK(message_of<errors::MissingValue>([] {
          SheetReader({"household_id", "place", "occupants", "yearly_incom_usd", "heater_fuel"}, "county.csv");
        }) ==
        "county.csv, yearly_income_usd: is missing from the header (is \"yearly_incom_usd\" meant?); allowed: a column "
        "of "
        "this name: 0 to 100000000 US dollars a year");
  CHECK(message_of<errors::MissingValue>([] {
          SheetReader({"household_id", "occupants", "yearly_income_usd", "heater_fuel", "latitude_deg"}, "county.csv");
        }) ==
        "county.csv, place: is missing from the header; allowed: a column place, or the columns latitude_deg and "
        "longitude_deg");
  CHECK(SheetReader({"household_id", "occupants", "yearly_income_usd", "heater_fuel", "latitude_deg", "longitude_deg"},
                    "x")
            .unknown_columns()
            .empty());
}

TEST_CASE("sheet columns: the table is whole, every default has a reason, and the Markdown shows all of it") {
  const auto columns = catalog::household_columns();
  CHECK(columns.size() == 45);
  const std::string markdown = catalog::household_columns_markdown();
  CHECK(std::count(markdown.begin(), markdown.end(), '\n') == 47);
  for (const catalog::Column& column : columns) {
    const std::string name(column.name);
    CAPTURE(name);
    CHECK_FALSE(column.meaning.empty());
    CHECK(column.why.empty() == column.required);
    CHECK(markdown.find("| `" + name + "` | ") != std::string::npos);
    CHECK(markdown.find(std::string(column.unit)) != std::string::npos);
    CHECK((column.choices.empty() || column.kind == catalog::CellKind::choice));
  }
  CHECK(markdown.find("| `roof_pitch_rise_in_12` | Pitch of the roof face that would carry the collectors | inches of "
                      "rise in 12 inches of run | 0 to 24 | "
                      "6: a common pitch of US roofs (common practice), 26.6 degrees |") != std::string::npos);
}

TEST_CASE("sheet reader: can be moved and keeps what it has seen") {
  SheetReader first({"household_id", "place", "occupants", "yearly_income_usd", "heater_fuel"}, "county.csv");
  const std::vector<std::string_view> cells{"A", "722780", "3", "40000", "propane"};
  CHECK(first.read(1, cells).problems.empty());
  SheetReader second = std::move(first);
  CHECK(second.read(2, cells).problems.size() == 1);
}
