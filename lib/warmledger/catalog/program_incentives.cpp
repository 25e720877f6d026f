#include "warmledger/catalog/program_reader.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::catalog {

namespace {

using incentives::Basis;
using incentives::Kind;
using incentives::Rule;

/// A key's word as the enumerator at the same place: the words of the key table stand in the enumeration's order.
template <class E>
E word_of(const Section& section, std::string_view name) {
  return static_cast<E>(section.choice_of(name));
}

template <class E>
void words_of(const Section& section, std::string_view name, std::vector<E>& out, std::size_t first = 0) {
  for (const std::size_t i : section.choices_of(name)) out.push_back(static_cast<E>(i + first));
}

void read_amount(const Section& section, Rule& rule) {
  if (rule.kind == Kind::loan) {
    for (const std::string_view key : {"flat_usd", "share_of_cost", "usd_per_ft2", "usd_per_first_year_kwh",
                                       "usd_per_first_year_therm", "share_of_tax", "to_yearly_rate"}) {
      if (section.has(key))
        section.fail<errors::Contradiction>(key, "", "stands in a rule of kind loan, which has no amount",
                                            "no such key: the loan's terms stand in [[loan]]");
    }
    return;
  }
  const std::string_view key = section.only_one({"flat_usd", "share_of_cost", "usd_per_ft2", "usd_per_first_year_kwh",
                                                 "usd_per_first_year_therm", "share_of_tax", "to_yearly_rate"});
  rule.amount = section.number_of(key);
  if (key == "flat_usd") rule.basis = Basis::flat_usd;
  if (key == "share_of_cost") rule.basis = Basis::share_of_cost;
  if (key == "usd_per_first_year_kwh") rule.basis = Basis::usd_per_first_year_kwh;
  if (key == "usd_per_first_year_therm") rule.basis = Basis::usd_per_first_year_therm;
  if (key == "share_of_tax") rule.basis = Basis::share_of_tax;
  if (key == "to_yearly_rate") rule.basis = Basis::rate;
  if (key == "usd_per_ft2") {
    rule.basis = Basis::usd_per_m2;
    rule.amount /= units::m2_per_ft2;
  }
  rule.part = word_of<incentives::CostPart>(section, "part");
  rule.cap_usd = section.maybe_number("cap_usd");
  rule.cap_share_of_cost = section.maybe_number("cap_share_of_cost");
  rule.yearly_cap_usd = section.maybe_number("yearly_cap_usd");
  rule.most_share_of_liability = section.maybe_number("most_share_of_liability");
  rule.yearly_shares = section.numbers_of("yearly_shares");
  rule.payment_count = section.whole_of("payment_count");
  rule.payment_step_months = section.whole_of("payment_step_months");
  if (section.has("years")) rule.years = section.whole_of("years");
  rule.tax_rate = section.maybe_number("tax_rate");
}

/// A band's upper end must not lie below its lower one; said here because here the key's line is known.
void read_band(const Section& section, std::string_view least_key, std::optional<double>& least,
               std::string_view most_key, std::optional<double>& most) {
  least = section.maybe_number(least_key);
  most = section.maybe_number(most_key);
  if (least && most && *most < *least) {
    section.fail<errors::Contradiction>(most_key, errors::plain_number(*most),
                                        fmt::format("is below {} {}", least_key, errors::plain_number(*least)),
                                        fmt::format("at or above {}", least_key));
  }
}

void read_eligibility(const Section& section, Rule& rule) {
  rule.date_basis = word_of<incentives::DateBasis>(section, "date_basis");
  rule.valid_from = section.maybe_date("valid_from");
  rule.valid_to = section.maybe_date("valid_to");
  if (rule.valid_from && rule.valid_to && *rule.valid_to < *rule.valid_from) {
    section.fail<errors::Contradiction>("valid_to", dates::iso(*rule.valid_to),
                                        "is before valid_from " + dates::iso(*rule.valid_from),
                                        "a date on or after valid_from");
  }
  read_band(section, "least_income_share", rule.least_income_share, "most_income_share", rule.most_income_share);
  read_band(section, "least_poverty_multiple", rule.least_poverty_multiple, "most_poverty_multiple",
            rule.most_poverty_multiple);
  read_band(section, "least_income_usd", rule.least_income_usd, "most_income_usd", rule.most_income_usd);
  for (const std::size_t i : section.choices_of("income_waived_by")) rule.income_waived_by.set(i);
  words_of(section, "tenures", rule.tenures);
  for (const std::size_t i : section.choices_of("fuels")) rule.fuels.push_back(prices::all_fuels.at(i));
  words_of(section, "filing_statuses", rule.filing_statuses);
  words_of(section, "installers", rule.installers);
  words_of(section, "equipment", rule.equipment);
  rule.least_solar_share = section.maybe_number("least_solar_share");
  rule.needs_certification = section.flag_of("needs_certification");
  rule.existing_home_only = section.flag_of("existing_home_only");
  rule.whole_cost_from_home_share = section.maybe_number("whole_cost_from_home_share").value_or(0);
}

void read_arrival(const Section& section, Rule& rule) {
  using incentives::Arrival;
  rule.arrival = section.has("arrival")          ? word_of<Arrival>(section, "arrival")
                 : incentives::is_tax(rule.kind) ? Arrival::tax_filing
                                                 : Arrival::install;
  if (rule.arrival == Arrival::months_after) {
    rule.arrival_months = section.whole_of("arrival_months");
  } else if (section.has("arrival_months")) {
    section.fail<errors::Contradiction>("arrival_months", "", "is given but arrival is not months_after",
                                        "no such key, or arrival = \"months_after\"");
  }
}

void read_tax(const Section& section, Rule& rule) {
  using incentives::Payer;
  if (!incentives::is_tax(rule.kind)) {
    if (section.has("tax"))
      section.fail<errors::Contradiction>(
          "tax", "", fmt::format("belongs to a credit or deduction, and this is a {}", incentives::name_of(rule.kind)),
          R"(no such key, or kind = "credit" or "deduction")");
  } else if (!section.has("tax")) {
    section.fail<errors::MissingValue>("tax", "", "is missing", "federal, state, local: whose income tax it lowers");
  } else {
    rule.tax = word_of<incentives::Tax>(section, "tax");
  }
  if (section.has("paid_by")) {
    rule.paid_by = word_of<Payer>(section, "paid_by");
  } else if (incentives::is_tax(rule.kind)) {
    rule.paid_by = std::array{Payer::federal, Payer::state, Payer::local}.at(static_cast<std::size_t>(rule.tax));
  }
  rule.refundable = section.flag_of("refundable");
  rule.carryforward_years = section.whole_of("carryforward_years");
  rule.carries = word_of<incentives::Carries>(section, "carries");
  if (rule.kind != Kind::credit) {
    for (const std::string_view name : {"refundable", "carryforward_years", "carries"}) {
      if (section.has(name))
        section.fail<errors::Contradiction>(
            name, "", fmt::format("belongs to a credit, and this is a {}", incentives::name_of(rule.kind)),
            "no such key, or kind = \"credit\"");
    }
  }
}

/// The line of the key that incentives::check() complains of: its place reads "incentive ID, KEY".
long line_of_member(const Section& section, const Rule& rule) {
  try {
    incentives::check(rule);
  } catch (const errors::Error& error) {
    const std::string& place = error.problem().where.key;
    const std::size_t start = place.find(rule.id + ", ");
    if (start != std::string::npos) {
      const std::string member = place.substr(start + rule.id.size() + 2);
      return section.line_of_key(std::string_view(member).substr(0, member.find(',')));
    }
  }
  return section.line();
}

}  // namespace

FoundRule read_rule(const toml::table& table, const std::string& file, long parent_line) {
  const Section section(&table, "[[incentive]]", file, {}, parent_line);
  FoundRule found;
  Rule& rule = found.rule;
  found.file = file;
  found.line = section.line();
  rule.id = section.text_of("id");
  rule.title = section.text_of("title");
  rule.payer = section.text_of("payer");
  rule.citation = section.text_of("citation");
  rule.standing = word_of<incentives::Standing>(section, "standing");
  rule.kind = word_of<Kind>(section, "kind");
  rule.version_of = section.text_of("version_of");
  read_tax(section, rule);
  read_amount(section, rule);
  read_eligibility(section, rule);
  read_arrival(section, rule);
  rule.treatment = word_of<incentives::Treatment>(section, "treatment");
  words_of(section, "base_less_treatments", rule.base_less_treatments, 1);  // all but none
  words_of(section, "base_less_kinds", rule.base_less_kinds);
  rule.one_of = section.text_of("one_of");
  rule.pool = section.text_of("pool");
  rule.loan = section.text_of("loan");
  rule.base_less = section.list_of("base_less");
  rule.not_with = section.list_of("not_with");
  found.lowers_base_of = section.list_of("lowers_base_of");
  found.base_less_line = section.line_of_key("base_less");
  found.lowers_line = section.line_of_key("lowers_base_of");
  found.not_with_line = section.line_of_key("not_with");
  found.version_line = section.line_of_key("valid_from");
  found.pool_line = section.line_of_key("pool");
  found.loan_line = section.line_of_key("loan");
  located(file, line_of_member(section, rule), [&] { incentives::check(rule); });
  return found;
}

namespace {

void refuse_twins(const std::vector<FoundRule>& found) {
  for (std::size_t i = 0; i < found.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (found[j].rule.id != found[i].rule.id) continue;
      throw errors::DuplicateName({{found[i].file, known_line(found[i].line), {}, "incentive.id"},
                                   fmt::format("\"{}\"", found[i].rule.id),
                                   "stands twice",
                                   "each id once, those of the jurisdictions included"});
    }
  }
}

/// Versions of one rule hold one after the other.
void refuse_overlaps(const std::vector<FoundRule>& found) {
  const auto from = [](const Rule& rule) { return rule.valid_from.value_or(dates::make_date(1, 1, 1)); };
  const auto to = [](const Rule& rule) { return rule.valid_to.value_or(dates::make_date(9999, 12, 31)); };
  for (std::size_t i = 0; i < found.size(); ++i) {
    const Rule& late = found[i].rule;
    if (late.version_of.empty()) continue;
    for (std::size_t j = 0; j < i; ++j) {
      const Rule& early = found[j].rule;
      if (early.version_of != late.version_of || from(late) > to(early) || from(early) > to(late)) continue;
      throw errors::Contradiction(
          {{found[i].file, known_line(found[i].version_line), {}, "incentive.valid_from"},
           fmt::format("\"{}\"", late.id),
           fmt::format("holds at the same time as {}, another version of {}", early.id, late.version_of),
           "versions whose dates do not overlap"});
    }
  }
}

}  // namespace

std::vector<Rule> linked(std::vector<FoundRule> found) {
  refuse_twins(found);
  refuse_overlaps(found);
  // Rules that a name means: the one with that id, or the versions of that name.
  const auto meant = [&](const FoundRule& one, const std::string& name, std::string_view key, long line) {
    std::vector<std::size_t> out;
    std::vector<std::string> names;
    for (std::size_t i = 0; i < found.size(); ++i) {
      const Rule& rule = found[i].rule;
      names.push_back(rule.id);
      if (!rule.version_of.empty() && std::find(names.begin(), names.end(), rule.version_of) == names.end())
        names.push_back(rule.version_of);
      const bool itself = &found[i] == &one;
      if (!itself && (rule.id == name || rule.version_of == name)) out.push_back(i);
    }
    if (!out.empty()) return out;
    const bool itself = name == one.rule.id || name == one.rule.version_of;
    const std::string nearest = errors::nearest_name(name, names);
    throw errors::UnknownName({{one.file, known_line(line), {}, path_of("incentive", key)},
                               fmt::format("\"{}\"", name),
                               itself            ? "is the incentive itself"
                               : nearest.empty() ? "is no incentive"
                                                 : fmt::format("is no incentive (did you mean {}?)", nearest),
                               fmt::format("ids of other incentives: {}", fmt::join(names, ", "))});
  };
  const auto resolve = [&](const FoundRule& one, std::vector<std::string>& list, std::string_view key, long line) {
    std::vector<std::string> ids;
    for (const std::string& name : list) {
      for (const std::size_t i : meant(one, name, key, line)) {
        if (std::find(ids.begin(), ids.end(), found[i].rule.id) == ids.end()) ids.push_back(found[i].rule.id);
      }
    }
    list = std::move(ids);
  };
  for (FoundRule& one : found) {
    resolve(one, one.rule.base_less, "base_less", one.base_less_line);
    resolve(one, one.rule.not_with, "not_with", one.not_with_line);
  }
  for (const FoundRule& one : found) {
    for (const std::string& name : one.lowers_base_of) {
      for (const std::size_t i : meant(one, name, "lowers_base_of", one.lowers_line)) {
        std::vector<std::string>& base_less = found[i].rule.base_less;
        if (std::find(base_less.begin(), base_less.end(), one.rule.id) == base_less.end())
          base_less.push_back(one.rule.id);
      }
    }
  }
  std::vector<Rule> rules;
  rules.reserve(found.size());
  for (FoundRule& one : found) rules.push_back(std::move(one.rule));
  return rules;
}

namespace {

std::vector<FoundRule> rules_of_jurisdictions(const Section& top, const Catalog& catalog) {
  std::vector<FoundRule> found;
  const long line = top.line_of_key("jurisdictions");
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
    for (const Rule& rule : at->second)
      found.push_back({rule, {}, top.file(), line, line, line, line, line, line, line});
  }
  return found;
}

/// A what-if: the rule with other dates, and a label that says so wherever the rule is shown.
void apply_as_if(const Section& section, std::vector<FoundRule>& found) {
  const std::string id = section.text_of("rule");
  const auto at = std::find_if(found.begin(), found.end(), [&](const FoundRule& f) { return f.rule.id == id; });
  if (at == found.end()) {
    std::vector<std::string> ids;
    for (const FoundRule& one : found) ids.push_back(one.rule.id);
    const std::string nearest = errors::nearest_name(id, ids);
    section.fail<errors::UnknownName>(
        "rule", fmt::format("\"{}\"", shown(id)),
        nearest.empty() ? "is no incentive" : fmt::format("is no incentive (did you mean {}?)", nearest),
        fmt::format("{}", fmt::join(ids, ", ")));
  }
  Rule& rule = at->rule;
  if (!rule.as_if.empty())
    section.fail<errors::DuplicateName>("rule", fmt::format("\"{}\"", id), "stands twice", "one [[as_if]] a rule");
  const auto from = section.maybe_date("valid_from");
  const auto to = section.maybe_date("valid_to");
  if (!from && !to)
    section.fail<errors::MissingValue>("valid_to", "", "is missing", "one or both of valid_from, valid_to");
  const auto change = [](std::string_view what, const std::optional<dates::Date>& was, dates::Date now) {
    return fmt::format("{} {} (by its citation {})", what, dates::iso(now), was ? dates::iso(*was) : "none is set");
  };
  std::vector<std::string> changes;
  if (from) changes.push_back(change("valid_from", rule.valid_from, *from));
  if (to) changes.push_back(change("valid_to", rule.valid_to, *to));
  rule.as_if = fmt::format("what-if, not the law: {}", fmt::join(changes, ", "));
  if (from) rule.valid_from = from;
  if (to) rule.valid_to = to;
  if (rule.valid_from && rule.valid_to && *rule.valid_to < *rule.valid_from) {
    section.fail<errors::Contradiction>("valid_to", dates::iso(*rule.valid_to),
                                        "is before valid_from " + dates::iso(*rule.valid_from),
                                        "a date on or after valid_from");
  }
}

void read_pools(const Section& top, Program& program) {
  for (const toml::table* table : top.tables("pool")) {
    const Section section(table, "[[pool]]", top.file());
    incentives::Pool pool{section.text_of("id"), section.text_of("title"), section.number_of("usd"),
                          word_of<incentives::PoolOrder>(section, "order"), section.flag_of("passes_over")};
    refuse_twin(section, "id", program.pools, pool.id, [](const auto& other) { return other.id; });
    program.pools.push_back(std::move(pool));
  }
}

/// Loans and pools that rules name must be there.
template <class Items>
void require_named(const FoundRule& one, std::string_view key, const std::string& name, long line, const Items& items) {
  if (name.empty()) return;
  std::vector<std::string> ids;
  for (const auto& item : items) ids.push_back(item.id);
  if (std::find(ids.begin(), ids.end(), name) != ids.end()) return;
  const std::string nearest = errors::nearest_name(name, ids);
  throw errors::UnknownName(
      {{one.file, known_line(line), {}, path_of("incentive", key)},
       fmt::format("\"{}\"", shown(name)),
       nearest.empty() ? fmt::format("is no {} of this program", key)
                       : fmt::format("is no {} of this program (did you mean {}?)", key, nearest),
       ids.empty() ? fmt::format("the id of a [[{}]]", key) : fmt::format("{}", fmt::join(ids, ", "))});
}

void read_tax_rules(const Section& top, incentives::TaxRules& tax) {
  const Section section(top.table("tax"), "tax", top.file());
  tax.sales_tax_rate = section.maybe_number("sales_tax_rate");
  tax.property_tax_rate = section.maybe_number("property_tax_rate");
  tax.added_value_share = section.number_of("added_value_share");
  tax.state_rate = section.maybe_number("state_rate");
  tax.state_deduction_usd = section.number_of("state_deduction_usd");
  tax.local_rate = section.maybe_number("local_rate");
  tax.local_deduction_usd = section.number_of("local_deduction_usd");
  tax.subsidies_lower_credit_base = section.flag_of("subsidies_lower_credit_base");
  tax.state_credits_lower_credit_base = section.flag_of("state_credits_lower_credit_base");
  tax.state_credits_lower_itemized_deduction = section.flag_of("state_credits_lower_itemized_deduction");
}

}  // namespace

namespace {

/// All packages of a program are solar water heaters: an incentive for something else would pay for what nobody
/// installs.
void refuse_other_equipment(const FoundRule& one) {
  const auto& equipment = one.rule.equipment;
  if (equipment.empty()) return;
  if (std::find(equipment.begin(), equipment.end(), incentives::Equipment::solar_water_heater) != equipment.end())
    return;
  throw errors::Contradiction({{one.file, known_line(one.line), {}, path_of("incentive", "equipment")},
                               fmt::format("\"{}\"", one.rule.id),
                               fmt::format("is for a {}, and every package of the program is a solar_water_heater",
                                           incentives::name_of(equipment.front())),
                               "incentives for solar water heaters, or for any equipment"});
}

}  // namespace

void read_incentives(const Section& top, const Catalog& catalog, Program& program) {
  std::vector<FoundRule> found;
  for (const toml::table* table : top.tables("incentive")) found.push_back(read_rule(*table, top.file(), 0));
  for (FoundRule& one : rules_of_jurisdictions(top, catalog)) found.push_back(std::move(one));
  for (const toml::table* table : top.tables("as_if")) apply_as_if(Section(table, "[[as_if]]", top.file()), found);
  read_pools(top, program);
  for (const FoundRule& one : found) {
    refuse_other_equipment(one);
    require_named(one, "loan", one.rule.loan, one.loan_line, program.loans);
    require_named(one, "pool", one.rule.pool, one.pool_line, program.pools);
  }
  program.rules = linked(std::move(found));
  for (const Rule& rule : program.rules) {
    if (rule.as_if.empty()) continue;
    if (!program.note.empty()) program.note += ' ';
    program.note += fmt::format("{}: {}.", rule.title, rule.as_if);
    program.as_if.push_back(fmt::format("{}: {}", rule.id, rule.as_if));
  }
  read_tax_rules(top, program.tax);
}

std::vector<Rule> parse_rules(std::string_view content, std::string_view name) {
  const std::string file(name);
  const toml::table root = parse_toml(content, file);
  const Section top(&root, rules_file, file, {"incentive"});
  std::vector<FoundRule> found;
  for (const toml::table* table : top.tables("incentive")) found.push_back(read_rule(*table, file, 0));
  return linked(std::move(found));
}

}  // namespace warmledger::catalog
