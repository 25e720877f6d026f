#include "warmledger/incentives/stack.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::incentives {

Stack::Stack(std::vector<Rule> rules) {
  // Rebates first; then credits, those that can wait least first, so that none lapses for one that could be carried on.
  std::sort(rules.begin(), rules.end(), [](const Rule& a, const Rule& b) {
    return std::tuple(a.kind == Kind::credit, a.carryforward_years, std::string_view(a.id)) <
           std::tuple(b.kind == Kind::credit, b.carryforward_years, std::string_view(b.id));
  });
  std::map<std::string, std::size_t> index;
  std::vector<std::string> ids;
  for (std::size_t i = 0; i < rules.size(); ++i) {
    check(rules[i]);
    if (!index.emplace(rules[i].id, i).second) {
      throw errors::DuplicateName({{"", {}, {}, "incentive id"}, rules[i].id, "stands twice", "each id once"});
    }
    ids.push_back(rules[i].id);
  }
  std::vector<std::vector<std::size_t>> needs(rules.size());
  for (std::size_t i = 0; i < rules.size(); ++i) {
    for (const std::string& other : rules[i].base_less) {
      const auto found = index.find(other);
      if (found == index.end()) {
        const std::string nearest = errors::nearest_name(other, ids);
        throw errors::UnknownName({{"", {}, {}, fmt::format("incentive {}, base_less", rules[i].id)},
                                   other,
                                   nearest.empty()
                                       ? "is not an incentive of this program"
                                       : fmt::format("is not an incentive of this program (did you mean {}?)", nearest),
                                   "ids of the program's incentives"});
      }
      needs[i].push_back(found->second);
    }
  }
  // Repeatedly take the first rule all of whose needs are placed: stable, and what is left at a standstill is a circle.
  constexpr std::size_t unplaced = static_cast<std::size_t>(-1);
  std::vector<std::size_t> placed_at(rules.size(), unplaced);
  while (rules_.size() < rules.size()) {
    std::size_t next = 0;
    const auto ready = [&](std::size_t i) {
      return placed_at[i] == unplaced &&
             std::all_of(needs[i].begin(), needs[i].end(), [&](std::size_t n) { return placed_at[n] != unplaced; });
    };
    while (next < rules.size() && !ready(next)) ++next;
    if (next == rules.size()) {
      std::string circle;
      for (std::size_t i = 0; i < rules.size(); ++i) {
        if (placed_at[i] == unplaced) circle += (circle.empty() ? "" : ", ") + rules[i].id;
      }
      throw errors::Contradiction({{"", {}, {}, "base_less"},
                                   circle,
                                   "reduce each other's base in a circle",
                                   "an order in which each base is known"});
    }
    placed_at[next] = rules_.size();
    std::vector<std::size_t> less;
    for (const std::size_t n : needs[next]) less.push_back(placed_at[n]);
    std::sort(less.begin(), less.end());
    less.erase(std::unique(less.begin(), less.end()), less.end());
    less_.push_back(std::move(less));
    rules_.push_back(rules[next]);
  }
}

namespace {

/// The first condition of `rule` that the claim fails; applied if none.
Verdict eligibility(const Rule& rule, const Claim& claim, const IncomeRules& income, double& limit_usd) {
  if (rule.valid_to && *rule.valid_to < claim.install_date) return Verdict::ended;
  if (rule.valid_from && claim.install_date < *rule.valid_from) return Verdict::not_begun;
  if (rule.most_income_share) {
    limit_usd = income_limit_usd(income, *rule.most_income_share, claim.occupants);
    if (claim.yearly_income_usd > limit_usd) return Verdict::income_too_high;
  }
  if (rule.least_income_share) {
    limit_usd = income_limit_usd(income, *rule.least_income_share, claim.occupants);
    if (claim.yearly_income_usd < limit_usd) return Verdict::income_too_low;
  }
  const auto absent = [](const auto& list, auto item) {
    return !list.empty() && std::find(list.begin(), list.end(), item) == list.end();
  };
  if (absent(rule.tenures, claim.tenure)) return Verdict::wrong_tenure;
  if (absent(rule.fuels, claim.heater_fuel)) return Verdict::wrong_fuel;
  return Verdict::applied;
}

double formula(const Rule& rule, const Claim& claim, double base_usd) {
  switch (rule.basis) {
    case Basis::flat_usd:
      return rule.amount;
    case Basis::share_of_cost:
      return rule.amount * base_usd;
    case Basis::usd_per_m2:
      return rule.amount * claim.collector_area_m2;
    case Basis::usd_per_first_year_kwh:
      return rule.amount * std::max(0.0, claim.first_year_saving_kwh);
    case Basis::usd_per_first_year_therm:
    case Basis::share_of_tax:
    case Basis::rate:
      break;
  }
  return 0;
}

dates::Date filing_day(int tax_year) {
  return dates::make_date(tax_year + 1, 4, 15);
}

}  // namespace

void Stack::work_out(const Claim& claim, const IncomeRules& income, std::vector<Outcome>& outcomes) const {
  outcomes.resize(rules_.size());
  double left_of_cost = money::round_cents(claim.installed_cost_usd);
  // Liability used so far in each tax year counted from the install year; credits share it.
  std::vector<double> used_liability;
  for (std::size_t i = 0; i < rules_.size(); ++i) {
    const Rule& rule = rules_[i];
    Outcome& out = outcomes[i];
    out.payments.clear();
    out = Outcome{i, Verdict::applied, 0, 0, 0, 0, false, std::move(out.payments)};
    out.verdict = eligibility(rule, claim, income, out.limit_usd);
    if (out.verdict != Verdict::applied) continue;
    double base = claim.installed_cost_usd;
    for (const std::size_t other : less_[i]) base -= outcomes[other].amount_usd;
    out.base_usd = money::round_cents(std::max(0.0, base));
    double amount = formula(rule, claim, out.base_usd);
    if (rule.cap_usd) amount = std::min(amount, *rule.cap_usd);
    out.computed_usd = money::round_cents(amount);
    double remaining = std::min(out.computed_usd, left_of_cost);
    out.limited_by_cost = left_of_cost < out.computed_usd;
    if (remaining <= 0) {
      out.verdict = out.computed_usd > 0 ? Verdict::cost_covered : Verdict::applied;
      continue;
    }
    const int install_year = dates::year_of(claim.install_date);
    const auto pay = [&](dates::Date date, double usd) {
      out.payments.push_back({date, usd});
      out.amount_usd += usd;
      remaining = money::round_cents(remaining - usd);
    };
    if (rule.kind == Kind::rebate || rule.refundable) {
      switch (rule.arrival) {
        case Arrival::install:
          pay(claim.install_date, remaining);
          break;
        case Arrival::months_after:
          pay(dates::add_months(claim.install_date, rule.arrival_months), remaining);
          break;
        case Arrival::tax_filing:
          pay(filing_day(install_year), remaining);
          break;
      }
    } else {
      const double liability = money::round_cents(std::max(0.0, claim.tax_liability_usd));
      for (int later = 0; later <= rule.carryforward_years && remaining > 0 && liability > 0; ++later) {
        const auto slot = static_cast<std::size_t>(later);
        if (used_liability.size() <= slot) used_liability.resize(slot + 1, 0.0);
        const double usable = std::min(remaining, money::round_cents(liability - used_liability[slot]));
        if (usable <= 0) continue;
        used_liability[slot] = money::round_cents(used_liability[slot] + usable);
        pay(filing_day(install_year + later), usable);
      }
      if (out.payments.empty()) out.verdict = Verdict::no_tax_to_credit;
    }
    out.amount_usd = money::round_cents(out.amount_usd);
    left_of_cost = money::round_cents(left_of_cost - out.amount_usd);
  }
}

std::vector<Outcome> Stack::work_out(const Claim& claim, const IncomeRules& income) const {
  std::vector<Outcome> outcomes;
  work_out(claim, income, outcomes);
  return outcomes;
}

std::string Stack::explain(const Outcome& outcome, const Claim& claim) const {
  const Rule& rule = rules_.at(outcome.rule);
  using money::dollars;
  switch (outcome.verdict) {
    case Verdict::ended:
      return fmt::format("ended on {}; the install date is {}", dates::iso(*rule.valid_to),
                         dates::iso(claim.install_date));
    case Verdict::not_begun:
      return fmt::format("begins on {}; the install date is {}", dates::iso(*rule.valid_from),
                         dates::iso(claim.install_date));
    case Verdict::income_too_high:
      return fmt::format("income {} is above the limit of {} ({} % of area median income for {})",
                         dollars(claim.yearly_income_usd), dollars(outcome.limit_usd),
                         errors::plain_number(*rule.most_income_share * 100), claim.occupants);
    case Verdict::income_too_low:
      return fmt::format("income {} is below the least of {} ({} % of area median income for {})",
                         dollars(claim.yearly_income_usd), dollars(outcome.limit_usd),
                         errors::plain_number(*rule.least_income_share * 100), claim.occupants);
    case Verdict::wrong_tenure:
      return fmt::format("not for a household that is {}", name_of(claim.tenure));
    case Verdict::wrong_fuel:
      return fmt::format("not for a heater on {}", prices::name_of(claim.heater_fuel));
    case Verdict::cost_covered:
      return "the cost is already paid in full by the incentives before it";
    case Verdict::no_tax_to_credit:
      return claim.tax_liability_usd > 0 ? "the income tax is used up by the credits before it"
                                         : "no income tax to credit it against";
    case Verdict::applied:
      break;
  }
  std::string text;
  switch (rule.basis) {
    case Basis::flat_usd:
      text = dollars(rule.amount);
      break;
    case Basis::share_of_cost:
      text = fmt::format("{} % of {}", errors::plain_number(rule.amount * 100), dollars(outcome.base_usd));
      break;
    case Basis::usd_per_m2:
      text = fmt::format("{} a ft2 for {:.1f} ft2 of collector", dollars(rule.amount * units::m2_per_ft2),
                         claim.collector_area_m2 / units::m2_per_ft2);
      break;
    case Basis::usd_per_first_year_kwh:
      text = fmt::format("{} a kWh for {:.0f} kWh saved in the first year", dollars(rule.amount),
                         claim.first_year_saving_kwh);
      break;
    case Basis::usd_per_first_year_therm:
    case Basis::share_of_tax:
    case Basis::rate:
      break;
  }
  if (rule.cap_usd && outcome.computed_usd >= *rule.cap_usd)
    text += fmt::format(", at most {}", dollars(*rule.cap_usd));
  if (outcome.amount_usd < outcome.computed_usd) {
    text += fmt::format("; limited {} to {}", outcome.limited_by_cost ? "by the cost left" : "by income tax",
                        dollars(outcome.amount_usd));
  }
  for (std::size_t k = 0; k < outcome.payments.size(); ++k) {
    if (k == 3) {
      text += fmt::format(" and {} more", outcome.payments.size() - k);
      break;
    }
    text += fmt::format("{} {} on {}", k == 0 ? "; paid" : ",", dollars(outcome.payments[k].usd),
                        dates::iso(outcome.payments[k].date));
  }
  return text;
}

}  // namespace warmledger::incentives
