#include "warmledger/catalog/program.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdint>
#include <limits>
#include <type_traits>
#include <utility>

#include <fmt/format.h>
#include <toml++/toml.h>

#include "warmledger/catalog/files.hpp"
#include "warmledger/catalog/text.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/stack.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::catalog {

namespace {

enum class Type { text, number, whole, date, flag, list };

/// One key: the single source of validation, defaults and documentation.
struct Spec {
  std::string_view table;
  std::string_view name;
  Type type;
  double low, high;       ///< of numbers, both ends included
  std::string_view unit;  ///< of numbers, in words; of text and lists: the words allowed, or what they are
  std::string_view default_text;
  std::string_view meaning;
};

constexpr std::string_view required = "required";
constexpr std::string_view none = "none";
constexpr std::string_view share = "(0.06 is 6 %)";
constexpr std::string_view any_text = "text on one line";
constexpr std::string_view fuel_words = "electricity, natural_gas, propane, heating_oil";
constexpr std::string_view one_amount = "exactly one of flat_usd, share_of_cost, usd_per_ft2, usd_per_first_year_kwh";
constexpr std::string_view price_default = "the state's or national price of data/prices.csv";
constexpr std::string_view price_source_default = "required with usd_per_unit";
constexpr std::string_view escalation_default = "the inflation rate: real_escalation 0";
constexpr std::string_view price_meaning =
    "Price of one unit on the install date, for households that do not state their own";
constexpr std::string_view price_source_meaning = "Where the price is from";
constexpr std::string_view nominal_meaning = "Yearly rise of the price in money of the day; not beside real_escalation";
constexpr std::string_view real_meaning = "Yearly rise of the price above inflation; not beside nominal_escalation";

using enum Type;
constexpr std::array specs{
    Spec{"", "title", text, 0, 0, any_text, required, "Name of the program, shown in every output"},
    Spec{"", "note", text, 0, 0, any_text, none, "Shown in every output, for example that the county is invented"},
    Spec{"", "install_date", date, 0, 0, "", required,
         "Date on which every system is taken as installed; incentives, limits and tax tables of that date hold"},
    Spec{"", "study_years", whole, 1, 50, "years", "20", "Length of the study"},
    Spec{"", "state", text, 0, 0, "two capital letters of a US state, the District of Columbia or a territory",
         "the national prices", "Which prices of data/prices.csv are taken"},
    Spec{"", "jurisdictions", list, 0, 0, "names of files in data/incentives", "none",
         "Whose incentives hold beside those of this file, for example [\"federal\"]"},

    Spec{"economics", "nominal_discount_rate", number, -0.5, 1, share,
         "exactly one of nominal_discount_rate, real_discount_rate", "Yearly discount rate of money of the day"},
    Spec{"economics", "real_discount_rate", number, -0.5, 1, share,
         "exactly one of nominal_discount_rate, real_discount_rate", "Yearly discount rate above inflation"},
    Spec{"economics", "inflation_rate", number, -0.2, 0.5, share, required, "Yearly general inflation"},

    Spec{"prices.electricity", "usd_per_unit", number, 0.01, 5, "US dollars per kWh", price_default, price_meaning},
    Spec{"prices.electricity", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.electricity", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.electricity", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},
    Spec{"prices.natural_gas", "usd_per_unit", number, 0.05, 50, "US dollars per therm", price_default, price_meaning},
    Spec{"prices.natural_gas", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.natural_gas", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.natural_gas", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},
    Spec{"prices.propane", "usd_per_unit", number, 0.1, 50, "US dollars per US gallon", price_default, price_meaning},
    Spec{"prices.propane", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.propane", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.propane", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},
    Spec{"prices.heating_oil", "usd_per_unit", number, 0.1, 50, "US dollars per US gallon", price_default,
         price_meaning},
    Spec{"prices.heating_oil", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.heating_oil", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.heating_oil", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},

    Spec{"income", "area_median_income_usd", number, 1000, 1e6, "US dollars a year", required,
         "Area median income of a family of four; other sizes follow the federal household-size factors"},
    Spec{"income", "round_to_usd", whole, 1, 10000, "US dollars", "50",
         "Income limits are rounded to a multiple of this"},
    Spec{"income", "rounding", text, 0, 0, "nearest, up", "nearest", "How income limits are rounded"},
    Spec{"income", "source", text, 0, 0, any_text, required, "Where the area median income is from, with its year"},
    Spec{"[[income.tier]]", "name", text, 0, 0, any_text, required,
         "The program's name of the tier; incomes above the last tier are \"above\""},
    Spec{"[[income.tier]]", "most_share", number, 0.01, 10,
         "of the area median income for the household's size (0.8 is 80 %)", required,
         "Upper end of the tier; shares rise from tier to tier"},
    Spec{"[[income.tier]]", "includes_edge", flag, 0, 0, "", "true",
         "Whether an income exactly at the upper end belongs to the tier"},

    Spec{"[[place]]", "name", text, 0, 0, any_text, required, "Place name that sheets use"},
    Spec{"[[place]]", "latitude_deg", number, -90, 90, "degrees, north positive", required, "Latitude"},
    Spec{"[[place]]", "longitude_deg", number, -180, 180, "degrees, east positive", required,
         "Longitude; negative in the mainland US"},

    Spec{"[[package]]", "id", text, 0, 0, any_text, required, "Short unique name, used in sheets"},
    Spec{"[[package]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[package]]", "collector", text, 0, 0, "an id of data/collectors.csv", required, "Which collector"},
    Spec{"[[package]]", "collector_count", whole, 1, 50, "collectors", required, "How many collectors"},
    Spec{"[[package]]", "storage_gal", number, 10, 5000, "US gallons", "exactly one of storage_gal, storage_l",
         "Volume of the solar tank"},
    Spec{"[[package]]", "storage_l", number, 38, 18927, "litres", "exactly one of storage_gal, storage_l",
         "The same in litres"},
    Spec{"[[package]]", "loop", text, 0, 0, "drain_back, pressurized_glycol", required,
         "How the collector loop is kept from freezing"},
    Spec{"[[package]]", "arrangement", text, 0, 0, "two_tank, one_tank", "two_tank",
         "Preheat tank ahead of the existing heater, or one tank with an electric element"},
    Spec{"[[package]]", "backup_share_of_tank", number, 0, 0.9, "of the tank (0.4 is 40 %)", "0",
         "one_tank: upper share of the tank that the element keeps hot"},
    Spec{"[[package]]", "exchanger_effectiveness", number, 0.05, 1, "", "0.6",
         "Heat exchanger effectiveness; 1 where the collector fluid is the stored water"},
    Spec{"[[package]]", "flow_kg_s_m2", number, 0.001, 0.03, "kg/s for each m2 of collector", "0.015",
         "Flow in the collector loop"},
    Spec{"[[package]]", "pump_w", number, 0, 2000, "W", "60", "Electric power of all pumps while they run"},
    Spec{"[[package]]", "pump_each_w", number, 0, 1000, "W", "0",
         "drain_back: power of one pump; how many run follows from the lift. 0: pump_w stands for all"},
    Spec{"[[package]]", "lift_ft", number, 0, 50, "feet", "0",
         "drain_back: height from the reservoir to the top of the collectors, where the sheet does not say"},
    Spec{"[[package]]", "on_difference_f", number, 1, 60, "degrees F of difference", "16",
         "Hourly method: collector above tank bottom by so much starts the pump"},
    Spec{"[[package]]", "off_difference_f", number, 0, 60, "degrees F of difference", "4",
         "Hourly method: and by so little stops it"},
    Spec{"[[package]]", "high_limit_f", number, 120, 210, "degrees F", "180",
         "Hourly method: top of the solar tank that stops the pump"},
    Spec{"[[package]]", "glycol_share", number, 0.2, 0.6, "by mass (0.5 is 50 %)", "0.5",
         "pressurized_glycol: propylene glycol in the fluid"},
    Spec{
        "[[package]]", "tank_ua_w_k", number, 0, 50, "W/K", "2.5",
        "Heat loss of the solar tank to its room (monthly method: one_tank only; its fit holds a well insulated tank)"},
    Spec{"[[package]]", "pipe_ua_w_k", number, 0, 200, "W/K", "8",
         "Heat loss of the collector loop's pipes to the air; EN 15316-4-3 takes 5 + 0.5 times the area in m2 (from "
         "memory)"},
    Spec{"[[package]]", "material_usd", number, 0, 1e6, "US dollars", required, "Material, with tax and delivery"},
    Spec{"[[package]]", "labor_usd", number, 0, 1e6, "US dollars", required, "Labor of the installation, with permits"},
    Spec{"[[package]]", "least_occupants", whole, 1, 20, "persons", "1", "Smallest household it is offered to"},
    Spec{"[[package]]", "most_occupants", whole, 1, 20, "persons", "20", "Largest household it is offered to"},
    Spec{"[[package]]", "life_years", whole, 1, 60, "years", "20",
         "Life of the system, for the remaining value at the end of the study"},
    Spec{"[[package.upkeep]]", "what", text, 0, 0, any_text, required, "What is done"},
    Spec{"[[package.upkeep]]", "usd", number, 0, 1e6, "US dollars", required,
         "Cost each time, in dollars of the install date; it rises with inflation"},
    Spec{"[[package.upkeep]]", "first_year", whole, 1, 100, "years after the installation", required,
         "End of which year it is first paid"},
    Spec{"[[package.upkeep]]", "every_years", whole, 1, 100, "years", required, "Years between payments"},
    Spec{"[[package.upkeep]]", "replaces", flag, 0, 0, "", "false",
         "true for a part that is replaced (pump, tank): counted with the investment in the savings-to-investment "
         "ratio"},

    Spec{"[[incentive]]", "id", text, 0, 0, any_text, required, "Short unique name"},
    Spec{"[[incentive]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[incentive]]", "payer", text, 0, 0, any_text, required, "Who pays"},
    Spec{"[[incentive]]", "citation", text, 0, 0, any_text, required, "Statute, order or program document"},
    Spec{"[[incentive]]", "standing", text, 0, 0, "verified, from memory, invented", required,
         "How sure its facts are"},
    Spec{"[[incentive]]", "kind", text, 0, 0, "rebate, credit", required,
         "Money off or back, or a credit on an income tax return"},
    Spec{"[[incentive]]", "flat_usd", number, 0, 1e6, "US dollars", one_amount, "The same amount for every household"},
    Spec{"[[incentive]]", "share_of_cost", number, 0, 1, "of the installed cost (0.3 is 30 %)", one_amount,
         "A share of the installed cost, less what base_less names"},
    Spec{"[[incentive]]", "usd_per_ft2", number, 0, 1000, "US dollars", one_amount,
         "For each square foot of gross collector area"},
    Spec{"[[incentive]]", "usd_per_first_year_kwh", number, 0, 100, "US dollars", one_amount,
         "For each kWh of purchased energy saved in the first year"},
    Spec{"[[incentive]]", "cap_usd", number, 0, 1e6, "US dollars", none, "Most that one household gets"},
    Spec{"[[incentive]]", "valid_from", date, 0, 0, "", none, "First install date for which it holds"},
    Spec{"[[incentive]]", "valid_to", date, 0, 0, "", none, "Last install date for which it holds"},
    Spec{"[[incentive]]", "least_income_share", number, 0, 10, "of the area median income (0.8 is 80 %)", none,
         "Household income at least"},
    Spec{"[[incentive]]", "most_income_share", number, 0, 10, "of the area median income (0.8 is 80 %)", none,
         "Household income at most"},
    Spec{"[[incentive]]", "tenures", list, 0, 0, "owner, renter", "any", "For which tenures it holds"},
    Spec{"[[incentive]]", "fuels", list, 0, 0, fuel_words, "any", "For which fuels of the existing heater it holds"},
    Spec{"[[incentive]]", "base_less", list, 0, 0, "ids of incentives", "none",
         "Incentives whose amounts come off the cost before the share is taken"},
    Spec{"[[incentive]]", "lowers_base_of", list, 0, 0, "ids of incentives", "none",
         "The same said from the other side: incentives whose cost this amount lowers, for example a tax credit when "
         "this is a utility rebate left out of income"},
    Spec{"[[incentive]]", "refundable", flag, 0, 0, "", "false", "Credit: paid out beyond the tax owed"},
    Spec{"[[incentive]]", "carryforward_years", whole, 0, 50, "years", "0",
         "Credit: years after the first in which an unused part may still be taken"},
    Spec{"[[incentive]]", "arrival", text, 0, 0, "install, months_after, tax_filing",
         "install; of a credit: tax_filing", "When the money comes; tax_filing is 15 April of the year after"},
    Spec{"[[incentive]]", "arrival_months", whole, 1, 120, "months", "required with arrival = \"months_after\"",
         "Months after the installation"},

    Spec{"[[loan]]", "id", text, 0, 0, any_text, required, "Short unique name"},
    Spec{"[[loan]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[loan]]", "yearly_rate", number, 0, 1, share, required, "Nominal yearly rate, charged monthly"},
    Spec{"[[loan]]", "term_months", whole, 1, 600, "months", required, "Number of monthly payments"},
    Spec{"[[loan]]", "largest_usd", number, 1, 1e9, "US dollars", "no limit", "Most that is lent"},
    Spec{"[[loan]]", "rounding", text, 0, 0, "half_up, half_even, up, down", "half_up",
         "How payments and interest become whole cents"},

    Spec{"decision", "longest_simple_payback_years", number, 0, 100, "years", none, "Simple payback at most"},
    Spec{"decision", "longest_discounted_payback_years", number, 0, 100, "years", none, "Discounted payback at most"},
    Spec{"decision", "least_net_savings_usd", number, -1e6, 1e6, "US dollars", none,
         "Net savings over the study at least, in present value; 0 where no threshold is set at all"},
    Spec{"decision", "least_savings_to_investment", number, 0.01, 100, "", none,
         "Savings-to-investment ratio at least"},
    Spec{"decision", "largest_extra_help_usd", number, 0, 1e6, "US dollars", "0",
         "Most that the program would add beyond its incentives; a household that needs more does not pay"},

    Spec{"suitability", "most_degrees_off_south", number, 0, 180, "degrees", "30",
         "Roofs that look further from south do not suit (common practice)"},
    Spec{"suitability", "most_shading_share", number, 0, 1, "(0.3 is 30 %)", "0.3",
         "Roofs with more shade do not suit (common practice)"},
    Spec{"suitability", "least_occupants_for_glycol", whole, 1, 20, "persons", "3",
         "Fewer people leave a pressurized glycol loop without draw in summer (common practice)"},
    Spec{"suitability", "renters_served", flag, 0, 0, "", "false",
         "Whether renters are served; the owner must agree and pays"},

    Spec{"heater", "life_years", number, 1, 60, "years", "13",
         "Age at which an existing heater is replaced, with solar and without"},
    Spec{"heater", "replacement_usd", number, 0, 1e5, "US dollars", "1500",
         "Cost of that replacement, in dollars of the install date"},
};

constexpr std::string_view date_allowed = "a date from 2000-01-01 to 2100-12-31, written without quotes: 2026-09-01";
constexpr int first_year = 2000;
constexpr int last_year = 2100;
constexpr std::size_t most_text = 2000;
constexpr std::size_t most_id = 100;

std::string allowed_of(const Spec& spec) {
  const std::string unit = spec.unit.empty() ? "" : " " + std::string(spec.unit);
  switch (spec.type) {
    case text:
      return std::string(spec.unit);
    case list:
      return fmt::format("a list of text: {}", spec.unit);
    case date:
      return std::string(date_allowed);
    case flag:
      return "true or false";
    case number:
      return fmt::format("{} to {}{}", errors::plain_number(spec.low), errors::plain_number(spec.high), unit);
    case whole:
      return fmt::format("a whole number, {} to {}{}", errors::plain_number(spec.low), errors::plain_number(spec.high),
                         unit);
  }
  return {};
}

/// Stands for the top of a jurisdiction's file, which knows no key of a program file but [[incentive]].
constexpr std::string_view rules_file = "(rules)";

/// "package.storage_gal": how a key is named in errors.
std::string path_of(std::string_view table, std::string_view name) {
  if (table == rules_file) return std::string(name);
  while (table.starts_with('[')) table.remove_prefix(1);
  while (table.ends_with(']')) table.remove_suffix(1);
  return table.empty() ? std::string(name) : fmt::format("{}.{}", table, name);
}

std::string value_text(const toml::node& node) {
  if (const auto* t = node.as_string()) return fmt::format("\"{}\"", shown(t->get()));
  if (const auto* i = node.as_integer()) return fmt::format("{}", i->get());
  if (const auto* f = node.as_floating_point()) return errors::plain_number(f->get());
  if (const auto* b = node.as_boolean()) return b->get() ? "true" : "false";
  if (const auto* d = node.as_date())
    return fmt::format("{:04}-{:02}-{:02}", d->get().year, d->get().month, d->get().day);
  if (node.is_date_time()) return "a date with a time";
  if (node.is_time()) return "a time of day";
  if (node.is_table()) return "a table";
  return "a list";
}

long line_of(const toml::node& node) {
  return static_cast<long>(node.source().begin.line);
}

std::optional<long> known_line(long line) {
  return line > 0 ? std::optional<long>(line) : std::nullopt;
}

/// Runs `work` and gives every error of this library the file and line it lacks.
template <class Work>
auto located(const std::string& file, long line, Work&& work) {
  const auto again = [&](const errors::Error& error) { return error.located(file, known_line(line)); };
  try {
    return work();
  } catch (const errors::ValueOutOfRange& error) {
    throw errors::ValueOutOfRange(again(error));
  } catch (const errors::MissingValue& error) {
    throw errors::MissingValue(again(error));
  } catch (const errors::Contradiction& error) {
    throw errors::Contradiction(again(error));
  } catch (const errors::UnknownName& error) {
    throw errors::UnknownName(again(error));
  } catch (const errors::DuplicateName& error) {
    throw errors::DuplicateName(again(error));
  } catch (const errors::MalformedText& error) {
    throw errors::MalformedText(again(error));
  }
}

/// One table of the file, read key by key through the table of specs.
class Section {
 public:
  /// `parts`: names of the tables and lists of tables that may stand in it. An unknown key throws; the earliest in the
  /// file is named.
  Section(const toml::table* node, std::string_view name, const std::string& file,
          std::initializer_list<std::string_view> parts = {}, long parent_line = 0)
      : node_(node),
        name_(name),
        file_(file),
        line_(node != nullptr && line_of(*node) > 0 ? line_of(*node) : parent_line) {
    if (node_ == nullptr) return;
    std::vector<std::string> known(parts.begin(), parts.end());
    for (const Spec& spec : specs) {
      if (spec.table == name_) known.emplace_back(spec.name);
    }
    const toml::key* worst = nullptr;
    for (const auto& [key, value] : *node_) {
      if (std::find(known.begin(), known.end(), key.str()) != known.end()) continue;
      if (worst == nullptr || key.source().begin.line < worst->source().begin.line) worst = &key;
    }
    if (worst == nullptr) return;
    const std::string nearest = errors::nearest_name(worst->str().substr(0, 200), known);
    throw errors::UnknownName(
        {{file_, known_line(static_cast<long>(worst->source().begin.line)), {}, path_of(name_, shown(worst->str()))},
         "",
         nearest.empty() ? "is no key of this table"
                         : fmt::format("is no key of this table (did you mean {}?)", nearest),
         fmt::format("{}", fmt::join(known, ", "))});
  }

  [[nodiscard]] long line() const { return line_; }
  [[nodiscard]] const std::string& file() const { return file_; }

  [[nodiscard]] bool has(std::string_view name) const { return find(name) != nullptr; }

  /// Line of a key's value, or of the table if the key is absent.
  [[nodiscard]] long line_of_key(std::string_view name) const {
    const toml::node* value = find(name);
    return value != nullptr ? line_of(*value) : line_;
  }

  [[nodiscard]] std::optional<double> maybe_number(std::string_view name) const {
    const Spec& spec = spec_of(name);
    const toml::node* value = find(name);
    if (value == nullptr) return default_number(spec);
    double found = 0;
    if (const auto* i = value->as_integer()) {
      found = static_cast<double>(i->get());
    } else if (const auto* f = value->as_floating_point(); f != nullptr && spec.type == number) {
      found = f->get();
    } else {
      fail<errors::MalformedText>(name, *value, spec.type == number ? "is not a number" : "is not a whole number");
    }
    if (!(found >= spec.low && found <= spec.high)) fail<errors::ValueOutOfRange>(name, *value, "is out of range");
    return found;
  }
  [[nodiscard]] double number_of(std::string_view name) const {
    const auto found = maybe_number(name);
    return found ? *found : missing<double>(name);
  }
  [[nodiscard]] int whole_of(std::string_view name) const { return static_cast<int>(number_of(name)); }

  /// Text without control characters; empty if absent and not required.
  [[nodiscard]] std::string text_of(std::string_view name) const {
    const Spec& spec = spec_of(name);
    const toml::node* value = find(name);
    if (value == nullptr) return spec.default_text == required ? missing<std::string>(name) : std::string();
    const auto* found = value->as_string();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is not text");
    check_text(name, *value, found->get(), name == "id" ? most_id : most_text);
    return found->get();
  }
  /// One of the words of the spec, as its position; the default's position if absent.
  [[nodiscard]] std::size_t choice_of(std::string_view name) const {
    const Spec& spec = spec_of(name);
    const std::vector<std::string> words = words_of(spec.unit);
    const toml::node* value = find(name);
    const std::string word = value != nullptr                ? text_of(name)
                             : spec.default_text == required ? missing<std::string>(name)
                                                             : std::string(spec.default_text);
    return position(name, value, word, words);
  }
  [[nodiscard]] std::optional<dates::Date> maybe_date(std::string_view name) const {
    const toml::node* value = find(name);
    if (value == nullptr)
      return spec_of(name).default_text == required ? missing<dates::Date>(name) : std::optional<dates::Date>();
    const auto* found = value->as_date();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is not a date");
    if (found->get().year < first_year || found->get().year > last_year)
      fail<errors::ValueOutOfRange>(name, *value, "is out of range");
    return dates::make_date(found->get().year, found->get().month, found->get().day);
  }
  [[nodiscard]] bool flag_of(std::string_view name) const {
    const toml::node* value = find(name);
    if (value == nullptr) return spec_of(name).default_text == "true";
    const auto* found = value->as_boolean();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is neither true nor false");
    return found->get();
  }
  [[nodiscard]] std::vector<std::string> list_of(std::string_view name) const {
    (void)spec_of(name);
    std::vector<std::string> out;
    const toml::node* value = find(name);
    if (value == nullptr) return out;
    const auto* found = value->as_array();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is not a list");
    for (const toml::node& item : *found) {
      const auto* word = item.as_string();
      if (word == nullptr) fail<errors::MalformedText>(name, item, "is not text");
      check_text(name, item, word->get(), most_id);
      if (std::find(out.begin(), out.end(), word->get()) != out.end())
        fail<errors::DuplicateName>(name, item, "stands twice in the list");
      out.push_back(word->get());
    }
    return out;
  }
  /// A list of words of the spec, as positions.
  [[nodiscard]] std::vector<std::size_t> choices_of(std::string_view name) const {
    const std::vector<std::string> words = words_of(spec_of(name).unit);
    std::vector<std::size_t> out;
    for (const std::string& word : list_of(name)) out.push_back(position(name, find(name), word, words));
    return out;
  }

  /// Which one of several keys is given; Contradiction or MissingValue unless it is exactly one (or, if not `needed`,
  /// none: the result is then empty).
  [[nodiscard]] std::string_view only_one(std::initializer_list<std::string_view> names, bool needed = true) const {
    std::string_view found;
    const std::string all = fmt::format("{} of {}", needed ? "exactly one" : "at most one", fmt::join(names, ", "));
    for (const std::string_view name : names) {
      if (!has(name)) continue;
      if (!found.empty()) {
        throw errors::Contradiction({{file_, known_line(line_of_key(name)), {}, path_of(name_, name)},
                                     value_text(*find(name)),
                                     fmt::format("stands beside {}", found),
                                     all});
      }
      found = name;
    }
    if (found.empty() && needed)
      throw errors::MissingValue(
          {{file_, known_line(line_), {}, path_of(name_, *names.begin())}, "", "is missing", all});
    return found;
  }

  /// A table within this one; nullptr if absent.
  [[nodiscard]] const toml::table* table(std::string_view name) const {
    const toml::node* value = find(name);
    if (value == nullptr) return nullptr;
    const auto* found = value->as_table();
    if (found == nullptr) structure(name, *value, "is not a table", fmt::format("a table: [{}]", path_of(name_, name)));
    return found;
  }
  /// The tables of a list of tables; none if absent.
  [[nodiscard]] std::vector<const toml::table*> tables(std::string_view name) const {
    std::vector<const toml::table*> out;
    const toml::node* value = find(name);
    if (value == nullptr) return out;
    const std::string allowed = fmt::format("a list of tables: [[{}]]", path_of(name_, name));
    const auto* found = value->as_array();
    if (found == nullptr) structure(name, *value, "is not a list of tables", allowed);
    for (const toml::node& item : *found) {
      const auto* one = item.as_table();
      if (one == nullptr) structure(name, item, "is not a table", allowed);
      out.push_back(one);
    }
    return out;
  }

  template <class E>
  [[noreturn]] void fail(std::string_view name, const toml::node& value, std::string what) const {
    throw E({{file_, known_line(line_of(value)), {}, path_of(name_, name)},
             value_text(value),
             std::move(what),
             allowed_of(spec_of(name))});
  }
  template <class E>
  [[noreturn]] void fail(std::string_view name, std::string value, std::string what, std::string allowed) const {
    throw E({{file_, known_line(line_of_key(name)), {}, path_of(name_, name)},
             std::move(value),
             std::move(what),
             std::move(allowed)});
  }

 private:
  [[nodiscard]] const toml::node* find(std::string_view name) const {
    return node_ == nullptr ? nullptr : node_->get(name);
  }

  [[nodiscard]] const Spec& spec_of(std::string_view name) const {
    const auto found = std::find_if(specs.begin(), specs.end(),
                                    [&](const Spec& spec) { return spec.table == name_ && spec.name == name; });
    if (found == specs.end()) throw std::logic_error(fmt::format("no key {} in the key table", path_of(name_, name)));
    return *found;
  }

  static std::optional<double> default_number(const Spec& spec) {
    const NumberText read = number_from(spec.default_text);
    return read.what.empty() ? std::optional<double>(read.value) : std::nullopt;
  }

  template <class T>
  [[nodiscard]] T missing(std::string_view name) const {
    throw errors::MissingValue(
        {{file_, known_line(line_), {}, path_of(name_, name)}, "", "is missing", allowed_of(spec_of(name))});
  }

  void check_text(std::string_view name, const toml::node& value, const std::string& found, std::size_t most) const {
    if (is_blank(found)) fail<errors::MissingValue>(name, value, "is blank");
    if (has_control_character(found))
      fail<errors::MalformedText>(name, value, "has a control character (a tab, a line end or the like)");
    if (character_count(found) > most) {
      throw errors::MalformedText({{file_, known_line(line_of(value)), {}, path_of(name_, name)},
                                   value_text(value),
                                   "is too long",
                                   fmt::format("up to {} characters", most)});
    }
  }

  static std::vector<std::string> words_of(std::string_view choices) {
    std::vector<std::string> words;
    while (!choices.empty()) {
      const std::size_t comma = choices.find(", ");
      words.emplace_back(choices.substr(0, comma));
      choices.remove_prefix(comma == std::string_view::npos ? choices.size() : comma + 2);
    }
    return words;
  }

  [[nodiscard]] std::size_t position(std::string_view name, const toml::node* value, const std::string& word,
                                     const std::vector<std::string>& words) const {
    const auto found = std::find(words.begin(), words.end(), word);
    if (found != words.end()) return static_cast<std::size_t>(found - words.begin());
    const std::string nearest = errors::nearest_name(word, words);
    throw errors::UnknownName(
        {{file_, known_line(value != nullptr ? line_of(*value) : line_), {}, path_of(name_, name)},
         fmt::format("\"{}\"", shown(word)),
         nearest.empty() ? "is not known" : fmt::format("is not known (did you mean {}?)", nearest),
         fmt::format("{}", fmt::join(words, ", "))});
  }

  [[noreturn]] void structure(std::string_view name, const toml::node& value, std::string what,
                              std::string allowed) const {
    throw errors::MalformedText({{file_, known_line(line_of(value)), {}, path_of(name_, name)},
                                 value_text(value),
                                 std::move(what),
                                 std::move(allowed)});
  }

  const toml::table* node_;
  std::string_view name_;
  const std::string& file_;
  long line_;
};

/// Parses TOML; a syntax error becomes a sentence with file, line, and where it can be told the key and value.
toml::table parse(std::string_view content, const std::string& file) {
  try {
    return toml::parse(content, std::string_view(file));
  } catch (const toml::parse_error& error) {
    const auto line = static_cast<long>(error.source().begin.line);
    std::string_view rest = content;
    for (long skipped = 1; skipped < line && !rest.empty(); ++skipped) {
      const std::size_t end = rest.find('\n');
      rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
    }
    const std::string_view found = trimmed(rest.substr(0, rest.find('\n')));
    const std::size_t equals = found.find('=');
    const std::string_view key =
        equals == std::string_view::npos ? std::string_view() : trimmed(found.substr(0, equals));
    const bool plain_key = !key.empty() && std::all_of(key.begin(), key.end(), [](char c) {
      return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_' || c == '-' || c == '.';
    });
    const std::string_view value = plain_key ? trimmed(found.substr(equals + 1)) : found;
    const errors::Where where{file, known_line(line), {}, plain_key ? std::string(key) : ""};
    const std::string_view reason = error.description();
    const bool like_date =
        value.size() >= 8 &&
        std::all_of(value.begin(), value.begin() + 8, [](char c) { return (c >= '0' && c <= '9') || c == '-'; }) &&
        value.find('-') != std::string_view::npos;
    if (like_date)
      throw errors::ValueOutOfRange({where, shown(value), "is not a day of the calendar", std::string(date_allowed)});
    throw errors::MalformedText({where, found.empty() ? "" : fmt::format("\"{}\"", shown(value)),
                                 fmt::format("is not TOML ({})", shown(reason)),
                                 "TOML 1.0: key = value lines under [table] lines, text in quotes"});
  }
}

/// A rule with where it stands, until the ids it names can be looked up.
struct FoundRule {
  incentives::Rule rule;
  std::vector<std::string> lowers_base_of;
  std::string file;
  long line = 0;
  long base_less_line = 0;
  long lowers_line = 0;
};

FoundRule read_rule(const toml::table& table, const std::string& file, long parent_line) {
  const Section section(&table, "[[incentive]]", file, {}, parent_line);
  FoundRule found;
  incentives::Rule& rule = found.rule;
  found.file = file;
  found.line = section.line();
  rule.id = section.text_of("id");
  rule.title = section.text_of("title");
  rule.payer = section.text_of("payer");
  rule.citation = section.text_of("citation");
  rule.standing =
      std::array{incentives::Standing::verified, incentives::Standing::from_memory, incentives::Standing::invented}.at(
          section.choice_of("standing"));
  rule.kind = std::array{incentives::Kind::rebate, incentives::Kind::credit}.at(section.choice_of("kind"));
  const std::string_view amount =
      section.only_one({"flat_usd", "share_of_cost", "usd_per_ft2", "usd_per_first_year_kwh"});
  rule.amount = section.number_of(amount);
  if (amount == "flat_usd") rule.basis = incentives::Basis::flat_usd;
  if (amount == "share_of_cost") rule.basis = incentives::Basis::share_of_cost;
  if (amount == "usd_per_first_year_kwh") rule.basis = incentives::Basis::usd_per_first_year_kwh;
  if (amount == "usd_per_ft2") {
    rule.basis = incentives::Basis::usd_per_m2;
    rule.amount /= units::m2_per_ft2;
  }
  rule.cap_usd = section.maybe_number("cap_usd");
  rule.valid_from = section.maybe_date("valid_from");
  rule.valid_to = section.maybe_date("valid_to");
  if (rule.valid_from && rule.valid_to && *rule.valid_to < *rule.valid_from) {
    section.fail<errors::Contradiction>("valid_to", dates::iso(*rule.valid_to),
                                        "is before valid_from " + dates::iso(*rule.valid_from),
                                        "a date on or after valid_from");
  }
  rule.least_income_share = section.maybe_number("least_income_share");
  rule.most_income_share = section.maybe_number("most_income_share");
  if (rule.least_income_share && rule.most_income_share && *rule.most_income_share < *rule.least_income_share) {
    section.fail<errors::Contradiction>("most_income_share", errors::plain_number(*rule.most_income_share),
                                        "is below least_income_share " + errors::plain_number(*rule.least_income_share),
                                        "a share at or above least_income_share");
  }
  for (const std::size_t i : section.choices_of("tenures"))
    rule.tenures.push_back(std::array{incentives::Tenure::owner, incentives::Tenure::renter}.at(i));
  for (const std::size_t i : section.choices_of("fuels")) rule.fuels.push_back(prices::all_fuels.at(i));
  rule.base_less = section.list_of("base_less");
  found.base_less_line = section.line_of_key("base_less");
  found.lowers_base_of = section.list_of("lowers_base_of");
  found.lowers_line = section.line_of_key("lowers_base_of");
  if (rule.kind == incentives::Kind::rebate) {
    for (const std::string_view name : {"refundable", "carryforward_years"}) {
      if (section.has(name))
        section.fail<errors::Contradiction>(name, "", "belongs to a credit, and this is a rebate",
                                            "no such key, or kind = \"credit\"");
    }
  }
  rule.refundable = section.flag_of("refundable");
  rule.carryforward_years = section.whole_of("carryforward_years");
  rule.arrival = section.has("arrival") ? std::array{incentives::Arrival::install, incentives::Arrival::months_after,
                                                     incentives::Arrival::tax_filing}
                                              .at(section.choice_of("arrival"))
                 : rule.kind == incentives::Kind::credit ? incentives::Arrival::tax_filing
                                                         : incentives::Arrival::install;
  if (rule.arrival == incentives::Arrival::months_after) {
    rule.arrival_months = section.whole_of("arrival_months");
  } else if (section.has("arrival_months")) {
    section.fail<errors::Contradiction>("arrival_months", "", "is given but arrival is not months_after",
                                        "no such key, or arrival = \"months_after\"");
  }
  located(file, found.line, [&] { incentives::check(rule); });
  return found;
}

/// Resolves the ids that rules name; DuplicateName for an id that stands twice, UnknownName for one that is not there.
std::vector<incentives::Rule> linked(std::vector<FoundRule> found) {
  std::vector<std::string> ids;
  for (const FoundRule& one : found) {
    if (std::find(ids.begin(), ids.end(), one.rule.id) != ids.end()) {
      throw errors::DuplicateName({{one.file, known_line(one.line), {}, "incentive.id"},
                                   fmt::format("\"{}\"", one.rule.id),
                                   "stands twice",
                                   "each id once, those of the jurisdictions included"});
    }
    ids.push_back(one.rule.id);
  }
  const auto known = [&](const FoundRule& one, const std::string& id, std::string_view key, long line) -> std::size_t {
    const auto at = std::find(ids.begin(), ids.end(), id);
    if (at != ids.end() && id != one.rule.id) return static_cast<std::size_t>(at - ids.begin());
    const std::string nearest = errors::nearest_name(id, ids);
    throw errors::UnknownName({{one.file, known_line(line), {}, path_of("incentive", key)},
                               fmt::format("\"{}\"", id),
                               id == one.rule.id ? "is the incentive itself"
                               : nearest.empty() ? "is no incentive"
                                                 : fmt::format("is no incentive (did you mean {}?)", nearest),
                               fmt::format("ids of other incentives: {}", fmt::join(ids, ", "))});
  };
  for (const FoundRule& one : found) {
    for (const std::string& id : one.rule.base_less) (void)known(one, id, "base_less", one.base_less_line);
  }
  for (const FoundRule& one : found) {
    for (const std::string& id : one.lowers_base_of) {
      std::vector<std::string>& base_less = found[known(one, id, "lowers_base_of", one.lowers_line)].rule.base_less;
      if (std::find(base_less.begin(), base_less.end(), one.rule.id) == base_less.end())
        base_less.push_back(one.rule.id);
    }
  }
  std::vector<incentives::Rule> rules;
  for (FoundRule& one : found) rules.push_back(std::move(one.rule));
  return rules;
}

double nominal_from_real(double real, double inflation) {
  return (1 + real) * (1 + inflation) - 1;
}

bool is_state(std::string_view code) {
  // USPS codes of the states, the District of Columbia and the territories.
  static constexpr std::string_view codes =
      "AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK "
      "OR PA RI SC "
      "SD TN TX UT VT VA WA WV WI WY AS GU MP PR VI";
  return code.size() == 2 && code.find(' ') == std::string_view::npos && codes.find(code) != std::string_view::npos &&
         codes.find(code) % 3 == 0;
}

bool has_threshold(const DecisionRules& decision) {
  return decision.longest_simple_payback_years || decision.longest_discounted_payback_years ||
         decision.least_net_savings_usd || decision.least_savings_to_investment;
}

Package read_package(const Section& section, const Catalog& catalog) {
  Package package;
  package.id = section.text_of("id");
  package.title = section.text_of("title");
  hotwater::SolarSystem& system = package.system;
  const std::string collector = section.text_of("collector");
  try {
    const CollectorEntry& entry = catalog.collector(collector);
    system.collector = entry.collector;
    package.plant.loss_2_w_m2k2 = entry.loss_2_w_m2k2;
  } catch (const errors::UnknownName& error) {
    errors::Problem problem = error.located(section.file(), known_line(section.line_of_key("collector")));
    problem.where.key = "package.collector";
    throw errors::UnknownName(problem);
  }
  system.collector_count = section.whole_of("collector_count");
  const std::string_view storage = section.only_one({"storage_gal", "storage_l"});
  system.storage_l = section.number_of(storage) * (storage == "storage_gal" ? units::litre_per_gallon : 1.0);
  system.loop =
      std::array{hotwater::Loop::drain_back, hotwater::Loop::pressurized_glycol}.at(section.choice_of("loop"));
  system.arrangement =
      std::array{hotwater::Arrangement::two_tank, hotwater::Arrangement::one_tank}.at(section.choice_of("arrangement"));
  system.backup_share_of_tank = section.number_of("backup_share_of_tank");
  if (system.arrangement == hotwater::Arrangement::two_tank && system.backup_share_of_tank > 0) {
    section.fail<errors::Contradiction>("backup_share_of_tank", errors::plain_number(system.backup_share_of_tank),
                                        "belongs to arrangement one_tank", "0, or arrangement = \"one_tank\"");
  }
  system.exchanger_effectiveness = section.number_of("exchanger_effectiveness");
  system.flow_kg_s_m2 = section.number_of("flow_kg_s_m2");
  system.pump_w = section.number_of("pump_w");
  system.tank_ua_w_k = section.number_of("tank_ua_w_k");
  system.pipe_ua_w_k = section.number_of("pipe_ua_w_k");
  const bool glycol = system.loop == hotwater::Loop::pressurized_glycol;
  for (const std::string_view key : {"pump_each_w", "lift_ft"}) {
    if (glycol && section.number_of(key) > 0) {
      section.fail<errors::Contradiction>(key, errors::plain_number(section.number_of(key)),
                                          "belongs to loop drain_back", "0, or loop = \"drain_back\"");
    }
  }
  if (section.number_of("off_difference_f") >= section.number_of("on_difference_f")) {
    section.fail<errors::Contradiction>("off_difference_f", errors::plain_number(section.number_of("off_difference_f")),
                                        "would stop the pump where on_difference_f has not started it",
                                        "less than on_difference_f");
  }
  hotwater::Plant& plant = package.plant;
  plant.pump_each_w = section.number_of("pump_each_w");
  plant.lift_m = section.number_of("lift_ft") * units::m_per_ft;
  plant.on_difference_k = section.number_of("on_difference_f") * units::kelvin_per_fahrenheit_degree;
  plant.off_difference_k = section.number_of("off_difference_f") * units::kelvin_per_fahrenheit_degree;
  plant.high_limit_c = units::celsius_from_fahrenheit(section.number_of("high_limit_f"));
  plant.glycol_mass_share = section.number_of("glycol_share");
  package.material_usd = section.number_of("material_usd");
  package.labor_usd = section.number_of("labor_usd");
  package.least_occupants = section.whole_of("least_occupants");
  package.most_occupants = section.whole_of("most_occupants");
  if (package.most_occupants < package.least_occupants) {
    section.fail<errors::Contradiction>("most_occupants", fmt::format("{}", package.most_occupants),
                                        fmt::format("is below least_occupants {}", package.least_occupants),
                                        "at least least_occupants");
  }
  package.life_years = section.whole_of("life_years");
  for (const toml::table* table : section.tables("upkeep")) {
    const Section upkeep(table, "[[package.upkeep]]", section.file(), {}, section.line());
    package.upkeep.push_back({upkeep.text_of("what"), upkeep.number_of("usd"), upkeep.whole_of("first_year"),
                              upkeep.whole_of("every_years"), upkeep.flag_of("replaces")});
  }
  located(section.file(), section.line(), [&] {
    hotwater::check(system);
    hotwater::check(plant);
  });
  return package;
}

template <class Items, class Id>
void refuse_twin(const Section& section, std::string_view key, const Items& items, const std::string& id, Id id_of) {
  for (const auto& item : items) {
    if (id_of(item) == id)
      section.fail<errors::DuplicateName>(key, fmt::format("\"{}\"", shown(id)), "stands twice", "each once");
  }
}

Program parse_checked(std::string_view content, const std::string& file, const Catalog& catalog) {
  const toml::table root = parse(content, file);
  const Section top(
      &root, "", file,
      {"economics", "prices", "income", "place", "package", "incentive", "loan", "decision", "suitability", "heater"});
  Program program;
  program.title = top.text_of("title");
  program.note = top.text_of("note");
  program.install_date = *top.maybe_date("install_date");
  program.study_years = top.whole_of("study_years");
  program.state = top.text_of("state");
  if (!program.state.empty() && !is_state(program.state)) {
    top.fail<errors::UnknownName>("state", fmt::format("\"{}\"", shown(program.state)), "is no state",
                                  "two capital letters, for example CO");
  }

  if (!top.has("economics"))
    throw errors::MissingValue(
        {{file, {}, {}, "economics"}, "", "is missing", "a table [economics] with a discount rate and inflation_rate"});
  const Section economics(top.table("economics"), "economics", file);
  program.inflation_rate = economics.number_of("inflation_rate");
  const std::string_view rate = economics.only_one({"nominal_discount_rate", "real_discount_rate"});
  program.nominal_discount_rate = economics.number_of(rate);
  if (rate == "real_discount_rate")
    program.nominal_discount_rate = nominal_from_real(program.nominal_discount_rate, program.inflation_rate);

  static constexpr std::array<std::string_view, prices::fuel_count> price_tables{
      "prices.electricity", "prices.natural_gas", "prices.propane", "prices.heating_oil"};
  const Section prices_section(top.table("prices"), "prices", file,
                               {"electricity", "natural_gas", "propane", "heating_oil"});
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const Section section(prices_section.table(prices::name_of(fuel)), price_tables.at(slot), file);
    if (const auto usd = section.maybe_number("usd_per_unit")) {
      program.prices[slot] = prices::Price{*usd, section.text_of("source")};
      if (program.prices[slot]->source.empty())
        section.fail<errors::MissingValue>("source", "", "is missing", "where the price is from");
    } else if (section.has("source")) {
      section.fail<errors::Contradiction>("source", "", "is given without usd_per_unit", "both or neither");
    }
    const std::string_view escalation = section.only_one({"nominal_escalation", "real_escalation"}, false);
    const double yearly = escalation.empty() ? 0 : section.number_of(escalation);
    program.escalation[slot].yearly_rate =
        escalation == "nominal_escalation" ? yearly : nominal_from_real(yearly, program.inflation_rate);
  }

  if (!top.has("income"))
    throw errors::MissingValue(
        {{file, {}, {}, "income"}, "", "is missing", "a table [income] with area_median_income_usd and source"});
  const Section income(top.table("income"), "income", file, {"tier"});
  program.income.area_median_income_usd = income.number_of("area_median_income_usd");
  program.income.round_to_usd = income.whole_of("round_to_usd");
  program.income.rounding =
      std::array{incentives::LimitRounding::nearest, incentives::LimitRounding::up}.at(income.choice_of("rounding"));
  program.income.source = income.text_of("source");
  for (const toml::table* table : income.tables("tier")) {
    const Section section(table, "[[income.tier]]", file, {}, income.line());
    incentives::IncomeTier tier{section.text_of("name"), section.number_of("most_share"),
                                section.flag_of("includes_edge")};
    refuse_twin(section, "name", program.income.tiers, tier.name, [](const auto& other) { return other.name; });
    if (!program.income.tiers.empty() && tier.most_share <= program.income.tiers.back().most_share) {
      section.fail<errors::Contradiction>("most_share", errors::plain_number(tier.most_share),
                                          fmt::format("does not rise above {} of the tier before it",
                                                      errors::plain_number(program.income.tiers.back().most_share)),
                                          "shares that rise from tier to tier");
    }
    program.income.tiers.push_back(std::move(tier));
  }

  for (const toml::table* table : top.tables("place")) {
    const Section section(table, "[[place]]", file);
    NamedPlace place{section.text_of("name"), section.number_of("latitude_deg"), section.number_of("longitude_deg")};
    refuse_twin(section, "name", program.places, place.name, [](const auto& other) { return other.name; });
    program.places.push_back(std::move(place));
  }

  for (const toml::table* table : top.tables("package")) {
    const Section section(table, "[[package]]", file, {"upkeep"});
    Package package = read_package(section, catalog);
    refuse_twin(section, "id", program.packages, package.id, [](const auto& other) { return other.id; });
    program.packages.push_back(std::move(package));
  }
  if (program.packages.empty())
    throw errors::MissingValue({{file, {}, {}, "package"}, "", "is missing", "one [[package]] or more"});

  std::vector<FoundRule> found;
  for (const toml::table* table : top.tables("incentive")) found.push_back(read_rule(*table, file, 0));
  for (const std::string& name : top.list_of("jurisdictions")) {
    const auto at = catalog.jurisdictions.find(name);
    if (at == catalog.jurisdictions.end()) {
      std::vector<std::string> names;
      for (const auto& [known, rules] : catalog.jurisdictions) names.push_back(known);
      const std::string nearest = errors::nearest_name(name, names);
      top.fail<errors::UnknownName>(
          "jurisdictions", fmt::format("\"{}\"", shown(name)),
          nearest.empty() ? "is not known" : fmt::format("is not known (did you mean {}?)", nearest),
          fmt::format("{}", fmt::join(names, ", ")));
    }
    for (const incentives::Rule& rule : at->second)
      found.push_back({rule, {}, file, top.line_of_key("jurisdictions"), top.line_of_key("jurisdictions"), 0});
  }
  program.rules = linked(std::move(found));

  for (const toml::table* table : top.tables("loan")) {
    const Section section(table, "[[loan]]", file);
    loans::LoanTerms loan;
    loan.id = section.text_of("id");
    loan.title = section.text_of("title");
    loan.yearly_rate = section.number_of("yearly_rate");
    loan.term_months = section.whole_of("term_months");
    loan.largest_usd = section.maybe_number("largest_usd").value_or(loan.largest_usd);
    loan.rounding =
        std::array{money::Rounding::half_up, money::Rounding::half_even, money::Rounding::up, money::Rounding::down}.at(
            section.choice_of("rounding"));
    refuse_twin(section, "id", program.loans, loan.id, [](const auto& other) { return other.id; });
    located(file, section.line(), [&] { loans::check(loan); });
    program.loans.push_back(std::move(loan));
  }

  const Section decision(top.table("decision"), "decision", file);
  program.decision.longest_simple_payback_years = decision.maybe_number("longest_simple_payback_years");
  program.decision.longest_discounted_payback_years = decision.maybe_number("longest_discounted_payback_years");
  program.decision.least_net_savings_usd = decision.maybe_number("least_net_savings_usd");
  program.decision.least_savings_to_investment = decision.maybe_number("least_savings_to_investment");
  program.decision.largest_extra_help_usd = decision.number_of("largest_extra_help_usd");
  // A program that sets no threshold asks at least that the system does not cost more than it saves.
  if (!has_threshold(program.decision)) program.decision.least_net_savings_usd = 0;

  const Section suitability(top.table("suitability"), "suitability", file);
  program.suitability.most_degrees_off_south = suitability.number_of("most_degrees_off_south");
  program.suitability.most_shading_share = suitability.number_of("most_shading_share");
  program.suitability.least_occupants_for_glycol = suitability.whole_of("least_occupants_for_glycol");
  program.suitability.renters_served = suitability.flag_of("renters_served");

  const Section heater(top.table("heater"), "heater", file);
  program.heater_life_years = heater.number_of("life_years");
  program.heater_replacement_usd = heater.number_of("replacement_usd");

  located(file, 0, [&] { check(program); });
  return program;
}

const Spec& spec_named(std::string_view table, std::string_view name) {
  return *std::find_if(specs.begin(), specs.end(),
                       [&](const Spec& spec) { return spec.table == table && spec.name == name; });
}

}  // namespace

Program read_program(const std::filesystem::path& file, const Catalog& catalog) {
  return parse_checked(read_utf8(file), file.string(), catalog);
}

Program parse_program(std::string_view content, std::string_view name, const Catalog& catalog) {
  return parse_checked(content, std::string(name), catalog);
}

std::vector<incentives::Rule> parse_rules(std::string_view content, std::string_view name) {
  const std::string file(name);
  const toml::table root = parse(content, file);
  const Section top(&root, rules_file, file, {"incentive"});
  std::vector<FoundRule> found;
  for (const toml::table* table : top.tables("incentive")) found.push_back(read_rule(*table, file, 0));
  return linked(std::move(found));
}

std::span<const ProgramKey> program_keys() {
  static const std::vector<std::string> allowed = [] {
    std::vector<std::string> out;
    for (const Spec& spec : specs) out.push_back(allowed_of(spec));
    return out;
  }();
  static const std::vector<ProgramKey> keys = [] {
    static constexpr std::array<std::string_view, 6> type_names{"text", "number",        "whole number",
                                                                "date", "true or false", "list of text"};
    std::vector<ProgramKey> out;
    for (std::size_t i = 0; i < specs.size(); ++i) {
      out.push_back({specs[i].table, specs[i].name, type_names.at(static_cast<std::size_t>(specs[i].type)), allowed[i],
                     specs[i].default_text, specs[i].meaning});
    }
    return out;
  }();
  return keys;
}

std::string program_keys_markdown() {
  std::string out;
  std::string_view table = "-";
  for (const ProgramKey& key : program_keys()) {
    if (key.table != table) {
      table = key.table;
      const std::string title = table.empty()            ? "Top of the file"
                                : table.starts_with('[') ? fmt::format("`{}`", table)
                                                         : fmt::format("`[{}]`", table);
      out +=
          fmt::format("{}### {}\n\n| key | type | allowed | if left out | meaning |\n| --- | --- | --- | --- | --- |\n",
                      out.empty() ? "" : "\n", title);
    }
    out +=
        fmt::format("| `{}` | {} | {} | {} | {} |\n", key.name, key.type, key.allowed, key.default_text, key.meaning);
  }
  return out;
}

void check(const Program& program) {
  const auto in_range = [](std::string_view table, std::string_view name, double value) {
    const Spec& spec = spec_named(table, name);
    errors::require_in_range(path_of(table, name), value, spec.low, spec.high, spec.unit);
  };
  const auto not_blank = [](std::string_view key, const std::string& value) {
    if (is_blank(value)) throw errors::MissingValue({{"", {}, {}, std::string(key)}, "", "is missing", "text"});
  };
  not_blank("title", program.title);
  if (!program.install_date.ok() || dates::year_of(program.install_date) < first_year ||
      dates::year_of(program.install_date) > last_year) {
    throw errors::ValueOutOfRange({{"", {}, {}, "install_date"},
                                   dates::iso(program.install_date),
                                   "is out of range",
                                   "2000-01-01 to 2100-12-31"});
  }
  in_range("", "study_years", program.study_years);
  in_range("economics", "inflation_rate", program.inflation_rate);
  // A real rate at its limit may give a nominal one beyond the limit of nominal rates: only "above -1" must hold.
  errors::require_in_range("economics.nominal_discount_rate", program.nominal_discount_rate, -0.9, 2, share);
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const std::string table = fmt::format("prices.{}", prices::name_of(fuel));
    errors::require_in_range(path_of(table, "nominal_escalation"), program.escalation[slot].yearly_rate, -0.9, 2,
                             share);
    if (program.prices[slot]) in_range(table, "usd_per_unit", program.prices[slot]->usd_per_unit);
  }
  in_range("income", "area_median_income_usd", program.income.area_median_income_usd);
  in_range("income", "round_to_usd", program.income.round_to_usd);
  for (const incentives::IncomeTier& tier : program.income.tiers) {
    not_blank("income.tier.name", tier.name);
    in_range("[[income.tier]]", "most_share", tier.most_share);
  }
  for (const NamedPlace& place : program.places) {
    not_blank("place.name", place.name);
    in_range("[[place]]", "latitude_deg", place.latitude_deg);
    in_range("[[place]]", "longitude_deg", place.longitude_deg);
  }
  if (program.packages.empty())
    throw errors::MissingValue({{"", {}, {}, "package"}, "", "is missing", "one package or more"});
  for (const Package& package : program.packages) {
    not_blank("package.id", package.id);
    hotwater::check(package.system);
    hotwater::check(package.plant);
    in_range("[[package]]", "material_usd", package.material_usd);
    in_range("[[package]]", "labor_usd", package.labor_usd);
    in_range("[[package]]", "least_occupants", package.least_occupants);
    in_range("[[package]]", "most_occupants", package.most_occupants);
    in_range("[[package]]", "life_years", package.life_years);
    for (const prices::Upkeep& upkeep : package.upkeep) {
      in_range("[[package.upkeep]]", "usd", upkeep.usd);
      in_range("[[package.upkeep]]", "first_year", upkeep.first_year);
      in_range("[[package.upkeep]]", "every_years", upkeep.every_years);
    }
  }
  (void)incentives::Stack(program.rules);  // refuses rules that name each other in a circle
  for (const loans::LoanTerms& loan : program.loans) {
    not_blank("loan.id", loan.id);
    loans::check(loan);
  }
  const DecisionRules& decision = program.decision;
  const auto maybe_in_range = [&](std::string_view name, const std::optional<double>& value) {
    if (value) in_range("decision", name, *value);
  };
  if (!has_threshold(decision)) {
    throw errors::MissingValue({{"", {}, {}, "decision"}, "", "sets no threshold", "one threshold or more"});
  }
  maybe_in_range("longest_simple_payback_years", decision.longest_simple_payback_years);
  maybe_in_range("longest_discounted_payback_years", decision.longest_discounted_payback_years);
  maybe_in_range("least_net_savings_usd", decision.least_net_savings_usd);
  maybe_in_range("least_savings_to_investment", decision.least_savings_to_investment);
  in_range("decision", "largest_extra_help_usd", decision.largest_extra_help_usd);
  in_range("suitability", "most_degrees_off_south", program.suitability.most_degrees_off_south);
  in_range("suitability", "most_shading_share", program.suitability.most_shading_share);
  in_range("suitability", "least_occupants_for_glycol", program.suitability.least_occupants_for_glycol);
  in_range("heater", "life_years", program.heater_life_years);
  in_range("heater", "replacement_usd", program.heater_replacement_usd);
}

}  // namespace warmledger::catalog
