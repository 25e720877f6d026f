#include "warmledger/incentives/poverty.hpp"

#include <algorithm>
#include <utility>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::incentives {

namespace {

constexpr std::array<std::pair<std::string_view, PovertyRegion>, 3> region_names{{
    {"contiguous", PovertyRegion::contiguous},
    {"alaska", PovertyRegion::alaska},
    {"hawaii", PovertyRegion::hawaii},
}};

constexpr std::array<std::string_view, 49> contiguous_states{
    "AL", "AR", "AZ", "CA", "CO", "CT", "DC", "DE", "FL", "GA", "IA", "ID", "IL", "IN", "KS", "KY", "LA",
    "MA", "MD", "ME", "MI", "MN", "MO", "MS", "MT", "NC", "ND", "NE", "NH", "NJ", "NM", "NV", "NY", "OH",
    "OK", "OR", "PA", "RI", "SC", "SD", "TN", "TX", "UT", "VA", "VT", "WA", "WI", "WV", "WY"};

}  // namespace

std::string_view name_of(PovertyRegion region) {
  return region_names.at(static_cast<std::size_t>(region)).first;
}

PovertyRegion poverty_region_named(std::string_view name) {
  for (const auto& [word, region] : region_names) {
    if (word == name) return region;
  }
  throw errors::UnknownName({{"", {}, {}, "region"}, std::string(name), "is not known", "contiguous, alaska, hawaii"});
}

std::optional<PovertyRegion> poverty_region_of(std::string_view state) {
  if (state == "AK") return PovertyRegion::alaska;
  if (state == "HI") return PovertyRegion::hawaii;
  const bool known = std::find(contiguous_states.begin(), contiguous_states.end(), state) != contiguous_states.end();
  return known ? std::optional(PovertyRegion::contiguous) : std::nullopt;
}

double poverty_guideline_usd(const PovertyGuideline& guideline, int persons) {
  errors::require_in_range("persons", persons, 1, 1000, "persons");
  if (persons <= 8) return guideline.usd.at(static_cast<std::size_t>(persons - 1));
  return guideline.usd.back() + guideline.each_more_usd * (persons - 8);
}

double poverty_limit_usd(const PovertyGuideline& guideline, double multiple, int persons) {
  errors::require_in_range("multiple", multiple, 0, 100, "times the guideline");
  return money::round_cents(multiple * poverty_guideline_usd(guideline, persons));
}

double poverty_multiple(const PovertyGuideline& guideline, double yearly_income_usd, int persons) {
  errors::require_in_range("yearly_income_usd", yearly_income_usd, 0, 1e12, "dollars");
  return yearly_income_usd / poverty_guideline_usd(guideline, persons);
}

PovertyTables::PovertyTables(std::vector<PovertyGuideline> tables) : tables_(std::move(tables)) {
  for (const PovertyGuideline& table : tables_) {
    if (table.usd.front() > 0) continue;
    throw errors::ValueOutOfRange({{"", {}, {}, "poverty guideline"},
                                   errors::plain_number(table.usd.front()),
                                   "is no guideline",
                                   "dollars above 0"});
  }
}

const PovertyGuideline* PovertyTables::find(dates::Date date, PovertyRegion region) const {
  const PovertyGuideline* best = nullptr;
  for (const PovertyGuideline& table : tables_) {
    if (table.region != region || date < table.valid_from) continue;
    if (best == nullptr || best->valid_from < table.valid_from) best = &table;
  }
  return best;
}

}  // namespace warmledger::incentives
