#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <random>
#include <span>
#include <string>
#include <vector>

#include "warmledger/economics/cost_tests.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using namespace warmledger::economics;
using money::Decimal;

namespace {

template <class N>
const CostTestResult<N>& at(const std::array<CostTestResult<N>, cost_test_count>& results, CostTest test) {
  return results[static_cast<std::size_t>(test)];
}

}  // namespace

TEST_CASE("five tests of one program (constructed; worked by hand from the manual's table, partly from memory)") {
  ItemAmounts<double> amounts;
  amounts[CostItem::avoided_supply] = 1200;
  amounts[CostItem::bill_reduction] = 1500;
  amounts[CostItem::incentive] = 400;
  amounts[CostItem::tax_credit] = 300;
  amounts[CostItem::administration] = 100;
  amounts[CostItem::participant_cost] = 1600;
  amounts[CostItem::outside_benefit] = 150;
  struct Expected {
    CostTest test;
    double benefits;
    double costs;
    double net;
    double ratio;
  };
  const auto results = cost_tests(amounts);
  for (const Expected& expected : {Expected{CostTest::participant, 2200, 1600, 600, 1.3750},
                                   Expected{CostTest::administrator, 1200, 500, 700, 2.4000},
                                   Expected{CostTest::ratepayer_impact, 1200, 2000, -800, 0.6000},
                                   Expected{CostTest::total_resource, 1200, 1400, -200, 0.8571},
                                   Expected{CostTest::societal, 1350, 1700, -350, 0.7941}}) {
    CAPTURE(title(expected.test));
    const auto& result = at(results, expected.test);
    CHECK(result.benefits == expected.benefits);
    CHECK(result.costs == expected.costs);
    CHECK(result.net == expected.net);
    CHECK(std::fabs(result.ratio.value.value() - expected.ratio) <= 0.00005001);
  }
}

TEST_CASE("a test's outcome does not depend on the rates of the others") {
  const std::vector<CostStream<double>> streams{
      {CostItem::participant_cost, CostItem::avoided_equipment, {6000, 0, 0, -50, -900}, {}},
      {CostItem::bill_reduction, CostItem::bill_increase, {0, 300, 310, 320, 330}, {}},
      {CostItem::avoided_supply, CostItem::increased_supply, {0, 200, 210, 220, 230}, {}},
      {CostItem::administration, CostItem::administration, {240}, {}}};
  const auto all = std::span<const CostStream<double>>(streams);
  const auto alike = cost_tests(all, std::array<double, cost_test_count>{0.05, 0.05, 0.03, 0.05, 0.03});
  const auto apart = cost_tests(all, std::array<double, cost_test_count>{0.05, -2, 0.03, -2, 0.031});
  for (const std::size_t test : {0U, 2U}) {
    REQUIRE(alike[test].result);
    CHECK(alike[test].result->benefits == apart[test].result->benefits);
    CHECK(alike[test].result->costs == apart[test].result->costs);
  }
  CHECK(alike[4].result->net != apart[4].result->net);
  CHECK_FALSE(apart[1].result);
  const double nothing = std::numeric_limits<double>::quiet_NaN();
  CHECK_FALSE(cost_tests(all, std::array<double, cost_test_count>{nothing, nothing, 0.03, 0.05, 0.03})[1].result);
}

TEST_CASE("transfers cancel: participant and ratepayers together are the total resource test") {
  std::mt19937_64 random(37);
  std::uniform_int_distribution<int> cents(0, 1000000);
  for (int trial = 0; trial < 1000; ++trial) {
    ItemAmounts<Decimal> amounts;
    for (Decimal& amount : amounts.amounts) amount = Decimal(Decimal(cents(random)) / 100);
    const auto results = cost_tests(amounts);
    const auto net = [&](CostTest test) { return at(results, test).net; };
    const auto gap = [](const Decimal& value) { return std::fabs(money::to_double(value)); };
    CHECK(gap(net(CostTest::participant) + net(CostTest::ratepayer_impact) - net(CostTest::total_resource)) < 1e-30);
    // The administrator looks neither at bills nor at what another utility pays; society does not count the credit but
    // counts outside effects.
    CHECK(gap(net(CostTest::administrator) - net(CostTest::ratepayer_impact) - amounts[CostItem::bill_reduction] -
              amounts[CostItem::utility_rebate] + amounts[CostItem::bill_increase]) < 1e-30);
    CHECK(gap(net(CostTest::total_resource) - amounts[CostItem::tax_credit] + amounts[CostItem::outside_benefit] -
              amounts[CostItem::outside_cost] - net(CostTest::societal)) < 1e-30);
    // A larger rebate moves money from ratepayers to the participant and no other test but the administrator's.
    ItemAmounts<Decimal> richer = amounts;
    richer[CostItem::incentive] += Decimal(100);
    const auto after = cost_tests(richer);
    CHECK(gap(at(after, CostTest::participant).net - net(CostTest::participant) - 100) < 1e-30);
    CHECK(gap(at(after, CostTest::ratepayer_impact).net - net(CostTest::ratepayer_impact) + 100) < 1e-30);
    CHECK(gap(at(after, CostTest::total_resource).net - net(CostTest::total_resource)) < 1e-30);
    CHECK(gap(at(after, CostTest::societal).net - net(CostTest::societal)) < 1e-30);
    // Ratio above 1 and positive net are the same statement.
    for (const auto& result : results) {
      if (result.ratio.value) CHECK((*result.ratio.value > 1) == (result.net > 0));
    }
  }
}

TEST_CASE("a fuel switch: the rise of one bill and its supply enter where they should") {
  ItemAmounts<double> amounts;
  amounts[CostItem::bill_increase] = 90;
  amounts[CostItem::increased_supply] = 70;
  const auto results = cost_tests(amounts);
  CHECK(at(results, CostTest::participant).net == -90);
  CHECK(at(results, CostTest::ratepayer_impact).net == 20);
  CHECK(at(results, CostTest::administrator).net == -70);
  CHECK(at(results, CostTest::total_resource).net == -70);
  CHECK(at(results, CostTest::societal).net == -70);
}

TEST_CASE("no costs is none with a reason, and amounts that are no present values are refused by item") {
  ItemAmounts<double> amounts;
  amounts[CostItem::bill_reduction] = 10;
  const auto free = cost_test(CostTest::participant, amounts);
  CHECK(free.net == 10);
  CHECK_FALSE(free.ratio.value.has_value());
  CHECK(free.ratio.why_none == "there are no costs to compare benefits with");
  // A credit above all costs leaves total resource costs below zero: no ratio either.
  amounts[CostItem::tax_credit] = 5;
  CHECK_FALSE(cost_test(CostTest::total_resource, amounts).ratio.value.has_value());
  amounts[CostItem::administration] = -1;
  CHECK_THROWS_WITH_AS(
      (void)cost_test(CostTest::societal, amounts),
      "Program administration: -1 is out of range; allowed: finite present values of 0 or more dollars",
      errors::ValueOutOfRange);
}

TEST_CASE("the table of entries can be read") {
  const std::string table = cost_test_table();
  CHECK(table.find("Participant bill reduction              | benefit               | -                     | cost") !=
        std::string::npos);
  CHECK(table.find("less cost") != std::string::npos);
  CHECK(std::count(table.begin(), table.end(), '\n') == static_cast<std::ptrdiff_t>(cost_item_count) + 1);
  CHECK(usual_discount_rate(CostTest::participant) == "the participant's");
  CHECK(usual_discount_rate(CostTest::total_resource) == "the administrator's");
}
