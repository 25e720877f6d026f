// Incentive law and income limits against published rules and worked computations.
#include <doctest/doctest.h>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/incentives/stack.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

const catalog::Catalog& data() {
  static const catalog::Catalog catalog = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  return catalog;
}

struct Case {
  dates::Date install;
  double cost;
  double liability;
};

/// The federal rules of the catalogue alone, worked out for one project.
double federal_credit(const Case& c, std::vector<Payment>* payments = nullptr) {
  Claim claim;
  claim.install_date = c.install;
  claim.installed_cost_usd = c.cost;
  claim.tax_liability_usd = c.liability;
  claim.occupants = 4;
  IncomeRules income;
  income.area_median_income_usd = 80000;
  std::vector<Rule> rules = data().jurisdictions.at("federal");
  for (Rule& rule : rules) rule.needs_certification = false;  // of no interest here
  const Stack stack(rules);
  double total = 0;
  for (const Outcome& outcome : stack.work_out(claim, income)) {
    total += outcome.amount_usd;
    if (payments != nullptr) payments->insert(payments->end(), outcome.payments.begin(), outcome.payments.end());
  }
  return total;
}

}  // namespace

TEST_CASE("26 USC 25D by date of installation: rate, cap and end") {
  // Rates: 25D(g); the end: Public Law 119-21 section 70506. Amounts derived from the statute.
  CHECK(federal_credit({dates::make_date(2008, 6, 1), 9000, 1e6}) == 2000.0);    // 30 %, cap 2000
  CHECK(federal_credit({dates::make_date(2009, 6, 1), 9000, 1e6}) == 2700.0);    // cap gone
  CHECK(federal_credit({dates::make_date(2021, 6, 1), 8000, 1e6}) == 2080.0);    // 26 %
  CHECK(federal_credit({dates::make_date(2025, 8, 14), 8000, 5000}) == 2400.0);  // 30 %
  CHECK(federal_credit({dates::make_date(2025, 12, 31), 8000, 5000}) == 2400.0);
  CHECK(federal_credit({dates::make_date(2026, 1, 1), 8000, 5000}) == 0.0);
  CHECK(federal_credit({dates::make_date(2005, 12, 31), 8000, 5000}) == 0.0);
}

TEST_CASE("26 USC 25D(c): limited by the tax, the rest carried forward") {
  std::vector<Payment> payments;
  CHECK(federal_credit({dates::make_date(2021, 5, 1), 8000, 1000}, &payments) == 2080.0);
  REQUIRE(payments.size() == 3);
  CHECK(payments[0].usd == 1000.0);
  CHECK(dates::iso(payments[0].date) == "2022-04-15");
  CHECK(payments[2].usd == 80.0);
}

TEST_CASE("a rebate that is a price adjustment comes off the credit's base (26 USC 136(b), derived)") {
  Claim claim;
  claim.install_date = dates::make_date(2025, 3, 1);
  claim.installed_cost_usd = 9000;
  claim.tax_liability_usd = 1e6;
  IncomeRules income;
  income.area_median_income_usd = 80000;
  Rule rebate;
  rebate.id = "utility";
  rebate.title = "utility rebate";
  rebate.basis = Basis::flat_usd;
  rebate.amount = 1000;
  Rule credit;
  credit.id = "credit";
  credit.title = "credit";
  credit.kind = Kind::credit;
  credit.arrival = Arrival::tax_filing;
  credit.basis = Basis::share_of_cost;
  credit.amount = 0.3;
  credit.base_less = {"utility"};
  const Stack stack({credit, rebate});
  CHECK(stack.work_out(claim, income)[1].amount_usd == 2400.0);
}

TEST_CASE("state credit formulas of the statutes (derived vectors)") {
  IncomeRules income;
  income.area_median_income_usd = 80000;
  const auto credit = [&](double share, double cap, double cost, double liability, int carry) {
    Rule rule;
    rule.id = "state";
    rule.title = "state";
    rule.kind = Kind::credit;
    rule.arrival = Arrival::tax_filing;
    rule.basis = Basis::share_of_cost;
    rule.amount = share;
    rule.cap_usd = cap;
    rule.carryforward_years = carry;
    Claim claim;
    claim.install_date = dates::make_date(2026, 1, 1);
    claim.installed_cost_usd = cost;
    claim.tax_liability_usd = liability;
    return Stack({rule}).work_out(claim, income)[0];
  };
  CHECK(credit(0.35, 2250, 7500, 1e6, 0).amount_usd == 2250.0);  // Hawaii, HRS 235-12.5
  CHECK(credit(0.35, 2250, 6000, 1e6, 0).amount_usd == 2100.0);
  CHECK(credit(0.25, 5000, 7500, 1e6, 5).amount_usd == 1875.0);  // New York, Tax Law 606(g-1), cost net of a rebate
  const Outcome arizona = credit(0.25, 1000, 6500, 640, 5);      // Arizona, ARS 43-1083
  CHECK(arizona.payments[0].usd == 640.0);
  CHECK(arizona.payments[1].usd == 360.0);
}
