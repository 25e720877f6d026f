#include "warmledger/catalog/program_reader.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::catalog {

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

std::vector<incentives::Rule> parse_rules(std::string_view content, std::string_view name) {
  const std::string file(name);
  const toml::table root = parse_toml(content, file);
  const Section top(&root, rules_file, file, {"incentive"});
  std::vector<FoundRule> found;
  for (const toml::table* table : top.tables("incentive")) found.push_back(read_rule(*table, file, 0));
  return linked(std::move(found));
}

}  // namespace warmledger::catalog
