#include "warmledger/incentives/stack.hpp"

#include <algorithm>
#include <map>
#include <tuple>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::incentives {

namespace {

constexpr long most_combinations = 100000;

int turn(Kind kind) {
  return kind == Kind::credit ? 2 : kind == Kind::deduction ? 1 : 0;
}

template <class T>
bool holds(const std::vector<T>& list, const T& item) {
  return std::find(list.begin(), list.end(), item) != list.end();
}

/// Whether `other`'s amount comes off the base of `rule`, by what the rules say and the program's choices.
bool lowers(const Rule& other, const Rule& rule, const TaxRules& taxes) {
  if (other.id == rule.id) return false;
  if (other.treatment == Treatment::excluded_subsidy && rule.kind == Kind::credit && !taxes.subsidies_lower_credit_base)
    return false;
  if (taxes.state_credits_lower_credit_base && other.kind == Kind::credit && other.tax != Tax::federal &&
      rule.kind == Kind::credit && rule.tax == Tax::federal)
    return true;
  return holds(rule.base_less, other.id) || holds(rule.base_less_kinds, other.kind) ||
         (other.treatment != Treatment::none && holds(rule.base_less_treatments, other.treatment));
}

}  // namespace

Stack::Stack(std::vector<Rule> rules, TaxRules taxes, std::span<const Pool> pools) : taxes_(taxes) {
  std::sort(rules.begin(), rules.end(), [](const Rule& a, const Rule& b) {
    return std::tuple(turn(a.kind), a.carryforward_years, std::string_view(a.id)) <
           std::tuple(turn(b.kind), b.carryforward_years, std::string_view(b.id));
  });
  std::map<std::string, std::size_t, std::less<>> index;
  std::vector<std::string> ids;
  for (std::size_t i = 0; i < rules.size(); ++i) {
    check(rules[i]);
    if (!index.emplace(rules[i].id, i).second) {
      throw errors::DuplicateName({{"", {}, {}, "incentive id"}, rules[i].id, "stands twice", "each id once"});
    }
    ids.push_back(rules[i].id);
  }
  const auto known = [&](const Rule& rule, std::string_view key, const std::string& other) {
    const auto found = index.find(other);
    if (found != index.end()) return found->second;
    const std::string nearest = errors::nearest_name(other, ids);
    throw errors::UnknownName({{"", {}, {}, fmt::format("incentive {}, {}", rule.id, key)},
                               other,
                               nearest.empty()
                                   ? "is not an incentive of this program"
                                   : fmt::format("is not an incentive of this program (did you mean {}?)", nearest),
                               "ids of the program's incentives"});
  };
  std::vector<std::vector<std::size_t>> needs(rules.size());
  std::vector<std::vector<std::size_t>> apart(rules.size());
  for (std::size_t i = 0; i < rules.size(); ++i) {
    for (const std::string& other : rules[i].base_less) (void)known(rules[i], "base_less", other);
    for (const std::string& other : rules[i].not_with) {
      const std::size_t j = known(rules[i], "not_with", other);
      apart[i].push_back(j);
      apart[j].push_back(i);
    }
    for (std::size_t j = 0; j < rules.size(); ++j) {
      if (lowers(rules[j], rules[i], taxes_)) needs[i].push_back(j);
      if (i != j && !rules[i].one_of.empty() && rules[i].one_of == rules[j].one_of) apart[i].push_back(j);
    }
  }
  // Repeatedly take the first rule all of whose needs are placed: stable, and what is left at a standstill is a circle.
  std::vector<std::size_t> placed_at(rules.size(), no_rule);
  std::vector<std::size_t> order;
  while (order.size() < rules.size()) {
    std::size_t next = 0;
    const auto ready = [&](std::size_t i) {
      return placed_at[i] == no_rule &&
             std::all_of(needs[i].begin(), needs[i].end(), [&](std::size_t n) { return placed_at[n] != no_rule; });
    };
    while (next < rules.size() && !ready(next)) ++next;
    if (next == rules.size()) {
      std::string circle;
      for (std::size_t i = 0; i < rules.size(); ++i) {
        if (placed_at[i] == no_rule) circle += (circle.empty() ? "" : ", ") + rules[i].id;
      }
      throw errors::Contradiction({{"", {}, {}, "base_less"},
                                   circle,
                                   "reduce each other's base in a circle",
                                   "an order in which each base is known"});
    }
    placed_at[next] = order.size();
    order.push_back(next);
  }
  const auto placed = [&](const std::vector<std::size_t>& list) {
    std::vector<std::size_t> out;
    for (const std::size_t n : list) out.push_back(placed_at[n]);
    std::sort(out.begin(), out.end());
    out.erase(std::unique(out.begin(), out.end()), out.end());
    return out;
  };
  for (const std::size_t i : order) {
    less_.push_back(placed(needs[i]));
    excludes_.push_back(placed(apart[i]));
    std::size_t pool = no_rule;
    for (std::size_t p = 0; p < pools.size(); ++p) {
      if (pools[p].id == rules[i].pool) pool = p;
    }
    if (!rules[i].pool.empty() && !pools.empty() && pool == no_rule) {
      throw errors::UnknownName({{"", {}, {}, fmt::format("incentive {}, pool", rules[i].id)},
                                 rules[i].pool,
                                 "is no pool of this program",
                                 "ids of the program's pools"});
    }
    pool_of_.push_back(pool);
    rules_.push_back(rules[i]);
  }
  errors::require_in_range("pools", static_cast<double>(pools.size()), 0, 64, "pools");

  // Every combination of rules that exclude each other is tried: refuse what would take too long.
  std::vector<std::size_t> contested;
  for (std::size_t i = 0; i < rules_.size(); ++i) {
    if (!excludes_[i].empty()) contested.push_back(i);
  }
  std::vector<char> in(rules_.size(), 0);
  long combinations = 0;
  const auto count = [&](auto&& self, std::size_t k) -> void {
    if (combinations > most_combinations) return;
    if (k == contested.size()) {
      ++combinations;
      return;
    }
    const std::size_t i = contested[k];
    if (std::none_of(excludes_[i].begin(), excludes_[i].end(), [&](std::size_t j) { return in[j] != 0; })) {
      in[i] = 1;
      self(self, k + 1);
      in[i] = 0;
    }
    self(self, k + 1);
  };
  count(count, 0);
  if (combinations > most_combinations) {
    std::string names;
    for (const std::size_t i : contested) names += (names.empty() ? "" : ", ") + rules_[i].id;
    throw errors::Contradiction({{"", {}, {}, "not_with, one_of"},
                                 names,
                                 "exclude each other in more ways than can be tried",
                                 fmt::format("up to {} combinations", most_combinations)});
  }
}

bool Stack::exclude_each_other(std::size_t a, std::size_t b) const {
  return std::binary_search(excludes_.at(a).begin(), excludes_.at(a).end(), b);
}

void Stack::choose(const Claim& claim, Work& work) const {
  work.contested.clear();
  work.selected.assign(rules_.size(), 0);
  for (std::size_t i = 0; i < rules_.size(); ++i) {
    if (work.verdicts[i] != Verdict::applied) continue;
    const bool contested = std::any_of(excludes_[i].begin(), excludes_[i].end(),
                                       [&](std::size_t j) { return work.verdicts[j] == Verdict::applied; });
    if (contested) work.contested.push_back(i);
    work.selected[i] = contested ? 0 : 1;
  }
  work.best_selected = work.selected;
  if (work.contested.empty()) return;
  work.best_with.assign(work.contested.size(), -1);
  double best = -1;
  const auto go = [&](auto&& self, std::size_t k) -> void {
    if (k == work.contested.size()) {
      const double value = evaluate(claim, work.selected, work.trial, work, nullptr);
      for (std::size_t c = 0; c < work.contested.size(); ++c) {
        if (work.selected[work.contested[c]] != 0) work.best_with[c] = std::max(work.best_with[c], value);
      }
      // Half a cent: of equals the first stays, and the first is the one with the rules that come first.
      if (value > best + 0.005) {
        best = value;
        work.best_selected = work.selected;
      }
      return;
    }
    const std::size_t i = work.contested[k];
    if (std::none_of(excludes_[i].begin(), excludes_[i].end(), [&](std::size_t j) { return work.selected[j] != 0; })) {
      work.selected[i] = 1;
      self(self, k + 1);
      work.selected[i] = 0;
    }
    self(self, k + 1);
  };
  go(go, 0);
  work.selected = work.best_selected;
  for (double& with : work.best_with) with = std::max(0.0, best - with);
}

void Stack::work_out(const Claim& claim, const IncomeRules& income, std::vector<Outcome>& outcomes, Work& work) const {
  judge(claim, income, work);
  choose(claim, work);
  evaluate(claim, work.selected, outcomes, work, nullptr);
  for (std::size_t c = 0; c < work.contested.size(); ++c) {
    Outcome& out = outcomes[work.contested[c]];
    if (out.verdict != Verdict::excluded) continue;
    out.less_usd = work.best_with[c];
    for (const std::size_t j : excludes_[out.rule]) {
      if (work.selected[j] != 0 && out.other == no_rule) out.other = j;
    }
  }
}

void Stack::work_out(const Claim& claim, const IncomeRules& income, std::vector<Outcome>& outcomes) const {
  Work work;
  work_out(claim, income, outcomes, work);
}

std::vector<Outcome> Stack::work_out(const Claim& claim, const IncomeRules& income) const {
  std::vector<Outcome> outcomes;
  work_out(claim, income, outcomes);
  return outcomes;
}

std::vector<TaxLine> Stack::tax_years(const Claim& claim, const IncomeRules& income,
                                      std::span<const Outcome> outcomes) const {
  Work work;
  judge(claim, income, work);
  std::vector<char> selected(rules_.size(), 0);
  for (const Outcome& outcome : outcomes) selected.at(outcome.rule) = outcome.verdict != Verdict::excluded;
  std::vector<Outcome> again;
  std::vector<TaxLine> lines;
  evaluate(claim, selected, again, work, &lines);
  return lines;
}

double Stack::value_of(const Claim& claim, const IncomeRules& income, std::span<const char> selected) const {
  Work work;
  judge(claim, income, work);
  std::vector<Outcome> outcomes;
  return evaluate(claim, selected, outcomes, work, nullptr);
}

}  // namespace warmledger::incentives
