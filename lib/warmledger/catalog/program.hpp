// Program: what a program manager writes in a TOML file: dates, rates, packages, incentives, loans and thresholds.
#pragma once

#include <array>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/dates/dates.hpp"
#include "warmledger/economics/cost_tests.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/hotwater/system.hpp"
#include "warmledger/incentives/income.hpp"
#include "warmledger/incentives/pool.hpp"
#include "warmledger/incentives/rule.hpp"
#include "warmledger/incentives/tax.hpp"
#include "warmledger/loans/terms.hpp"
#include "warmledger/prices/fuels.hpp"
#include "warmledger/prices/tariff.hpp"
#include "warmledger/prices/upkeep.hpp"

namespace warmledger::catalog {

/// A place name that sheets of this program use, and where it lies.
struct NamedPlace {
  std::string name;
  double latitude_deg = 0;
  double longitude_deg = 0;
};

/// An offer: a solar system with its installed cost and upkeep.
struct Package {
  std::string id;
  std::string title;
  hotwater::SolarSystem system;  ///< tilt, azimuth and shading come from the household's roof
  hotwater::Plant plant;         ///< for the hourly method; lift comes from the household where it says
  double material_usd = 0;
  double labor_usd = 0;
  int least_occupants = 1;  ///< the program offers it to households of this size
  int most_occupants = 20;
  int life_years = 20;  ///< for the remaining value at the end of the study
  std::vector<prices::Upkeep> upkeep;
  std::string certification;  ///< of the equipment, by whom; empty: none is stated

  [[nodiscard]] double installed_cost_usd() const { return material_usd + labor_usd; }
};

/// When a household counts as served well. Every threshold that is set must be met; at least one is set.
struct DecisionRules {
  std::optional<double> longest_simple_payback_years;
  std::optional<double> longest_discounted_payback_years;
  std::optional<double> least_net_savings_usd;
  std::optional<double> least_savings_to_investment;  ///< above 0
  double largest_extra_help_usd = 0;  ///< most the program would add beyond its incentives; more means "does not pay"
};

/// When a roof or household does not suit a solar water heater (common practice; each can be changed).
struct SuitabilityRules {
  double most_degrees_off_south = 30;
  double most_shading_share = 0.3;
  int least_occupants_for_glycol = 3;  ///< fewer people leave a pressurized glycol loop stagnating in summer
  bool renters_served = false;         ///< a renter needs the owner's consent, and the owner pays
};

/// What the cost tests of a program need (economics/cost_tests.hpp). What is not given is not guessed: a test that
/// needs it has no result, and says so.
struct CostTestRules {
  /// Of a sold unit of a fuel, in dollars of year 1.
  struct Supply {
    std::optional<double> avoided_usd_per_unit;  ///< what a unit not supplied saves its supplier
    std::string source;
    double yearly_escalation = 0;     ///< nominal, of both amounts
    double outside_usd_per_unit = 0;  ///< good to people outside the deal of a unit not used, beyond CO2
  };
  std::array<Supply, prices::fuel_count> supply{};                  ///< indexed by Fuel
  double administration_usd_per_household = 0;                      ///< on the install date
  std::array<double, economics::cost_test_count> discount_rates{};  ///< yearly, nominal, in the order of CostTest
  double co2_usd_per_tonne = 0;                                     ///< damage of a metric ton in year 1
  std::string co2_source;
  double co2_yearly_escalation = 0;  ///< nominal
};

struct Program {
  std::string title;
  std::string note;  ///< shown in every output, for example that the county is invented
  dates::Date install_date{};
  int study_years = 20;                                                   ///< 1 to 50
  double nominal_discount_rate = 0;                                       ///< yearly, of money of the day; above -1
  double inflation_rate = 0;                                              ///< yearly
  std::array<prices::Escalation, prices::fuel_count> escalation{};        ///< nominal, indexed by Fuel
  std::array<std::optional<prices::Price>, prices::fuel_count> prices{};  ///< local prices; empty: data/prices.csv
  std::string state;  ///< two letters: which row of data/prices.csv; empty: the US row
  incentives::IncomeRules income;
  std::vector<NamedPlace> places;
  std::vector<Package> packages;        ///< one or more
  std::vector<incentives::Rule> rules;  ///< of the program file and of the jurisdictions it names
  std::vector<loans::LoanTerms> loans;
  DecisionRules decision;
  SuitabilityRules suitability;
  double heater_life_years = 13;  ///< age at which an existing heater is replaced, in both worlds
  double heater_replacement_usd = 1500;
  incentives::TaxRules tax;
  std::vector<incentives::Pool> pools;      ///< money that runs out, in the order in which it is spent
  std::optional<CostTestRules> cost_tests;  ///< none: no tests are asked for
  std::array<std::shared_ptr<const prices::RateTable>, prices::fuel_count> tariffs{};  ///< instead of prices
  std::array<std::optional<double>, prices::fuel_count> as_if_prices{};  ///< a what-if: instead of every other price
  std::vector<std::string> as_if;     ///< every what-if in words: rules that are not the law, prices that do not hold
  double least_own_bill_scale = 0.5;  ///< bounds within which a household's own bill scales its simulated energy: a
  double most_own_bill_scale = 2;     ///< choice of this project
};

/// Reads a program file. Every key is checked: an unknown key, a wrong type, a value out of range, an unknown name or
/// a syntax error throws with file, line, key, the value found and what is allowed (for a key: the nearest known one).
/// `catalog` gives equipment named in packages and the rules of named jurisdictions.
[[nodiscard]] Program read_program(const std::filesystem::path& file, const Catalog& catalog);
/// The same from text; `name` stands for the file in errors.
[[nodiscard]] Program parse_program(std::string_view content, std::string_view name, const Catalog& catalog);

/// One key of a program file, for its documentation.
struct ProgramKey {
  std::string_view table;  ///< "" for the top, "economics", "[[package]]", ...
  std::string_view name;
  std::string_view type;  ///< "text", "number", "whole number", "date", "true or false", "list of text"
  std::string_view allowed;
  std::string_view default_text;  ///< "required" or the default
  std::string_view meaning;
};
[[nodiscard]] std::span<const ProgramKey> program_keys();
[[nodiscard]] std::string program_keys_markdown();

/// Throws ValueOutOfRange or MissingValue if a program made in code is not one that read_program would accept.
void check(const Program& program);

}  // namespace warmledger::catalog
