// The parts of the program file's reader, one source file a subject. Inside this room only.
#pragma once

#include <string>
#include <vector>

#include "warmledger/catalog/program.hpp"
#include "warmledger/catalog/section.hpp"

namespace warmledger::catalog {

/// The nominal rate of a real one, both yearly (Fisher).
[[nodiscard]] inline double nominal_from_real(double real, double inflation) {
  return (1 + real) * (1 + inflation) - 1;
}

[[nodiscard]] inline bool has_threshold(const DecisionRules& decision) {
  return decision.longest_simple_payback_years || decision.longest_discounted_payback_years ||
         decision.least_net_savings_usd || decision.least_savings_to_investment;
}

/// A rule with where it stands, until the ids it names can be looked up.
struct FoundRule {
  incentives::Rule rule;
  std::vector<std::string> lowers_base_of;
  std::string file;
  long line = 0;
  long base_less_line = 0;
  long lowers_line = 0;
  long not_with_line = 0;
  long version_line = 0;
  long pool_line = 0;
  long loan_line = 0;
};

[[nodiscard]] FoundRule read_rule(const toml::table& table, const std::string& file, long parent_line);
/// The rules with the ids they name looked up; an unknown or repeated id throws with file and line.
[[nodiscard]] std::vector<incentives::Rule> linked(std::vector<FoundRule> found);

/// [[incentive]], jurisdictions, [[as_if]], [[pool]] and [tax]; needs the loans to have been read.
void read_incentives(const Section& top, const Catalog& catalog, Program& program);

[[nodiscard]] Package read_package(const Section& section, const Catalog& catalog);
[[nodiscard]] loans::LoanTerms read_loan(const Section& section);
void read_cost_tests(const Section& top, Program& program);
/// Throws as check(Program) does. Discount rates are left to the tests: a wrong one takes away its own test only.
void check(const CostTestRules& rules);
void read_prices(const Section& top, const Catalog& catalog, Program& program);
void read_income(const Section& top, const Catalog& catalog, Program& program);

}  // namespace warmledger::catalog
