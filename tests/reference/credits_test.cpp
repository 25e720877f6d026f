// Worked computations of 26 USC 25D and 25C and of state credits, to the dollar. "derived": worked by hand from the
// statute named; rates, caps and periods as the catalogue's federal rules cite them.
#include <doctest/doctest.h>

#include "warmledger/incentives/stack.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

Rule solar_credit_2025() {
  // 26 USC 25D(a), (b)(2), (c), (d)(1), (e)(7), (e)(8); Pub. L. 119-21 sec. 70506.
  Rule r;
  r.id = "solar-2025";
  r.title = "solar water heating credit";
  r.kind = Kind::credit;
  r.tax = Tax::federal;
  r.basis = Basis::share_of_cost;
  r.amount = 0.30;
  r.valid_from = dates::make_date(2022, 1, 1);
  r.valid_to = dates::make_date(2025, 12, 31);
  r.needs_certification = true;
  r.least_solar_share = 0.5;
  r.whole_cost_from_home_share = 0.8;
  r.carryforward_years = 50;
  r.arrival = Arrival::tax_filing;
  r.base_less_treatments = {Treatment::price_adjustment, Treatment::excluded_subsidy};
  return r;
}

Rule rebate(const std::string& id, double usd, Treatment treatment) {
  Rule r;
  r.id = id;
  r.title = id;
  r.amount = usd;
  r.treatment = treatment;
  return r;
}

Claim claim(dates::Date install, double cost, std::vector<double> limits) {
  Claim c;
  c.install_date = install;
  c.installed_cost_usd = cost;
  c.material_usd = cost * 0.6;
  c.yearly_income_usd = 60000;
  c.certified = true;
  c.solar_share = 0.65;
  c.tax_liability_usd = limits.front();
  c.yearly_tax_liability_usd = std::move(limits);
  return c;
}

IncomeRules income() {
  IncomeRules rules;
  rules.area_median_income_usd = 80000;
  return rules;
}

struct Year {
  double used;
  double carried;
};

/// Used and carried of the rule in each year from the first.
std::vector<Year> years(const Stack& stack, const Claim& c, const std::string& id) {
  std::vector<Year> out;
  for (const TaxLine& line : stack.tax_years(c, income(), stack.work_out(c, income()))) {
    if (stack.rules()[line.rule].id == id) out.push_back({line.used_usd, line.carried_usd});
  }
  return out;
}

double credit(const Claim& c, std::vector<Rule> more = {}) {
  more.push_back(solar_credit_2025());
  const Stack stack(more);
  for (const Outcome& out : stack.work_out(c, income())) {
    if (stack.rules()[out.rule].id == "solar-2025") return out.amount_usd;
  }
  return -1;
}

const dates::Date in_2025 = dates::make_date(2025, 8, 14);

}  // namespace

TEST_CASE("26 USC 25D: base, subsidies and limits, year by year (derived)") {
  CHECK(credit(claim(in_2025, 8000, {5000})) == 2400.0);

  // An excluded utility rebate of 1,000 lowers the base (136(b)); 1,500, 700 and 1,000 of tax in three years.
  const Claim three = claim(in_2025, 9000, {1500, 700, 1000});
  const Stack stack({solar_credit_2025(), rebate("utility", 1000, Treatment::excluded_subsidy)});
  const auto view = years(stack, three, "solar-2025");
  REQUIRE(view.size() == 3);
  CHECK(view[0].used == 1500.0);
  CHECK(view[0].carried == 900.0);
  CHECK(view[1].used == 700.0);
  CHECK(view[1].carried == 200.0);
  CHECK(view[2].used == 200.0);
  CHECK(view[2].carried == 0.0);

  // A dealer's discount is a lower price; a utility rebate reported as income is not.
  CHECK(credit(claim(in_2025, 8500, {3000}), {rebate("dealer", 500, Treatment::price_adjustment),
                                              rebate("utility", 750, Treatment::income)}) == 2400.0);
  // A subsidy above the cost leaves no base.
  CHECK(credit(claim(in_2025, 9000, {5000}), {rebate("utility", 9500, Treatment::excluded_subsidy)}) == 0.0);
  // Two who share the house and paid 6,000 and 4,000 (25D(e)(4), from memory): each has their share, and their limit.
  CHECK(credit(claim(in_2025, 6000, {3000})) == 1800.0);
  const auto second = years(Stack({solar_credit_2025()}), claim(in_2025, 4000, {800, 1000}), "solar-2025");
  CHECK(second[0].used == 800.0);
  CHECK(second[1].used == 400.0);
  // The choice where practice differs: subsidies that do not lower the base.
  TaxRules other;
  other.subsidies_lower_credit_base = false;
  const Stack lax({solar_credit_2025(), rebate("utility", 1000, Treatment::excluded_subsidy)}, other);
  CHECK(lax.work_out(claim(in_2025, 9000, {9000}), income())[1].amount_usd == 2700.0);
}

TEST_CASE("26 USC 25D(e)(7), (d)(1), (b)(2), (e)(3): business use, sun, certification, pools (derived)") {
  Claim c = claim(in_2025, 10000, {9000});
  c.home_share = 0.7;
  CHECK(credit(c) == 2100.0);
  c.home_share = 0.8;
  CHECK(credit(c) == 3000.0);
  Claim dim = claim(in_2025, 8000, {5000});
  dim.solar_share = 0.49;
  CHECK(credit(dim) == 0.0);
  dim.solar_share = 0.5;
  CHECK(credit(dim) == 2400.0);
  Claim uncertified = claim(in_2025, 8000, {5000});
  uncertified.certified = false;
  CHECK(credit(uncertified) == 0.0);
  Claim pool = claim(in_2025, 12000, {9000});
  pool.ineligible_cost_usd = 3000;
  CHECK(credit(pool) == 2700.0);
  Claim own = claim(in_2025, 8000, {9000});
  own.own_labor_usd = 2000;  // own labor is no expenditure
  CHECK(credit(own) == 1800.0);
}

TEST_CASE("26 USC 25D(e)(8), (h): the date on which it is completed, or of a new home first used (IRS FS-2025-05)") {
  CHECK(credit(claim(dates::make_date(2026, 1, 15), 8000, {5000})) == 0.0);  // paid in 2025 or not
  Claim paid_later = claim(dates::make_date(2025, 12, 28), 8000, {5000});
  paid_later.payment_date = dates::make_date(2026, 1, 20);
  CHECK(credit(paid_later) == 2400.0);
  CHECK(years(Stack({solar_credit_2025()}), paid_later, "solar-2025").size() == 1);
  Claim new_home = claim(dates::make_date(2025, 10, 20), 8000, {5000});
  new_home.first_use_date = dates::make_date(2026, 2, 1);
  CHECK(credit(new_home) == 0.0);
  const Stack stack({solar_credit_2025()});
  CHECK(stack.explain(stack.work_out(new_home, income())[0], new_home) ==
        "ended on 2025-12-31; the new home's first use is 2026-02-01");
}

TEST_CASE("26 USC 25D(c): what the tax of 2025 did not take is taken after the law's end (CRS IN12611; derived)") {
  const auto view = years(Stack({solar_credit_2025()}), claim(in_2025, 8000, {1500, 900}), "solar-2025");
  REQUIRE(view.size() == 2);
  CHECK(view[0].carried == 900.0);
  CHECK(view[1].used == 900.0);
  // No tax for years: all of it waits.
  const auto waits = years(Stack({solar_credit_2025()}), claim(in_2025, 8000, {0, 0, 4111.50}), "solar-2025");
  CHECK(waits[0].carried == 2400.0);
  CHECK(waits[2].used == 2400.0);
}

TEST_CASE("26 USC 25C: no carryforward, a yearly cap, and a federal rebate that lowers the price (derived)") {
  Rule pump;
  pump.id = "heat-pump";
  pump.kind = Kind::credit;
  pump.basis = Basis::share_of_cost;
  pump.amount = 0.30;
  pump.cap_usd = 2000;
  pump.arrival = Arrival::tax_filing;
  pump.date_basis = DateBasis::placed_in_service;
  pump.base_less_treatments = {Treatment::price_adjustment};
  Stack stack({pump, rebate("home-energy-rebate", 1750, Treatment::price_adjustment)});
  const Claim small = claim(in_2025, 3800, {400});
  const Outcome out = stack.work_out(small, income())[1];
  CHECK(out.base_usd == 2050.0);
  CHECK(out.computed_usd == 615.0);
  CHECK(out.amount_usd == 400.0);
  CHECK(out.lapsed_usd == 215.0);
  CHECK(Stack({pump}).work_out(claim(in_2025, 8000, {9000}), income())[0].amount_usd == 2000.0);
}

TEST_CASE("state formulas of the statutes named (derived)") {
  Rule state = solar_credit_2025();
  state.id = "state";
  state.tax = Tax::state;
  state.valid_to.reset();
  state.base_less_treatments.clear();
  const auto work = [&](const Rule& rule, double cost, double state_tax, std::vector<double> before = {}) {
    Claim c = claim(in_2025, cost, {9000});
    c.state_tax_liability_usd = state_tax;
    c.received_before_usd = std::move(before);
    return Stack({rule}).work_out(c, income())[0];
  };
  SUBCASE("Haw. Rev. Stat. 235-12.5: 35 %, 2,250; refundable at 30 % less; the federal base stays whole") {
    state.amount = 0.35;
    state.cap_usd = 2250;
    CHECK(work(state, 7500, 9000).amount_usd == 2250.0);
    CHECK(work(state, 6000, 9000).amount_usd == 2100.0);
    Rule refund = state;
    refund.id = "refund";
    refund.amount = 0.245;
    refund.cap_usd = 1575;
    refund.refundable = true;
    refund.one_of = state.one_of = "hawaii";
    CHECK(work(refund, 7500, 0).amount_usd == 1575.0);
    Claim both = claim(in_2025, 7500, {9000});
    both.state_tax_liability_usd = 9000;
    const Stack stack({state, refund, solar_credit_2025()});
    double total = 0;
    for (const Outcome& out : stack.work_out(both, income())) total += out.amount_usd;
    CHECK(total == 4500.0);  // 2,250 of each; the refund is the worse choice here
    both.state_tax_liability_usd = 0;
    double poor = 0;
    for (const Outcome& out : stack.work_out(both, income())) poor += out.amount_usd;
    CHECK(poor == 3825.0);  // and the better one here
  }
  SUBCASE("N.Y. Tax Law 606(g-1): 25 % of cost net of rebates") {
    state.amount = 0.25;
    state.cap_usd = 5000;
    state.carryforward_years = 5;
    state.base_less_kinds = {Kind::rebate, Kind::grant};
    Claim c = claim(in_2025, 9000, {9000});
    c.state_tax_liability_usd = 9000;
    CHECK(Stack({state, rebate("state-rebate", 1500, Treatment::none)}).work_out(c, income())[1].amount_usd == 1875.0);
  }
  SUBCASE("M.G.L. c. 62 s. 6(d): 15 %, 1,000 over all years") {
    state.amount = 0.15;
    state.cap_usd = 1000;
    CHECK(work(state, 8000, 9000, {300}).amount_usd == 700.0);
  }
  SUBCASE("A.R.S. 43-1083: 25 %, 1,000, five years") {
    state.amount = 0.25;
    state.cap_usd = 1000;
    state.carryforward_years = 5;
    const Outcome out = work(state, 6500, 640);
    REQUIRE(out.payments.size() == 2);
    CHECK(out.payments[0].usd == 640.0);
    CHECK(out.payments[1].usd == 360.0);
  }
  SUBCASE("S.C. Code 12-6-3587: 25 %, yearly the lesser of 3,500 and half the tax; two readings of what is carried") {
    state.amount = 0.25;
    state.yearly_cap_usd = 3500;
    state.most_share_of_liability = 0.5;
    state.carryforward_years = 10;
    state.carries = Carries::over_yearly_cap;
    Outcome out = work(state, 16000, 2400);
    REQUIRE(out.payments.size() == 2);
    CHECK(out.payments[0].usd == 1200.0);
    CHECK(out.payments[1].usd == 500.0);
    CHECK(out.lapsed_usd == 2300.0);
    state.carries = Carries::all_unused;
    out = work(state, 16000, 2400);
    REQUIRE(out.payments.size() == 4);
    CHECK(out.payments[1].usd == 1200.0);
    CHECK(out.amount_usd == 4000.0);
  }
  SUBCASE("Idaho Code 63-3022C: 40, 20, 20, 20 % deducted, at most 5,000 a year; worth the rate") {
    state.kind = Kind::deduction;
    state.carryforward_years = 0;
    state.amount = 1;
    state.yearly_shares = {0.4, 0.2, 0.2, 0.2};
    state.yearly_cap_usd = 5000;
    TaxRules taxes;
    taxes.state_rate = 0.05;
    const auto deducted = [&](double cost) {
      Claim c = claim(in_2025, cost, {9000});
      c.state_tax_liability_usd = 9000;
      return Stack({state}, taxes).work_out(c, income())[0];
    };
    const Outcome small = deducted(9000);
    REQUIRE(small.payments.size() == 4);
    CHECK(small.payments[0].usd == 180.0);  // 5 % of 3,600
    CHECK(small.payments[3].usd == 90.0);   // 5 % of 1,800
    const Outcome large = deducted(20000);
    CHECK(large.payments[0].usd == 250.0);  // 5 % of 5,000: 8,000 is above the yearly cap
    CHECK(large.payments[1].usd == 200.0);
  }
  SUBCASE("O.R.S. 316.116: 0.60 dollars a first-year kWh, 1,500") {
    state.basis = Basis::usd_per_first_year_kwh;
    state.amount = 0.60;
    state.cap_usd = 1500;
    Claim c = claim(in_2025, 9000, {9000});
    c.state_tax_liability_usd = 9000;
    c.first_year_saving_kwh = 2400;
    CHECK(Stack({state}).work_out(c, income())[0].amount_usd == 1440.0);
    c.first_year_saving_kwh = 2700;
    CHECK(Stack({state}).work_out(c, income())[0].amount_usd == 1500.0);
  }
}

TEST_CASE("a state or local credit never lowers the federal tax, nor a federal one the state's") {
  Rule local = solar_credit_2025();
  local.id = "county";
  local.tax = Tax::local;
  local.base_less_treatments.clear();
  Claim c = claim(in_2025, 8000, {2400});
  c.local_tax_liability_usd = 2400;
  const Stack stack({local, solar_credit_2025()});
  for (const Outcome& out : stack.work_out(c, income())) CHECK(out.amount_usd == 2400.0);
  c.local_tax_liability_usd.reset();
  const auto unknown = stack.work_out(c, income());
  CHECK(unknown[0].verdict == Verdict::liability_unknown);
  CHECK(unknown[1].amount_usd == 2400.0);
}

TEST_CASE("a household that itemizes pays federal tax on the state tax it no longer pays (26 USC 164; derived)") {
  // Single, 2025: Rev. Proc. 2024-40 (brackets), Pub. L. 119-21 sec. 70102 (deduction); from secondary accounts.
  TaxTable table;
  table.year = 2025;
  table.standard_deduction_usd = 15750;
  table.brackets = {{11925, 0.10}, {48475, 0.12}, {103350, 0.22}};
  Rule state = solar_credit_2025();
  state.id = "state";
  state.tax = Tax::state;
  Claim c = claim(in_2025, 8000, {9000});
  c.state_tax_liability_usd = 5000;
  c.federal_table = &table;
  const Stack stack({state});
  CHECK(stack.work_out(c, income())[0].tax_usd == 0.0);
  c.itemizes = true;
  CHECK(stack.work_out(c, income())[0].tax_usd == 288.0);  // 12 % of 2,400: taxable 44,250 to 46,650 of 48,475
  TaxRules off;
  off.state_credits_lower_itemized_deduction = false;
  CHECK(Stack({state}, off).work_out(c, income())[0].tax_usd == 0.0);
  // Taxable money: 12 % of 500 to 48,475 of taxable income.
  Claim taxed = claim(in_2025, 8000, {9000});
  taxed.federal_table = c.federal_table;
  CHECK(Stack({rebate("r", 500, Treatment::income)}).work_out(taxed, income())[0].tax_usd == 60.0);
}

TEST_CASE("Pub. L. 117-169 sec. 50122: share of cost by income, item cap, what was received before (derived)") {
  const auto tier = [](const std::string& id, double share, double least, double most) {
    Rule r;
    r.id = id;
    r.basis = Basis::share_of_cost;
    r.amount = share;
    r.cap_usd = 1750;
    if (least > 0) r.least_income_usd = least;
    r.most_income_usd = most;
    return r;
  };
  // Area median 80,000 for four: below 80 % all of the cost, to 150 % half of it.
  const Stack stack({tier("low", 1.0, 0, 63999.99), tier("moderate", 0.5, 64000, 120000)});
  const auto paid = [&](double yearly_income, double cost) {
    Claim c = claim(in_2025, cost, {0});
    c.yearly_income_usd = yearly_income;
    double sum = 0;
    for (const Outcome& out : stack.work_out(c, income())) sum += out.amount_usd;
    return sum;
  };
  CHECK(paid(63200, 2900) == 1750.0);
  CHECK(paid(64000, 2900) == 1450.0);
  CHECK(paid(96000, 2900) == 1450.0);
  CHECK(paid(120800, 2900) == 0.0);
  CHECK(paid(80000, 4000) == 1750.0);
}
