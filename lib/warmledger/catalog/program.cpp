#include "warmledger/catalog/program.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "warmledger/catalog/files.hpp"
#include "warmledger/catalog/program_reader.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

namespace {

bool is_state(std::string_view code) {
  // USPS codes of the states, the District of Columbia and the territories.
  static constexpr std::string_view codes =
      "AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK "
      "OR PA RI SC "
      "SD TN TX UT VT VA WA WV WI WY AS GU MP PR VI";
  return code.size() == 2 && code.find(' ') == std::string_view::npos && codes.find(code) != std::string_view::npos &&
         codes.find(code) % 3 == 0;
}

Program parse_checked(std::string_view content, const std::string& file, const Catalog& catalog) {
  const toml::table root = parse_toml(content, file);
  const Section top(
      &root, "", file,
      {"economics", "prices", "income", "place", "package", "incentive", "loan", "decision", "suitability", "heater",
       "cost_tests", "pool", "as_if", "as_if_prices", "tax", "tariff", "own_bills"});
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

  read_prices(top, catalog, program);
  read_income(top, catalog, program);

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

  for (const toml::table* table : top.tables("loan")) {
    const Section section(table, "[[loan]]", file);
    loans::LoanTerms loan = read_loan(section);
    refuse_twin(section, "id", program.loans, loan.id, [](const auto& other) { return other.id; });
    program.loans.push_back(std::move(loan));
  }
  read_incentives(top, catalog, program);

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
  read_cost_tests(top, program);

  located(file, 0, [&] { check(program); });
  return program;
}

}  // namespace

Program read_program(const std::filesystem::path& file, const Catalog& catalog) {
  return parse_checked(read_utf8(file), file.string(), catalog);
}

Program parse_program(std::string_view content, std::string_view name, const Catalog& catalog) {
  return parse_checked(content, std::string(name), catalog);
}

}  // namespace warmledger::catalog
