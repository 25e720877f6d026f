#include <array>
#include <limits>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/rule.hpp"

namespace warmledger::incentives {

std::string_view name_of(Kind kind) {
  return kind == Kind::rebate ? "rebate" : "credit";
}

std::string_view name_of(Standing standing) {
  static constexpr std::array<std::string_view, 3> names{"verified", "from memory", "invented"};
  return names.at(static_cast<std::size_t>(standing));
}

std::string_view name_of(Tenure tenure) {
  return tenure == Tenure::owner ? "owner" : "renter";
}

std::string_view name_of(FilingStatus status) {
  static constexpr std::array<std::string_view, 3> names{"single", "joint", "head_of_household"};
  return names.at(static_cast<std::size_t>(status));
}

Tenure tenure_named(std::string_view name) {
  if (name == "owner") return Tenure::owner;
  if (name == "renter") return Tenure::renter;
  throw errors::unknown_name("tenure", name, {"owner", "renter"});
}

FilingStatus filing_status_named(std::string_view name) {
  for (const FilingStatus status : {FilingStatus::single, FilingStatus::joint, FilingStatus::head_of_household}) {
    if (name == name_of(status)) return status;
  }
  throw errors::unknown_name("filing_status", name, {"single", "joint", "head_of_household"});
}

Standing standing_named(std::string_view name) {
  for (const Standing standing : {Standing::verified, Standing::from_memory, Standing::invented}) {
    if (name == name_of(standing)) return standing;
  }
  throw errors::unknown_name("standing", name, {"verified", "from memory", "invented"});
}

void check(const Rule& rule) {
  if (rule.id.empty()) {
    throw errors::MissingValue({{"", {}, {}, "incentive id"}, "", "is missing", "a short unique name"});
  }
  const auto key = [&](std::string_view member) { return fmt::format("incentive {}, {}", rule.id, member); };
  constexpr double most_usd = 1e9;
  switch (rule.basis) {
    case Basis::flat_usd:
      errors::require_in_range(key("flat_usd"), rule.amount, 0, most_usd, "dollars");
      break;
    case Basis::share_of_cost:
      errors::require_in_range(key("share_of_cost"), rule.amount, 0, 1, "(0.3 is 30 %)");
      break;
    case Basis::usd_per_m2:
      errors::require_in_range(key("usd_per_ft2"), rule.amount, 0, 1e5, "dollars");
      break;
    case Basis::usd_per_first_year_kwh:
      errors::require_in_range(key("usd_per_first_year_kwh"), rule.amount, 0, 1e3, "dollars");
      break;
  }
  if (rule.cap_usd) errors::require_in_range(key("cap_usd"), *rule.cap_usd, 0, most_usd, "dollars");
  if (rule.valid_from && rule.valid_to && *rule.valid_to < *rule.valid_from) {
    throw errors::Contradiction({{"", {}, {}, key("valid_to")},
                                 dates::iso(*rule.valid_to),
                                 fmt::format("is before valid_from {}", dates::iso(*rule.valid_from)),
                                 "a date on or after valid_from"});
  }
  const double least = rule.least_income_share.value_or(0);
  errors::require_in_range(key("least_income_share"), least, 0, 100);
  errors::require_in_range(key("most_income_share"), rule.most_income_share.value_or(100), least, 100);
  errors::require_in_range(key("carryforward_years"), rule.carryforward_years, 0, 100, "years");
  errors::require_in_range(key("arrival_months"), rule.arrival_months, 0, 600, "months");
  if (rule.kind == Kind::credit && !rule.refundable && rule.arrival != Arrival::tax_filing) {
    throw errors::Contradiction({{"", {}, {}, key("arrival")},
                                 rule.arrival == Arrival::install ? "install" : "months_after",
                                 "does not go with a credit that is not refundable",
                                 "tax_filing, which is its default"});
  }
  if (rule.kind == Kind::rebate && (rule.refundable || rule.carryforward_years != 0)) {
    throw errors::Contradiction({{"", {}, {}, key("kind")},
                                 "rebate",
                                 "cannot be refundable or carried forward",
                                 "refundable and carryforward_years only with kind = \"credit\""});
  }
}

}  // namespace warmledger::incentives
