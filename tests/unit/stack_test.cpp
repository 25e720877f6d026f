// Properties of stacking, on random sets of rules: see also incentives_test.cpp for single rules.
#include <doctest/doctest.h>

#include <algorithm>
#include <random>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/stack.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

using Random = std::mt19937_64;

TaxTable table() {
  TaxTable t;
  t.year = 2026;
  t.standard_deduction_usd = 16100;
  t.brackets = {{12400, 0.10}, {50400, 0.12}, {1e300, 0.22}};
  return t;
}

int pick(Random& random, int count) {
  return static_cast<int>(random() % static_cast<unsigned>(count));
}

Claim any_claim(Random& random) {
  static const TaxTable brackets = table();
  Claim c;
  c.install_date = dates::make_date(2026, 1 + pick(random, 12), 1 + pick(random, 28));
  c.installed_cost_usd = 100.0 * pick(random, 120);
  c.material_usd = c.installed_cost_usd * 0.6;
  c.collector_area_m2 = 6;
  c.first_year_saving_kwh = 2500;
  c.first_year_saving_therm = 120;
  c.yearly_income_usd = 1000.0 * pick(random, 120);
  c.occupants = 1 + pick(random, 6);
  c.tax_liability_usd = 100.0 * pick(random, 30);
  c.state_tax_liability_usd = 100.0 * pick(random, 12);
  c.local_tax_liability_usd = 50.0 * pick(random, 5);
  c.federal_table = &brackets;
  c.itemizes = pick(random, 3) == 0;
  c.certified = pick(random, 3) != 0;
  c.solar_share = 0.01 * pick(random, 100);
  c.yearly_discount_rate = pick(random, 2) == 0 ? 0 : 0.05;
  return c;
}

IncomeRules income() {
  IncomeRules rules;
  rules.area_median_income_usd = 80000;
  return rules;
}

/// Any rule; `plain` ones are never taxed and take their shares of the whole cost.
Rule any_rule(Random& random, int k, int count, bool plain) {
  Rule r;
  r.id = "r" + std::to_string(k);
  r.title = r.id;
  static constexpr std::array kinds{
      Kind::rebate, Kind::credit, Kind::grant, Kind::deduction, Kind::production_payment, Kind::sales_tax_exemption};
  r.kind = kinds.at(static_cast<std::size_t>(pick(random, static_cast<int>(kinds.size()))));
  const bool tax = is_tax(r.kind);
  r.basis = static_cast<Basis>(pick(random, r.kind == Kind::deduction ? 2 : 5));
  if (r.kind == Kind::sales_tax_exemption) {
    r.basis = Basis::share_of_tax;
    r.tax_rate = 0.07;
  }
  const bool share = r.basis == Basis::share_of_cost || r.basis == Basis::share_of_tax;
  r.amount = share ? 0.01 * pick(random, 101) : pick(random, 2) == 0 ? pick(random, 500) : 0.1 * pick(random, 20);
  if (pick(random, 2) == 0) r.cap_usd = 100.0 * pick(random, 40);
  if (pick(random, 4) == 0) r.cap_share_of_cost = 0.01 * pick(random, 101);
  if (tax) {
    r.arrival = Arrival::tax_filing;
    r.tax = static_cast<Tax>(pick(random, 3));
    if (pick(random, 4) == 0) r.yearly_shares = {0.4, 0.2, 0.2, 0.2};
    if (pick(random, 4) == 0) r.yearly_cap_usd = 100.0 * pick(random, 12);
  }
  if (r.kind == Kind::credit) {
    r.refundable = pick(random, 4) == 0;
    r.carryforward_years = pick(random, 5);
    if (!r.refundable && pick(random, 4) == 0) r.most_share_of_liability = 0.5;
  }
  if (!tax && r.kind != Kind::sales_tax_exemption) {
    if (pick(random, 4) == 0) r.payment_count = 1 + pick(random, 5);
    r.treatment = static_cast<Treatment>(pick(random, plain ? 3 : 4));
  }
  if (pick(random, 5) == 0) r.valid_from = dates::make_date(2026, 6, 15);
  if (pick(random, 5) == 0) r.valid_to = dates::make_date(2026, 7, 15);
  if (pick(random, 6) == 0) r.most_income_usd = 60000;
  r.needs_certification = pick(random, 6) == 0;
  if (!plain && r.basis == Basis::share_of_cost && pick(random, 4) == 0) r.part = CostPart::material;
  if (k > 0 && pick(random, 3) == 0) r.base_less = {"r" + std::to_string(pick(random, k))};
  if (count > 1 && pick(random, 4) == 0) {
    const std::string other = "r" + std::to_string((k + 1 + pick(random, count - 1)) % count);
    if (r.base_less.empty() || r.base_less[0] != other) r.not_with = {other};
  }
  if (pick(random, 4) == 0) r.one_of = "group" + std::to_string(pick(random, 2));
  return r;
}

std::vector<Rule> any_rules(Random& random, int most, bool plain = false) {
  const int count = 1 + pick(random, most);
  std::vector<Rule> rules;
  for (int k = 0; k < count; ++k) rules.push_back(any_rule(random, k, count, plain));
  return rules;
}

double net(const std::vector<Outcome>& outcomes) {
  double sum = 0;
  for (const Outcome& outcome : outcomes) sum += outcome.amount_usd - outcome.tax_usd;
  return sum;
}

}  // namespace

TEST_CASE("random rules: never more than the cost, nothing outside its dates, sums that hold, any order in the file") {
  Random random(2026);
  int excluded = 0;
  int ended = 0;
  for (int trial = 0; trial < 4000; ++trial) {
    std::vector<Rule> rules = any_rules(random, 10);
    const Claim c = any_claim(random);
    const Stack stack(rules);
    const auto outcomes = stack.work_out(c, income());
    double total = 0;
    for (const Outcome& out : outcomes) {
      const Rule& rule = stack.rules()[out.rule];
      total += out.amount_usd;
      double paid = 0;
      for (const Payment& payment : out.payments) {
        paid += payment.usd;
        CHECK(payment.usd > 0);
        CHECK(payment.date >= c.install_date);
      }
      double taxed = 0;
      for (const Payment& tax : out.taxes) taxed += tax.usd;
      CHECK(paid == doctest::Approx(out.amount_usd).epsilon(1e-12));
      CHECK(taxed == doctest::Approx(out.tax_usd).epsilon(1e-12));
      CHECK(out.tax_usd <= out.amount_usd + 1e-9);
      CHECK(out.amount_usd <= out.computed_usd + 1e-9);
      if (rule.cap_usd) CHECK(out.amount_usd <= *rule.cap_usd + 1e-9);
      const bool outside =
          (rule.valid_from && c.install_date < *rule.valid_from) || (rule.valid_to && c.install_date > *rule.valid_to);
      if (outside) {
        CHECK(out.amount_usd == 0.0);
        CHECK((out.verdict == Verdict::ended || out.verdict == Verdict::not_begun));
        ++ended;
      }
      excluded += out.verdict == Verdict::excluded ? 1 : 0;
      CHECK_FALSE(stack.explain(out, c).empty());
      for (const Outcome& other : outcomes) {
        if (out.amount_usd > 0 && other.amount_usd > 0) CHECK_FALSE(stack.exclude_each_other(out.rule, other.rule));
      }
    }
    CHECK(total <= c.installed_cost_usd + 1e-9);

    std::shuffle(rules.begin(), rules.end(), random);
    const Stack shuffled(rules);
    const auto again = shuffled.work_out(c, income());
    REQUIRE(again.size() == outcomes.size());
    for (std::size_t i = 0; i < outcomes.size(); ++i) {
      CHECK(shuffled.rules()[i].id == stack.rules()[i].id);
      CHECK(again[i].amount_usd == outcomes[i].amount_usd);
      CHECK(again[i].verdict == outcomes[i].verdict);
      CHECK(again[i].less_usd == outcomes[i].less_usd);
    }
  }
  CHECK(excluded > 500);
  CHECK(ended > 500);
}

TEST_CASE("the best combination is that of brute force over every subset, and so is what is passed up") {
  Random random(7);
  int contested = 0;
  for (int trial = 0; trial < 400; ++trial) {
    const std::vector<Rule> rules = any_rules(random, 10);
    const Claim c = any_claim(random);
    const Stack stack(rules);
    const auto outcomes = stack.work_out(c, income());
    const std::size_t count = stack.rules().size();
    double best = -1;
    std::vector<double> best_with(count, -1);
    std::vector<bool> free(count, true);  // an eligible rule that excludes none which is eligible is always taken
    const auto eligible = [&](std::size_t i) {
      switch (outcomes[i].verdict) {
        case Verdict::applied:
        case Verdict::excluded:
        case Verdict::cost_covered:
        case Verdict::no_tax_to_credit:
          return true;
        default:
          return false;
      }
    };
    for (std::size_t i = 0; i < count; ++i) {
      for (std::size_t j = 0; j < count; ++j) {
        if (eligible(i) && eligible(j) && stack.exclude_each_other(i, j)) free[i] = false;
      }
    }
    for (unsigned mask = 0; mask < (1U << count); ++mask) {
      std::vector<char> selected(count);
      bool allowed = true;
      for (std::size_t i = 0; i < count && allowed; ++i) {
        selected[i] = static_cast<char>((mask >> i) & 1U);
        if (selected[i] == 0 && eligible(i) && free[i]) allowed = false;
        if (selected[i] != 0 && !eligible(i)) allowed = false;
        for (std::size_t j = 0; j < i && allowed; ++j) {
          if (selected[i] != 0 && selected[j] != 0 && stack.exclude_each_other(i, j)) allowed = false;
        }
      }
      if (!allowed) continue;
      const double value = stack.value_of(c, income(), selected);
      best = std::max(best, value);
      for (std::size_t i = 0; i < count; ++i) {
        if (selected[i] != 0) best_with[i] = std::max(best_with[i], value);
      }
    }
    std::vector<char> chosen(count);
    for (std::size_t i = 0; i < count; ++i) chosen[i] = eligible(i) && outcomes[i].verdict != Verdict::excluded;
    CHECK(stack.value_of(c, income(), chosen) == doctest::Approx(best).epsilon(1e-9).scale(1));
    for (std::size_t i = 0; i < count; ++i) {
      if (outcomes[i].verdict != Verdict::excluded) continue;
      ++contested;
      CHECK(outcomes[i].less_usd == doctest::Approx(best - best_with[i]).epsilon(0.01).scale(1));
    }
  }
  CHECK(contested > 100);
}

TEST_CASE("raising a cap never lowers what a household gets") {
  // Rules that take shares of the whole cost, and money that is not taxed: where a rebate lowers a credit's base and is
  // itself taxed, more of it can leave less, and that is the law's doing.
  Random random(11);
  int rose = 0;
  for (int trial = 0; trial < 3000; ++trial) {
    std::vector<Rule> rules = any_rules(random, 6, true);
    Claim c = any_claim(random);
    c.yearly_discount_rate = 0;
    c.itemizes = false;
    double shares = 0;  // together at most the cost, as laws are; else what one adds others may lose twice
    for (Rule& rule : rules) {
      if (rule.basis == Basis::share_of_cost) rule.amount = std::min(rule.amount, std::max(0.0, 1 - shares));
      if (rule.basis == Basis::share_of_cost) shares += rule.amount;
    }
    const auto at = static_cast<std::size_t>(pick(random, static_cast<int>(rules.size())));
    rules[at].cap_usd = 100.0 * pick(random, 30);
    const double low = net(Stack(rules).work_out(c, income()));
    *rules[at].cap_usd += 100.0 * pick(random, 30);
    const double high = net(Stack(rules).work_out(c, income()));
    CHECK(high >= low - 0.02);  // shares are rounded to cents one by one
    rose += high > low ? 1 : 0;
  }
  CHECK(rose > 200);
}

TEST_CASE("of two that exclude each other the better is taken, and the other says by how much it is worse") {
  Rule a;
  a.id = "a-rebate";
  a.amount = 500;
  Rule b;
  b.id = "b-rebate";
  b.amount = 800;
  b.not_with = {"a-rebate"};
  Claim c;
  c.install_date = dates::make_date(2026, 9, 1);
  c.installed_cost_usd = 8000;
  const Stack stack({a, b});
  const auto outcomes = stack.work_out(c, income());
  CHECK(outcomes[0].verdict == Verdict::excluded);
  CHECK(outcomes[1].amount_usd == 800.0);
  CHECK(stack.explain(outcomes[0], c) ==
        "cannot be had beside b-rebate; the best combination with it is worth $300.00 less");
  // A rebate that is worth less alone may be worth more with what it leaves to others.
  Rule share;
  share.id = "share";
  share.kind = Kind::grant;
  share.basis = Basis::share_of_cost;
  share.amount = 0.5;
  share.base_less = {"b-rebate"};
  const Stack three({a, b, share});
  const auto again = three.work_out(c, income());
  CHECK(net(again) == 4500.0);
  CHECK(three.explain(again[1], c) ==
        "cannot be had beside a-rebate; the best combination with it is worth $100.00 less");
}

TEST_CASE("rules that contradict each other, or can be combined in too many ways, are refused by name") {
  Rule a;
  a.id = "a";
  a.kind = Kind::rebate;
  a.base_less_kinds = {Kind::grant};
  Rule b;
  b.id = "b";
  b.kind = Kind::grant;
  b.base_less_kinds = {Kind::rebate};
  CHECK_THROWS_AS(Stack({a, b}), errors::Contradiction);
  b.base_less_kinds.clear();
  b.not_with = {"b2"};
  CHECK_THROWS_AS(Stack({b}), errors::UnknownName);
  a.not_with = {"x"};
  a.base_less = {"x"};
  CHECK_THROWS_AS(check(a), errors::Contradiction);
  std::vector<Rule> pairs;
  for (int k = 0; k < 24; ++k) {
    Rule r;
    r.id = "r" + std::to_string(k);
    r.one_of = "pair" + std::to_string(k / 2);
    pairs.push_back(r);
  }
  CHECK_THROWS_AS(Stack{pairs}, errors::Contradiction);
  for (Rule& r : pairs) r.one_of = "all";
  CHECK_NOTHROW(Stack{pairs});
}

TEST_CASE("pools: each order, and what is passed over") {
  using incentives::fund;
  const std::vector<Request> requests{{0, 600, 0.9, 300}, {1, 500, 0.3, 100}, {2, 300, 0.5, 200}, {3, 400, 0.4, 400}};
  const auto funded = [&](PoolOrder order, bool passes_over, double usd) {
    std::string out;
    for (const Funding& f : fund({"p", "p", usd, order, passes_over}, requests)) out += f.funded ? 'y' : 'n';
    return out;
  };
  CHECK(funded(PoolOrder::first_come, false, 1000) == "ynnn");
  CHECK(funded(PoolOrder::first_come, true, 1000) == "ynyn");
  CHECK(funded(PoolOrder::need_first, false, 1000) == "nyny");
  CHECK(funded(PoolOrder::most_saved_per_dollar, false, 1000) == "nnyy");
  CHECK(funded(PoolOrder::need_first, true, 0) == "nnnn");
  CHECK(funded(PoolOrder::need_first, false, 1800) == "yyyy");
  CHECK(fund({"p", "p", 1000, PoolOrder::need_first, false}, requests)[2].place == 3);
}
