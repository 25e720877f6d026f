#include "warmledger/incentives/income_tiers.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::incentives {

namespace {

/// Word, and what a person calls it, in the order of the enumeration.
constexpr std::array<std::pair<std::string_view, std::string_view>, 4> measures{{
    {"area_median_by_size", "area median income for the household's size"},
    {"area_median_family", "area median family income, whatever the size"},
    {"state_median_by_size", "state median income for the household's size"},
    {"poverty_guideline", "the federal poverty guideline"},
}};

std::string_view in_words(IncomeMeasure measure) {
  return measures.at(static_cast<std::size_t>(measure)).second;
}

/// Percent of 45 CFR 96.85(b).
int state_median_size_percent(int persons) {
  errors::require_in_range("persons", persons, 1, 1000, "persons");
  return persons <= 6 ? 52 + 16 * (persons - 1) : 132 + 3 * (persons - 6);
}

/// `share` of the measure, dollars a year, as the measure is rounded; empty where it is not known.
std::optional<double> dollars_at(IncomeMeasure measure, double share, const IncomeRules& rules, int persons) {
  switch (measure) {
    case IncomeMeasure::area_median_by_size:
      return income_limit_usd(rules, share, persons);
    case IncomeMeasure::area_median_family: {
      IncomeRules unrounded = rules;
      unrounded.round_to_usd = 0;
      return income_limit_usd(unrounded, share, 4);
    }
    case IncomeMeasure::state_median_by_size:
      if (!rules.state_median_income_usd) return std::nullopt;
      return money::round_cents(*rules.state_median_income_usd * share * state_median_size_percent(persons) / 100);
    case IncomeMeasure::poverty_guideline:
      if (!rules.poverty) return std::nullopt;
      return poverty_limit_usd(*rules.poverty, share, persons);
  }
  return std::nullopt;
}

std::string percent(double share) {
  return errors::plain_number(share * 100) + " %";
}

}  // namespace

std::string_view name_of(IncomeMeasure measure) {
  return measures.at(static_cast<std::size_t>(measure)).first;
}

IncomeMeasure income_measure_named(std::string_view name) {
  for (std::size_t i = 0; i < measures.size(); ++i) {
    if (measures.at(i).first == name) return static_cast<IncomeMeasure>(i);
  }
  throw errors::UnknownName({{"", {}, {}, "measure"},
                             std::string(name),
                             "is not known",
                             "area_median_by_size, area_median_family, state_median_by_size, poverty_guideline"});
}

double state_median_size_factor(int persons) {
  return state_median_size_percent(persons) / 100.0;
}

std::optional<double> line_limit_usd(const TierLine& line, const TierLine* next, const IncomeRules& rules,
                                     int persons) {
  if (!line.most_share) return std::nullopt;
  const std::optional<double> limit = dollars_at(line.measure, *line.most_share, rules, persons);
  if (!limit || !line.at_least_poverty) return limit;
  if (!rules.poverty) return std::nullopt;
  const double raised = std::max(*limit, poverty_guideline_usd(*rules.poverty, persons));
  const std::optional<double> ceiling = next != nullptr ? line_limit_usd(*next, nullptr, rules, persons) : std::nullopt;
  return ceiling ? std::min(raised, *ceiling) : raised;
}

namespace {

/// The line that decides for one definition, or what stands in the way.
TierFinding find_one(const std::vector<const TierLine*>& lines, const IncomeRules& rules, double income_usd,
                     int persons) {
  const TierLine& first = *lines.front();
  TierFinding out{first.definition, first.title, "above", {}, {}, {}, first.source};
  const TierLine* unknown = nullptr;
  std::optional<double> highest;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const TierLine& line = *lines[i];
    const TierLine* next = i + 1 < lines.size() ? lines[i + 1] : nullptr;
    const std::optional<double> most = line_limit_usd(line, next, rules, persons);
    const std::optional<double> least =
        line.least_share ? dollars_at(line.measure, *line.least_share, rules, persons) : std::optional(0.0);
    if ((line.most_share && !most) || !least) {
      if (unknown == nullptr) unknown = &line;
      continue;
    }
    if (most) highest = std::max(highest.value_or(0), *most);
    const bool from_below = line.least_included || !line.least_share ? income_usd >= *least : income_usd > *least;
    const bool to_above = !most || (line.most_included ? income_usd <= *most : income_usd < *most);
    if (!from_below || !to_above) continue;
    out.tier = line.tier;
    out.source = line.source;
    out.least_usd = least;
    out.most_usd = most;
    if (!most) {
      out.reason = fmt::format("{} is {} {} ({} of {})", money::dollars(income_usd),
                               line.least_included ? "at or above" : "above", money::dollars(*least),
                               percent(line.least_share.value_or(0)), in_words(line.measure));
    } else {
      out.reason =
          fmt::format("{} is {} {} ({} of {}{})", money::dollars(income_usd),
                      line.most_included ? "at or below" : "below", money::dollars(*most), percent(*line.most_share),
                      in_words(line.measure), line.at_least_poverty ? ", not below the poverty guideline" : "");
    }
    return out;
  }
  if (unknown != nullptr) {
    out.tier = "not known";
    out.source = unknown->source;
    const bool by_state = unknown->measure == IncomeMeasure::state_median_by_size;
    out.reason = fmt::format("{} is not known here", by_state ? "state median income" : "the poverty guideline");
    return out;
  }
  out.least_usd = highest;
  out.reason =
      fmt::format("{} is above {}, the highest limit", money::dollars(income_usd), money::dollars(highest.value_or(0)));
  return out;
}

}  // namespace

std::vector<TierFinding> find_tiers(const std::vector<TierLine>& lines, const IncomeRules& rules,
                                    double yearly_income_usd, int persons) {
  errors::require_in_range("yearly_income_usd", yearly_income_usd, 0, 1e12, "dollars");
  errors::require_in_range("persons", persons, 1, 1000, "persons");
  std::vector<std::vector<const TierLine*>> definitions;
  for (const TierLine& line : lines) {
    const auto found = std::find_if(definitions.begin(), definitions.end(),
                                    [&](const auto& one) { return one.front()->definition == line.definition; });
    if (found == definitions.end()) {
      definitions.push_back({&line});
    } else {
      found->push_back(&line);
    }
  }
  std::vector<TierFinding> findings;
  for (const auto& definition : definitions)
    findings.push_back(find_one(definition, rules, yearly_income_usd, persons));
  return findings;
}

}  // namespace warmledger::incentives
