// Incentive law and income limits against published rules and worked computations.
#include <doctest/doctest.h>

#include <array>

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
  const Stack stack(data().jurisdictions.at("federal"));
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

TEST_CASE("income limits by household size: federal factors on an illustrative four-person median of 81,700") {
  // Factors 0.70 0.80 0.90 1.00 1.08 1.16 1.24 1.32 (12 CFR 1282.17); limits derived for both rounding directions.
  static constexpr std::array<double, 8> half_nearest{28600, 32700, 36750, 40850, 44100, 47400, 50650, 53900};
  static constexpr std::array<double, 8> half_up{28600, 32700, 36800, 40850, 44150, 47400, 50700, 53950};
  static constexpr std::array<double, 8> eighty_nearest{45750, 52300, 58800, 65350, 70600, 75800, 81050, 86300};
  static constexpr std::array<double, 8> eighty_up{45800, 52300, 58850, 65400, 70600, 75850, 81050, 86300};
  IncomeRules nearest;
  nearest.area_median_income_usd = 81700;
  IncomeRules up = nearest;
  up.rounding = LimitRounding::up;
  for (int persons = 1; persons <= 8; ++persons) {
    const auto i = static_cast<std::size_t>(persons - 1);
    CHECK(income_limit_usd(nearest, 0.5, persons) == half_nearest[i]);
    CHECK(income_limit_usd(up, 0.5, persons) == half_up[i]);
    CHECK(income_limit_usd(nearest, 0.8, persons) == eighty_nearest[i]);
    CHECK(income_limit_usd(up, 0.8, persons) == eighty_up[i]);
  }
  CHECK(household_size_factor(9) == doctest::Approx(1.40).epsilon(1e-12));
}

TEST_CASE(
    "federal tax by the schedule, 2025 and 2026 (Rev. Proc. 2024-40, Public Law 119-21, Rev. Proc. 2025-32; vectors "
    "derived)") {
  struct TaxCase {
    int year;
    FilingStatus status;
    double income, tax;
  };
  using enum FilingStatus;
  for (const TaxCase& c : {TaxCase{2025, single, 52000, 4111.50}, TaxCase{2026, single, 52000, 4060.00},
                           TaxCase{2025, joint, 62000, 3183.00}, TaxCase{2026, joint, 62000, 3080.00},
                           TaxCase{2025, head_of_household, 48000, 2585.00},
                           TaxCase{2026, head_of_household, 48000, 2508.00}, TaxCase{2025, joint, 140000, 13698.00},
                           TaxCase{2026, joint, 140000, 13140.00}, TaxCase{2026, single, 10000, 0.0}}) {
    const TaxTable* table = data().taxes.find(c.year, c.status);
    REQUIRE(table != nullptr);
    CHECK(table->year == c.year);
    CHECK(schedule_tax_usd(*table, c.income) == doctest::Approx(c.tax).epsilon(1e-12));
  }
}
