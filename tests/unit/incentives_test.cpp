#include <doctest/doctest.h>

#include <algorithm>
#include <random>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/stack.hpp"
#include "warmledger/incentives/tax.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

const dates::Date install = dates::make_date(2026, 9, 1);

Rule rule(const std::string& id, Kind kind, Basis basis, double amount) {
  Rule r;
  r.id = id;
  r.title = id;
  r.kind = kind;
  r.basis = basis;
  r.amount = amount;
  if (kind == Kind::credit) r.arrival = Arrival::tax_filing;
  return r;
}

Claim claim(double cost) {
  Claim c;
  c.install_date = install;
  c.installed_cost_usd = cost;
  c.collector_area_m2 = 6;
  c.first_year_saving_kwh = 2500;
  c.yearly_income_usd = 50000;
  c.occupants = 4;
  c.tax_liability_usd = 1000;
  return c;
}

IncomeRules income() {
  IncomeRules rules;
  rules.area_median_income_usd = 80000;
  return rules;
}

const Outcome& of(const Stack& stack, const std::vector<Outcome>& outcomes, const std::string& id) {
  for (const Outcome& outcome : outcomes) {
    if (stack.rules()[outcome.rule].id == id) return outcome;
  }
  throw std::logic_error("no such rule in the test");
}

}  // namespace

TEST_CASE("each basis, caps, and what comes off a base") {
  Rule area = rule("area", Kind::rebate, Basis::usd_per_m2, 50);
  Rule kwh = rule("kwh", Kind::rebate, Basis::usd_per_first_year_kwh, 0.2);
  kwh.cap_usd = 400;
  Rule share = rule("share", Kind::credit, Basis::share_of_cost, 0.25);
  share.refundable = true;
  share.base_less = {"area", "kwh"};
  const Stack stack({share, kwh, area});
  const auto outcomes = stack.work_out(claim(8000), income());
  CHECK(of(stack, outcomes, "area").amount_usd == 300.0);
  CHECK(of(stack, outcomes, "kwh").amount_usd == 400.0);
  CHECK(of(stack, outcomes, "share").base_usd == 7300.0);
  CHECK(of(stack, outcomes, "share").amount_usd == 1825.0);
  CHECK(dates::iso(of(stack, outcomes, "share").payments[0].date) == "2027-04-15");
}

TEST_CASE("a rule outside its dates pays nothing and says when it ended or begins") {
  Rule ended = rule("ended", Kind::rebate, Basis::flat_usd, 500);
  ended.valid_to = dates::make_date(2025, 12, 31);
  Rule later = rule("later", Kind::rebate, Basis::flat_usd, 500);
  later.valid_from = dates::make_date(2026, 9, 2);
  Rule last_day = rule("last-day", Kind::rebate, Basis::flat_usd, 500);
  last_day.valid_from = install;
  last_day.valid_to = install;
  const Stack stack({ended, later, last_day});
  const Claim c = claim(8000);
  const auto outcomes = stack.work_out(c, income());
  CHECK(stack.explain(of(stack, outcomes, "ended"), c) == "ended on 2025-12-31; the install date is 2026-09-01");
  CHECK(stack.explain(of(stack, outcomes, "later"), c) == "begins on 2026-09-02; the install date is 2026-09-01");
  CHECK(of(stack, outcomes, "ended").amount_usd == 0.0);
  CHECK(of(stack, outcomes, "later").payments.empty());
  CHECK(of(stack, outcomes, "last-day").amount_usd == 500.0);
}

TEST_CASE("the first condition that fails is named with the household's value and the one needed") {
  Rule low = rule("low", Kind::rebate, Basis::flat_usd, 500);
  low.most_income_share = 0.5;
  Rule high = rule("high", Kind::rebate, Basis::flat_usd, 500);
  high.least_income_share = 0.8;
  Rule renters = rule("renters", Kind::rebate, Basis::flat_usd, 500);
  renters.tenures = {Tenure::renter};
  Rule gas = rule("gas", Kind::rebate, Basis::flat_usd, 500);
  gas.fuels = {prices::Fuel::natural_gas, prices::Fuel::propane};
  const Stack stack({low, high, renters, gas});
  const Claim c = claim(8000);
  const auto outcomes = stack.work_out(c, income());
  CHECK(stack.explain(of(stack, outcomes, "low"), c) ==
        "income $50,000.00 is above the limit of $40,000.00 (50 % of area median income for 4)");
  CHECK(stack.explain(of(stack, outcomes, "high"), c) ==
        "income $50,000.00 is below the least of $64,000.00 (80 % of area median income for 4)");
  CHECK(stack.explain(of(stack, outcomes, "renters"), c) == "not for a household that is owner");
  CHECK(stack.explain(of(stack, outcomes, "gas"), c) == "not for a heater on electricity");
}

TEST_CASE(
    "a credit takes what tax there is, carries the rest as long as it may, and shares the tax with other credits") {
  Rule patient = rule("a-patient", Kind::credit, Basis::flat_usd, 1500);
  patient.carryforward_years = 5;
  Rule hasty = rule("b-hasty", Kind::credit, Basis::flat_usd, 2000);
  hasty.carryforward_years = 1;
  const Stack stack({patient, hasty});
  const auto outcomes = stack.work_out(claim(8000), income());
  // 1,000 of tax a year: the one that lapses first is taken first, whatever the ids.
  const Outcome& b = of(stack, outcomes, "b-hasty");
  REQUIRE(b.payments.size() == 2);
  CHECK(b.payments[0].usd == 1000.0);
  CHECK(dates::iso(b.payments[1].date) == "2028-04-15");
  const Outcome& a = of(stack, outcomes, "a-patient");
  REQUIRE(a.payments.size() == 2);
  CHECK(dates::iso(a.payments[0].date) == "2029-04-15");
  CHECK(a.payments[0].usd == 1000.0);
  CHECK(a.payments[1].usd == 500.0);
  Claim no_tax = claim(8000);
  no_tax.tax_liability_usd = 0;
  const auto none = stack.work_out(no_tax, income());
  CHECK(stack.explain(of(stack, none, "a-patient"), no_tax) == "no income tax to credit it against");
}

TEST_CASE("why a credit is less than its formula gives is said as it is") {
  const Rule late = rule("c-late", Kind::credit, Basis::flat_usd, 300);
  const Rule first = rule("a-first", Kind::credit, Basis::flat_usd, 1500);
  const Stack short_of_tax({late, first});
  const Claim c = claim(8000);
  const auto taxed = short_of_tax.work_out(c, income());
  CHECK(of(short_of_tax, taxed, "a-first").amount_usd == 1000.0);
  CHECK(short_of_tax.explain(of(short_of_tax, taxed, "a-first"), c) ==
        "$1,500.00; limited by income tax to $1,000.00; paid $1,000.00 on 2027-04-15; $500.00 lapses unused");
  CHECK(short_of_tax.explain(of(short_of_tax, taxed, "c-late"), c) ==
        "the income tax is used up by the credits before it");

  const Rule large = rule("large", Kind::rebate, Basis::flat_usd, 7500);
  const Stack cost_runs_out({large, first});
  Claim rich = claim(8000);
  rich.tax_liability_usd = 9000;
  const auto covered = cost_runs_out.work_out(rich, income());
  CHECK(cost_runs_out.explain(of(cost_runs_out, covered, "a-first"), rich) ==
        "$1,500.00; limited by the cost left to $500.00; paid $500.00 on 2027-04-15");
  Rule soon = rule("soon", Kind::credit, Basis::flat_usd, 10);
  soon.arrival = Arrival::install;
  CHECK_THROWS_AS(check(soon), errors::Contradiction);
}

TEST_CASE(
    "all incentives together never exceed the cost, whatever the rules, and their order in a file changes nothing") {
  std::mt19937_64 random(17);
  for (int trial = 0; trial < 500; ++trial) {
    std::vector<Rule> rules;
    const int count = 1 + static_cast<int>(random() % 8);
    for (int k = 0; k < count; ++k) {
      const bool credit = random() % 2 == 0;
      const Basis basis = static_cast<Basis>(random() % 4);
      Rule r = rule("r" + std::to_string(k), credit ? Kind::credit : Kind::rebate, basis,
                    basis == Basis::share_of_cost ? static_cast<double>(random() % 101) / 100
                                                  : static_cast<double>(random() % 1000));
      if (random() % 2 == 0) r.cap_usd = static_cast<double>(random() % 5000);
      if (credit) r.carryforward_years = static_cast<int>(random() % 4);
      if (k > 0 && random() % 2 == 0) r.base_less = {"r" + std::to_string(random() % static_cast<unsigned>(k))};
      rules.push_back(r);
    }
    const Claim c = claim(static_cast<double>(random() % 12000));
    const Stack stack(rules);
    const auto outcomes = stack.work_out(c, income());
    double total = 0;
    for (const Outcome& outcome : outcomes) {
      total += outcome.amount_usd;
      CHECK(outcome.amount_usd <= outcome.computed_usd);
      double paid = 0;
      for (const Payment& payment : outcome.payments) paid += payment.usd;
      CHECK(paid == doctest::Approx(outcome.amount_usd).epsilon(1e-12));
    }
    CHECK(total <= c.installed_cost_usd + 1e-9);

    std::shuffle(rules.begin(), rules.end(), random);
    const Stack shuffled(rules);
    const auto again = shuffled.work_out(c, income());
    for (const Outcome& outcome : outcomes) {
      CHECK(of(shuffled, again, stack.rules()[outcome.rule].id).amount_usd == outcome.amount_usd);
    }
  }
}

TEST_CASE("rules that contradict each other or themselves are refused by name") {
  Rule a = rule("a", Kind::rebate, Basis::share_of_cost, 0.1);
  a.base_less = {"b"};
  Rule b = rule("b", Kind::rebate, Basis::share_of_cost, 0.1);
  b.base_less = {"a"};
  CHECK_THROWS_WITH_AS(
      Stack({a, b}),
      "base_less: a, b reduce each other's base in a circle; allowed: an order in which each base is known",
      errors::Contradiction);
  CHECK_THROWS_WITH_AS(Stack({b}),
                       "incentive b, base_less: a is not an incentive of this program (did you mean b?); allowed: ids "
                       "of the program's incentives",
                       errors::UnknownName);
  CHECK_THROWS_WITH_AS(
      Stack({rule("x", Kind::rebate, Basis::flat_usd, 1), rule("x", Kind::credit, Basis::flat_usd, 1)}),
      "incentive id: x stands twice; allowed: each id once", errors::DuplicateName);
  CHECK_THROWS_WITH_AS(check(rule("x", Kind::rebate, Basis::share_of_cost, 1.2)),
                       "incentive x, share_of_cost: 1.2 is out of range; allowed: 0 to 1 (0.3 is 30 %)",
                       errors::ValueOutOfRange);
  Rule backwards = rule("x", Kind::rebate, Basis::flat_usd, 1);
  backwards.valid_from = dates::make_date(2027, 1, 1);
  backwards.valid_to = dates::make_date(2026, 1, 1);
  CHECK_THROWS_WITH_AS(
      check(backwards),
      "incentive x, valid_to: 2026-01-01 is before valid_from 2027-01-01; allowed: a date on or after valid_from",
      errors::Contradiction);
  Rule carried = rule("x", Kind::rebate, Basis::flat_usd, 1);
  carried.carryforward_years = 2;
  CHECK_THROWS_AS(check(carried), errors::Contradiction);
  Rule nameless = rule("", Kind::rebate, Basis::flat_usd, 1);
  CHECK_THROWS_AS(check(nameless), errors::MissingValue);
}

TEST_CASE("raising a cap never lowers what a household gets") {
  for (double cap = 0; cap < 4000; cap += 250) {
    Rule lower = rule("r", Kind::rebate, Basis::share_of_cost, 0.4);
    lower.cap_usd = cap;
    Rule higher = lower;
    higher.cap_usd = cap + 250;
    const Stack one({lower});
    const Stack two({higher});
    CHECK(one.work_out(claim(7000), income())[0].amount_usd <= two.work_out(claim(7000), income())[0].amount_usd);
  }
}

TEST_CASE("income tiers: first limit not exceeded, edges as the tier says") {
  IncomeRules rules = income();
  rules.tiers = {{"low", 0.5, true}, {"moderate", 0.8, false}};
  CHECK(income_tier(rules, 40000, 4) == "low");
  CHECK(income_tier(rules, 40000.01, 4) == "moderate");
  CHECK(income_tier(rules, 64000, 4) == "above");
  CHECK(income_tier(rules, 63999.99, 4) == "moderate");
  CHECK(income_share(rules, 40000, 4) == 0.5);
  CHECK_THROWS_AS((void)income_share(rules, -1, 4), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)household_size_factor(0), errors::ValueOutOfRange);
}

TEST_CASE("tax tables: the year asked for, else the latest before it, else the earliest") {
  const auto table = [](int year) {
    TaxTable t;
    t.year = year;
    t.status = FilingStatus::joint;
    return t;
  };
  const TaxTables tables({table(2026), table(2024), table(2025)});
  CHECK(tables.find(2025, FilingStatus::joint)->year == 2025);
  CHECK(tables.find(2030, FilingStatus::joint)->year == 2026);
  CHECK(tables.find(2020, FilingStatus::joint)->year == 2024);
  CHECK(tables.find(2025, FilingStatus::single) == nullptr);
}
