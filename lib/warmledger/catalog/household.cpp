#include "warmledger/catalog/household.hpp"

#include <algorithm>
#include <bitset>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "warmledger/catalog/text.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::catalog {

namespace {

/// Position of each column in the table below.
enum At : std::size_t {
  household_id,
  place,
  latitude_deg,
  longitude_deg,
  occupants,
  yearly_income_usd,
  tenure,
  filing_status,
  tax_liability_usd,
  heater_kind,
  heater_fuel,
  heater_uniform_energy_factor,
  heater_age_years,
  set_temperature_f,
  set_temperature_c,
  hot_water_gal_day,
  hot_water_l_day,
  roof_pitch_rise_in_12,
  roof_tilt_deg,
  roof_azimuth_deg,
  shading_pct,
  roof_area_ft2,
  roof_area_m2,
  collector_lift_ft,
  electricity_price_usd_per_kwh,
  natural_gas_price_usd_per_therm,
  propane_price_usd_per_gal,
  heating_oil_price_usd_per_gal,
  yearly_energy_bills_usd,
  monthly_debt_payments_usd,
  installed_cost_usd,
  package,
  assistance,
  state_tax_liability_usd,
  local_tax_liability_usd,
  other_tax_credits_usd,
  itemizes,
  installed_by,
  new_home,
  ineligible_cost_usd,
  heater_replaced_now,
  water_heating_units,
  water_heating_bill_usd,
  home_fuel_units,
  home_fuel_bill_usd,
  column_count
};

constexpr std::size_t most_characters = 10000;
constexpr std::string_view price_why =
    "empty: the program's price, else the state's or national one of data/prices.csv";

constexpr std::string_view own_bill_why = "empty: the simulation stands as it is";
constexpr std::string_view numbers_form = "one number for a year, or twelve from January parted by semicolons";

using enum CellKind;
constexpr std::array<Column, column_count> columns{{
    {"household_id", text, "", 0, 0, "", true, "", "",
     "Identifier of the household, once in a sheet; kept exactly as written", ""},
    {"place", text, "", 0, 0, "", false, "", "empty: the coordinates are used",
     "Name of a place of the program file, or of a weather station with its state, or a station number; needed unless "
     "coordinates are given",
     ""},
    {"latitude_deg", number, "degrees, north positive", -90, 90, "", false, "", "empty: the place is used",
     "Latitude; taken before the place when both are given", ""},
    {"longitude_deg", number, "degrees, east positive (negative in the mainland US)", -180, 180, "", false, "",
     "empty: the place is used", "Longitude; goes with latitude_deg", ""},
    {"occupants", whole_number, "persons", 1, 20, "", true, "", "", "People who live in the household", ""},
    {"yearly_income_usd", number, "US dollars a year", 0, 1e8, "", true, "", "",
     "Income of the whole household before tax", ""},
    {"tenure", choice, "", 0, 0, "owner, renter", false, "owner",
     "most people who ask about work on a roof own it (common practice)",
     "Whether the household owns or rents the home", ""},
    {"filing_status", choice, "", 0, 0, "single, joint, head_of_household", false, "single",
     "the status with the smallest deduction and brackets", "Federal income tax filing status", ""},
    {"tax_liability_usd", number, "US dollars a year", 0, 1e7, "", false, "",
     "empty: estimated from income and filing status with data/tax.csv; an estimate, not tax advice",
     "Federal income tax of a year that is left after all other credits", ""},
    {"heater_kind", choice, "", 0, 0, "storage, instantaneous, heat_pump", false, "storage",
     "by far the most common kind (common practice)", "Kind of the water heater in use", ""},
    {"heater_fuel", choice, "", 0, 0, "electricity, natural_gas, propane, heating_oil", true, "", "",
     "Fuel of the water heater in use", ""},
    {"heater_uniform_energy_factor", number, "", 0.2, 5, "", false, "",
     "empty: from kind, fuel and age with data/heaters.csv",
     "Uniform energy factor on the heater's label: heat in the water drawn over energy taken in", ""},
    {"heater_age_years", number, "years", 0, 60, "", false, "",
     "empty: appraised as half of the heater's life in the program file", "Age of the water heater in use", ""},
    {"set_temperature_f", number, "degrees Fahrenheit", 100, 160, "", false, "125",
     "the delivery temperature of the federal test of water heaters (10 CFR 430 subpart B appendix E)",
     "Thermostat setting of the water heater", ""},
    {"set_temperature_c", number, "degrees Celsius", 37.7, 71.2, "", false, "", "empty: see set_temperature_f",
     "The same in degrees Celsius", "set_temperature_f"},
    {"hot_water_gal_day", number, "US gallons a day", 1, 1000, "", false, "",
     "empty: 20 gallons for each person (common practice)", "Hot water drawn in a day at the set temperature", ""},
    {"hot_water_l_day", number, "litres a day", 3.7, 3786, "", false, "", "empty: see hot_water_gal_day",
     "The same in litres", "hot_water_gal_day"},
    {"roof_pitch_rise_in_12", number, "inches of rise in 12 inches of run", 0, 24, "", false, "6",
     "a common pitch of US roofs (common practice), 26.6 degrees",
     "Pitch of the roof face that would carry the collectors", ""},
    {"roof_tilt_deg", number, "degrees from the horizontal", 0, 90, "", false, "", "empty: see roof_pitch_rise_in_12",
     "The same as an angle", "roof_pitch_rise_in_12"},
    {"roof_azimuth_deg", number, "degrees of the compass, 90 east, 180 south, 270 west", 0, 360, "", false, "180",
     "south; look at the roof before relying on it", "Direction the roof face looks to, from true north", ""},
    {"shading_pct", number, "percent", 0, 100, "", false, "0", "no shade; look at the roof before relying on it",
     "Share of the year's sun on the roof face that trees and buildings take", ""},
    {"roof_area_ft2", number, "square feet", 0, 100000, "", false, "", "empty: enough for any package",
     "Area of the roof face that is free for collectors", ""},
    {"roof_area_m2", number, "square metres", 0, 10000, "", false, "", "empty: see roof_area_ft2",
     "The same in square metres", "roof_area_ft2"},
    {"collector_lift_ft", number, "feet", 0, 50, "", false, "", "empty: lift_ft of the package",
     "Height from the drain-back reservoir to the top of the collectors; a lift of 28 ft takes two pumps", ""},
    {"electricity_price_usd_per_kwh", number, "US dollars per kWh", 0.01, 5, "", false, "", price_why,
     "What the household pays for electricity", ""},
    {"natural_gas_price_usd_per_therm", number, "US dollars per therm", 0.05, 50, "", false, "", price_why,
     "What the household pays for natural gas", ""},
    {"propane_price_usd_per_gal", number, "US dollars per US gallon", 0.1, 50, "", false, "", price_why,
     "What the household pays for propane", ""},
    {"heating_oil_price_usd_per_gal", number, "US dollars per US gallon", 0.1, 50, "", false, "", price_why,
     "What the household pays for heating oil", ""},
    {"yearly_energy_bills_usd", number, "US dollars a year", 0, 1e6, "", false, "", "empty: no energy burden is stated",
     "All energy bills of the home in a year, for the energy burden", ""},
    {"monthly_debt_payments_usd", number, "US dollars a month", 0, 1e6, "", false, "", "empty: no debt ratio is stated",
     "What the household pays on its debts in a month (housing too, where the lender counts it), for the debt ratio",
     ""},
    {"installed_cost_usd", number, "US dollars", 0, 1e6, "", false, "", "empty: material and labor of the package",
     "Quote for the installed system, if there is one", ""},
    {"package", text, "", 0, 0, "", false, "", "empty: the package that fits the household best",
     "Id of a package of the program file", ""},
    {"assistance", text, "", 0, 0, "", false, "", "empty: none is known",
     "Programs the household is already in, parted by semicolons: food, heating, weatherization, medicaid, cash, "
     "supplemental_security, housing, school_meals, women_infants_children; where an incentive says so, being in one "
     "stands in place of its income limit",
     ""},
    {"state_tax_liability_usd", number, "US dollars a year", 0, 1e7, "", false, "",
     "empty: estimated with [tax] state_rate of the program, or not known",
     "State income tax of a year that is left after all other credits", ""},
    {"local_tax_liability_usd", number, "US dollars a year", 0, 1e7, "", false, "",
     "empty: estimated with [tax] local_rate of the program, or not known",
     "County or city income tax of a year that is left after all other credits", ""},
    {"other_tax_credits_usd", number, "US dollars a year", 0, 1e6, "", false, "", "empty: none",
     "Federal credits that come first, for example for children; they come off an estimated liability, not off a given "
     "one",
     ""},
    {"itemizes", choice, "", 0, 0, "yes, no", false, "", "empty: no, as most households (common practice)",
     "Whether the household itemizes its federal deductions, state and local taxes among them", ""},
    {"installed_by", choice, "", 0, 0, "contractor, owner", false, "", "empty: contractor",
     "Who puts the system in. An owner's own labor is no cost: without a quote only the material is paid", ""},
    {"new_home", choice, "", 0, 0, "yes, no", false, "", "empty: no",
     "Whether the system goes into a new home; federal credits then count from its first use, which must not be later "
     "than the install date here",
     ""},
    {"ineligible_cost_usd", number, "US dollars", 0, 1e6, "", false, "", "empty: none",
     "Part of the installed cost that no incentive counts: a swimming pool's share, ordinary roofing", ""},
    {"heater_replaced_now", choice, "", 0, 0, "no, yes", false, "", "empty: no",
     "Whether the water heater has to be replaced in any case: a new one of the same kind and fuel is then bought on "
     "the "
     "install date, with the system and without it",
     ""},
    {"water_heating_units", numbers, "kWh, therms or gallons of the heater's fuel, a year or a month", 0, 1e6, "",
     false, "", own_bill_why, "What the water heater takes, from a meter or a bill of its own", ""},
    {"water_heating_bill_usd", numbers, "US dollars a year or a month, without fixed charges", 0, 1e6, "", false, "",
     own_bill_why, "The same as money, at the prices of this appraisal", "water_heating_units"},
    {"home_fuel_units", numbers, "kWh, therms or gallons of the heater's fuel, a year or a month", 0, 1e7, "", false,
     "", own_bill_why,
     "What the whole home takes of the heater's fuel: hot water is held below it, and the rest fills a tariff's first "
     "blocks",
     ""},
    {"home_fuel_bill_usd", numbers, "US dollars a year or a month", 0, 1e7, "", false, "", own_bill_why,
     "The same as money, at the prices of this appraisal, fixed charges included", "home_fuel_units"},
}};

struct ColumnNote {
  std::string allowed;       ///< what a cell may hold, for problems and documentation
  std::string default_used;  ///< "column = value (why)"
  double default_number = 0;
  std::vector<std::string> choices;
};

std::vector<std::string> words_of(std::string_view choices) {
  std::vector<std::string> words;
  while (!choices.empty()) {
    const std::size_t comma = choices.find(", ");
    words.emplace_back(choices.substr(0, comma));
    choices.remove_prefix(comma == std::string_view::npos ? choices.size() : comma + 2);
  }
  return words;
}

/// Texts made once from the table.
const std::array<ColumnNote, column_count>& notes() {
  static const std::array<ColumnNote, column_count> made = [] {
    std::array<ColumnNote, column_count> out;
    for (std::size_t i = 0; i < column_count; ++i) {
      const Column& column = columns[i];
      const std::string unit = column.unit.empty() ? "" : " " + std::string(column.unit);
      switch (column.kind) {
        case text:
          out[i].allowed = fmt::format("text on one line, up to {} characters", most_characters);
          break;
        case choice:
          out[i].allowed = column.choices;
          break;
        case number:
          out[i].allowed =
              fmt::format("{} to {}{}", errors::plain_number(column.low), errors::plain_number(column.high), unit);
          break;
        case numbers:
          out[i].allowed = fmt::format("{}; each {} to {}{}", numbers_form, errors::plain_number(column.low),
                                       errors::plain_number(column.high), unit);
          break;
        case whole_number:
          out[i].allowed = fmt::format("a whole number, {} to {}{}", errors::plain_number(column.low),
                                       errors::plain_number(column.high), unit);
          break;
      }
      out[i].default_number = number_from(column.default_text).value;  // 0 where the default is a word
      if (!column.default_text.empty())
        out[i].default_used = fmt::format("{} = {} ({})", column.name, column.default_text, column.why);
      out[i].choices = words_of(column.choices);
    }
    return out;
  }();
  return made;
}

const std::vector<std::string>& column_names() {
  static const std::vector<std::string> names = [] {
    std::vector<std::string> out;
    for (const Column& column : columns) out.emplace_back(column.name);
    return out;
  }();
  return names;
}

/// Collects the problems of one row.
class Problems {
 public:
  Problems(const std::string& file, long row, std::vector<errors::Problem>& out) : file_(file), row_(row), out_(out) {}
  void add(std::string_view column, std::string_view value, std::string what, std::string allowed) {
    out_.push_back({{file_, {}, row_, std::string(column)}, shown(value), std::move(what), std::move(allowed)});
  }
  void add(std::size_t column, std::string_view value, std::string_view what) {
    add(columns[column].name, value, std::string(what), notes()[column].allowed);
  }

 private:
  const std::string& file_;
  long row_;
  std::vector<errors::Problem>& out_;
};

/// Length and characters of a cell; false and a problem if it cannot be used.
bool usable(std::size_t column, std::string_view cell, Problems& problems) {
  if (cell.size() > most_characters) {
    if (const std::size_t count = character_count(cell); count > most_characters) {
      problems.add(columns[column].name, cell, fmt::format("is {} characters long", count),
                   fmt::format("up to {} characters", most_characters));
      return false;
    }
  }
  const bool plain = std::all_of(cell.begin(), cell.end(), [](char c) { return c >= 0x20 && c < 0x7F; });
  if (plain) return true;
  if (first_bad_utf8(cell)) {
    problems.add(column, cell, "is not UTF-8");
    return false;
  }
  if (columns[column].kind == text && has_control_character(cell)) {
    problems.add(column, cell, "has a control character (a tab, a line end or the like)");
    return false;
  }
  return true;
}

void set_number(Household& household, std::size_t column, double value) {
  const auto price = [&](prices::Fuel fuel) {
    household.own_price_usd_per_unit[static_cast<std::size_t>(fuel)] = value;
  };
  switch (column) {
    case latitude_deg:
      household.latitude_deg = value;
      break;
    case longitude_deg:
      household.longitude_deg = value;
      break;
    case occupants:
      household.occupants = static_cast<int>(value);
      break;
    case yearly_income_usd:
      household.yearly_income_usd = value;
      break;
    case tax_liability_usd:
      household.tax_liability_usd = value;
      break;
    case heater_uniform_energy_factor:
      household.heater_uniform_energy_factor = value;
      break;
    case heater_age_years:
      household.heater_age_years = value;
      break;
    case set_temperature_f:
      household.set_temperature_c = units::celsius_from_fahrenheit(value);
      break;
    case set_temperature_c:
      household.set_temperature_c = value;
      break;
    case hot_water_gal_day:
      household.hot_water_l_day = value * units::litre_per_gallon;
      break;
    case hot_water_l_day:
      household.hot_water_l_day = value;
      break;
    case roof_pitch_rise_in_12:
      household.roof_tilt_deg = units::tilt_deg_from_rise_in_12(value);
      break;
    case roof_tilt_deg:
      household.roof_tilt_deg = value;
      break;
    case roof_azimuth_deg:
      household.roof_azimuth_deg = value;
      break;
    case shading_pct:
      household.shading_share = value / 100.0;
      break;
    case roof_area_ft2:
      household.roof_area_m2 = value * units::m2_per_ft2;
      break;
    case roof_area_m2:
      household.roof_area_m2 = value;
      break;
    case collector_lift_ft:
      household.collector_lift_m = value * units::m_per_ft;
      break;
    case electricity_price_usd_per_kwh:
      price(prices::Fuel::electricity);
      break;
    case natural_gas_price_usd_per_therm:
      price(prices::Fuel::natural_gas);
      break;
    case propane_price_usd_per_gal:
      price(prices::Fuel::propane);
      break;
    case heating_oil_price_usd_per_gal:
      price(prices::Fuel::heating_oil);
      break;
    case yearly_energy_bills_usd:
      household.yearly_energy_bills_usd = value;
      break;
    case monthly_debt_payments_usd:
      household.monthly_debt_payments_usd = value;
      break;
    case installed_cost_usd:
      household.installed_cost_usd = value;
      break;
    case state_tax_liability_usd:
      household.state_tax_liability_usd = value;
      break;
    case local_tax_liability_usd:
      household.local_tax_liability_usd = value;
      break;
    case other_tax_credits_usd:
      household.other_tax_credits_usd = value;
      break;
    case ineligible_cost_usd:
      household.ineligible_cost_usd = value;
      break;
    default:
      break;
  }
}

/// The own bill of a column.
std::vector<double>& own_bill(Household& household, std::size_t column) {
  switch (column) {
    case water_heating_units:
      return household.water_heating_units;
    case water_heating_bill_usd:
      return household.water_heating_bill_usd;
    case home_fuel_units:
      return household.home_fuel_units;
    default:
      return household.home_fuel_bill_usd;
  }
}

/// "120; 110; ..." as numbers, or what is wrong with them.
std::string_view read_numbers(std::string_view cell, const Column& column, std::vector<double>& out) {
  for (bool more = true; more;) {
    const std::size_t end = cell.find(';');
    const NumberText one = number_from(trimmed(cell.substr(0, end)));
    if (!one.what.empty()) return one.what;
    if (!(one.value >= column.low && one.value <= column.high)) return "is out of range";
    out.push_back(one.value);
    more = end != std::string_view::npos;
    if (more) cell.remove_prefix(end + 1);
  }
  return out.size() == 1 || out.size() == 12 ? std::string_view() : "is neither one number nor twelve";
}

/// Whether a cell is a choice as people write it: in any case, with spaces or hyphens for underscores.
bool same_word(std::string_view choice, std::string_view cell) {
  return std::equal(choice.begin(), choice.end(), cell.begin(), cell.end(), [](char a, char b) {
    const char plain = b == ' ' || b == '-' ? '_' : b >= 'A' && b <= 'Z' ? static_cast<char>(b + ('a' - 'A')) : b;
    return a == plain;
  });
}

/// `word` is one of the column's choices.
void set_choice(Household& household, std::size_t column, std::string_view word) {
  switch (column) {
    case tenure:
      household.tenure = incentives::tenure_named(word);
      break;
    case filing_status:
      household.filing_status = incentives::filing_status_named(word);
      break;
    case heater_kind:
      household.heater_kind = hotwater::heater_kind_named(word);
      break;
    case heater_fuel:
      household.heater_fuel = prices::fuel_named(word);
      break;
    case itemizes:
      household.itemizes = word == "yes";
      break;
    case installed_by:
      household.installed_by = word == "owner" ? incentives::Installer::owner : incentives::Installer::contractor;
      break;
    case new_home:
      household.new_home = word == "yes";
      break;
    case heater_replaced_now:
      household.heater_replaced_now = word == "yes";
      break;
    default:
      break;
  }
}

/// False and a problem if a word of the cell is no program.
bool set_assistance(Household& household, std::string_view cell, Problems& problems) {
  try {
    household.assistance = incentives::assistance_from(cell);
    return true;
  } catch (const errors::Error& error) {
    problems.add("assistance", error.problem().value, error.problem().what, error.problem().allowed);
    return false;
  }
}

void set_default(Household& household, std::size_t column) {
  if (columns[column].kind == choice) {
    set_choice(household, column, columns[column].default_text);
  } else {
    set_number(household, column, notes()[column].default_number);
  }
  household.defaults_used.push_back(notes()[column].default_used);
}

/// The other column of the pair that says the same in other units; column_count if there is none.
std::size_t partner_of(std::size_t column) {
  static const std::array<std::size_t, column_count> partners = [] {
    std::array<std::size_t, column_count> out;
    out.fill(column_count);
    for (std::size_t i = 0; i < column_count; ++i) {
      for (std::size_t k = 0; k < column_count; ++k) {
        if (columns[i].instead_of.empty() || columns[i].instead_of != columns[k].name) continue;
        out[i] = k;
        out[k] = i;
      }
    }
    return out;
  }();
  return partners[column];
}

}  // namespace

std::span<const Column> household_columns() {
  return columns;
}

std::string household_columns_markdown() {
  std::string out =
      "| column | meaning | unit | allowed | when the cell is empty |\n"
      "| --- | --- | --- | --- | --- |\n";
  for (std::size_t i = 0; i < column_count; ++i) {
    const Column& column = columns[i];
    std::string empty;
    if (column.required) {
      empty = "required: the row is reported as bad";
    } else if (!column.default_text.empty()) {
      empty = fmt::format("{}: {}", column.default_text, column.why);
    } else {
      empty = column.why.starts_with("empty: ") ? column.why.substr(7) : column.why;
    }
    std::string allowed = notes()[i].allowed;
    if (column.kind == numbers) {
      allowed = fmt::format("{}; each {} to {}", numbers_form, errors::plain_number(column.low),
                            errors::plain_number(column.high));
    } else if (column.kind == number || column.kind == whole_number) {
      allowed = fmt::format("{}{} to {}", column.kind == whole_number ? "a whole number, " : "",
                            errors::plain_number(column.low), errors::plain_number(column.high));
    }
    const std::string meaning = column.instead_of.empty() ? std::string(column.meaning)
                                                          : fmt::format("{}; instead of {}, never both in a row",
                                                                        column.meaning, column.instead_of);
    out += fmt::format("| `{}` | {} | {} | {} | {} |\n", column.name, meaning, column.unit, allowed, empty);
  }
  return out;
}

SheetReader::SheetReader(std::vector<std::string> header, std::string file)
    : file_(std::move(file)), known_ids_(std::make_unique<KnownIds>()) {
  std::bitset<column_count> present;
  for (std::size_t i = 0; i < header.size(); ++i) {
    const std::string name(trimmed(header[i]));
    for (std::size_t k = 0; k < i; ++k) {
      if (trimmed(header[k]) != name) continue;
      throw errors::DuplicateName({{file_, {}, {}, shown(name)},
                                   "",
                                   fmt::format("stands twice in the header, in columns {} and {}{}", k + 1, i + 1,
                                               name.empty() ? " (both without a name)" : ""),
                                   "each column name once"});
    }
    const auto found =
        std::find_if(columns.begin(), columns.end(), [&](const Column& column) { return column.name == name; });
    if (found == columns.end()) {
      column_of_.push_back(-1);
      unknown_.push_back({name, errors::nearest_name(name, column_names())});
    } else {
      column_of_.push_back(static_cast<int>(found - columns.begin()));
      present.set(static_cast<std::size_t>(found - columns.begin()));
    }
  }
  const auto missing = [&](std::string_view name, std::string allowed) {
    std::string what = "is missing from the header";
    // A misspelt required column is the likely cause: name it.
    const std::array<std::string, 1> only{std::string(name)};
    for (const Unknown& unknown : unknown_) {
      if (errors::nearest_name(unknown.name, only) == name)
        what += fmt::format(" (is \"{}\" meant?)", shown(unknown.name));
    }
    throw errors::MissingValue({{file_, {}, {}, std::string(name)}, "", what, std::move(allowed)});
  };
  for (std::size_t i = 0; i < column_count; ++i) {
    if (columns[i].required && !present[i]) missing(columns[i].name, "a column of this name: " + notes()[i].allowed);
  }
  if (!present[place] && !(present[latitude_deg] && present[longitude_deg])) {
    missing("place", "a column place, or the columns latitude_deg and longitude_deg");
  }
}

SheetReader::SheetReader(SheetReader&&) noexcept = default;
SheetReader& SheetReader::operator=(SheetReader&&) noexcept = default;
SheetReader::~SheetReader() = default;

SheetRow SheetReader::read(long row, std::span<const std::string_view> cells) {
  SheetRow out = parse(row, cells);
  claim_id(row, out);
  return out;
}

void SheetReader::claim_id(long row, SheetRow& parsed) {
  if (!parsed.has_id) return;
  const auto before = known_ids_->add(parsed.household.id, row);
  if (!before) return;
  Problems(file_, row, parsed.problems)
      .add("household_id", parsed.household.id, fmt::format("already stands in row {}", *before),
           "each identifier once");
}

SheetRow SheetReader::parse(long row, std::span<const std::string_view> cells) const {
  SheetRow out;
  Household& household = out.household;
  Problems problems(file_, row, out.problems);
  std::bitset<column_count> given;  // the cell is not empty, whether it is good or not
  std::bitset<column_count> good;

  if (cells.size() != column_of_.size()) {
    problems.add("", fmt::format("{} cells", cells.size()), "do not fit the header",
                 fmt::format("{} cells", column_of_.size()));
  }
  for (std::size_t i = 0; i < std::min(cells.size(), column_of_.size()); ++i) {
    if (column_of_[i] < 0) continue;
    const auto column = static_cast<std::size_t>(column_of_[i]);
    const std::string_view cell = cells[i];
    if (cell.empty()) continue;
    // An identifier of blanks is no identifier; other blank cells are empty cells.
    if (is_blank(cell) && (column != household_id || !has_control_character(cell))) {
      if (column == household_id) {
        given.set(column);
        problems.add(column, fmt::format("\"{}\"", shown(cell)), "is blank");
      }
      continue;
    }
    given.set(column);
    if (!usable(column, cell, problems)) continue;
    switch (columns[column].kind) {
      case text:
        if (column == household_id) {
          household.id = cell;
        } else if (column == assistance) {
          if (!set_assistance(household, cell, problems)) break;
        } else {
          (column == place ? household.place : household.package) = trimmed(cell);
        }
        good.set(column);
        break;
      case number:
      case whole_number: {
        const NumberText read_number = number_from(cell);
        if (!read_number.what.empty()) {
          problems.add(column, cell, read_number.what);
        } else if (!(read_number.value >= columns[column].low && read_number.value <= columns[column].high)) {
          problems.add(column, trimmed(cell), "is out of range");
        } else if (columns[column].kind == whole_number && read_number.value != std::floor(read_number.value)) {
          problems.add(column, trimmed(cell), "is not a whole number");
        } else {
          set_number(household, column, read_number.value);
          good.set(column);
        }
        break;
      }
      case numbers: {
        std::vector<double> read;
        const std::string_view wrong = read_numbers(cell, columns[column], read);
        if (!wrong.empty()) {
          problems.add(column, trimmed(cell), wrong);
        } else {
          own_bill(household, column) = std::move(read);
          good.set(column);
        }
        break;
      }
      case choice: {
        const std::string_view word = trimmed(cell);
        const std::vector<std::string>& choices = notes()[column].choices;
        const auto same = [&](const std::string& one) { return same_word(one, word); };
        if (const auto found = std::find_if(choices.begin(), choices.end(), same); found != choices.end()) {
          set_choice(household, column, *found);
          good.set(column);
        } else {
          const std::string nearest = errors::nearest_name(word.substr(0, 100), choices);
          problems.add(column, trimmed(cell),
                       nearest.empty() ? "is not known" : fmt::format("is not known (did you mean {}?)", nearest));
        }
        break;
      }
    }
  }

  household.defaults_used.reserve(8);
  for (std::size_t i = 0; i < column_count; ++i) {
    if (given[i]) {
      const std::size_t partner = partner_of(i);
      if (partner < i && given[partner]) {
        problems.add(fmt::format("{} and {}", columns[partner].name, columns[i].name), "", "are both given",
                     "one of the two");
      }
    } else if (columns[i].required) {
      problems.add(i, "", "is missing");
    } else if (!columns[i].default_text.empty() && (partner_of(i) == column_count || !given[partner_of(i)])) {
      set_default(household, i);
    }
  }
  if (given[latitude_deg] != given[longitude_deg]) {
    const std::size_t absent = given[latitude_deg] ? longitude_deg : latitude_deg;
    const std::size_t there = given[latitude_deg] ? latitude_deg : longitude_deg;
    problems.add(absent, "", fmt::format("is missing beside {}", columns[there].name));
  } else if (!given[latitude_deg] && !given[place]) {
    problems.add("place", "", "is missing, and so are latitude_deg and longitude_deg", "a place, or both coordinates");
  }
  if (good[heater_kind] && good[heater_fuel] && household.heater_kind == hotwater::HeaterKind::heat_pump &&
      household.heater_fuel != prices::Fuel::electricity) {
    problems.add("heater_fuel", prices::name_of(household.heater_fuel),
                 "does not occur together with heater_kind heat_pump", "electricity");
  }
  out.has_id = good[household_id];
  return out;
}

}  // namespace warmledger::catalog
