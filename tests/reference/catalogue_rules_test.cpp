// data/incentives: what each rule says against the statute it cites. What the engine makes of rules is tested
// elsewhere.
#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "warmledger/catalog/catalog.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

const catalog::Catalog& data() {
  static const catalog::Catalog read = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  return read;
}

const Rule& rule(const std::string& file, const std::string& id) {
  for (const Rule& one : data().jurisdictions.at(file)) {
    if (one.id == id) return one;
  }
  FAIL("no rule " << id);
  return data().jurisdictions.at(file).front();
}

dates::Date day(int year, unsigned month, unsigned day_of_month) {
  return dates::make_date(year, month, day_of_month);
}

/// The versions of a rule that hold on a day.
std::vector<const Rule*> holding(const std::string& file, const std::string& version, dates::Date on) {
  std::vector<const Rule*> found;
  for (const Rule& one : data().jurisdictions.at(file)) {
    if (one.version_of != version) continue;
    if ((one.valid_from && on < *one.valid_from) || (one.valid_to && *one.valid_to < on)) continue;
    found.push_back(&one);
  }
  return found;
}

}  // namespace

TEST_CASE("every rule of the catalogue has a title, a payer, a citation with a place in the law, and a standing") {
  CHECK(data().jurisdictions.size() == 16);
  std::set<std::string> ids;
  std::size_t verified = 0;
  for (const auto& [file, rules] : data().jurisdictions) {
    CAPTURE(file);
    CHECK_FALSE(rules.empty());
    for (const Rule& one : rules) {
      CAPTURE(one.id);
      CHECK(ids.insert(one.id).second);  // once in all files, so that a program may name any of them together
      CHECK(one.id.starts_with(file.substr(0, 7)));
      CHECK(one.title.size() > 20);
      CHECK(one.payer.size() > 10);
      CHECK(one.citation.size() > 20);
      CHECK(std::any_of(one.citation.begin(), one.citation.end(), [](char c) { return c >= '0' && c <= '9'; }));
      CHECK(one.standing != Standing::invented);
      verified += one.standing == Standing::verified ? 1 : 0;
      // What was not looked up is named where it stands.
      if (one.standing == Standing::from_memory) CHECK(one.citation.find("from memory") != std::string::npos);
      if (one.standing == Standing::verified) CHECK(one.citation.find(" cap from memory") == std::string::npos);
    }
  }
  CHECK(verified >= 15);
}

TEST_CASE("26 USC 25D by day: rate and cap on both sides of every edge") {
  struct Edge {
    dates::Date on;
    double rate;  ///< 0: none
    double cap;   ///< 0: none
  };
  for (const Edge& edge :
       {Edge{day(2005, 12, 31), 0, 0}, Edge{day(2006, 1, 1), 0.30, 2000}, Edge{day(2008, 12, 31), 0.30, 2000},
        Edge{day(2009, 1, 1), 0.30, 0}, Edge{day(2019, 12, 31), 0.30, 0}, Edge{day(2020, 1, 1), 0.26, 0},
        Edge{day(2021, 12, 31), 0.26, 0}, Edge{day(2022, 1, 1), 0.30, 0}, Edge{day(2025, 12, 31), 0.30, 0},
        Edge{day(2026, 1, 1), 0, 0}, Edge{day(2033, 1, 1), 0, 0}}) {
    CAPTURE(dates::iso(edge.on));
    const auto found = holding("federal", "federal-solar-water-heating", edge.on);
    REQUIRE(found.size() == (edge.rate > 0 ? 1 : 0));
    if (found.empty()) continue;
    const Rule& one = *found.front();
    CHECK(one.amount == edge.rate);
    CHECK(one.cap_usd == (edge.cap > 0 ? std::optional(edge.cap) : std::nullopt));
    CHECK(one.kind == Kind::credit);
    CHECK(one.tax == Tax::federal);
    CHECK(one.basis == Basis::share_of_cost);
    CHECK(one.part == CostPart::cost);                // labor counts: 25D(e)(1)
    CHECK_FALSE(one.refundable);                      // 25D(c) and 26(a)
    CHECK(one.carryforward_years == 50);              // no limit in 25D(c)
    CHECK(one.date_basis == DateBasis::expenditure);  // 25D(e)(8)
    CHECK(one.least_solar_share == 0.5);              // 25D(d)(1)
    CHECK(one.needs_certification);                   // 25D(b)(2)
    CHECK(one.whole_cost_from_home_share == 0.8);     // 25D(e)(7)
    CHECK(one.tenures.empty());                       // owner or renter
    CHECK_FALSE(one.most_income_share.has_value());   // no phase-out by income
    CHECK_FALSE(one.existing_home_only);              // new homes too
    CHECK(one.standing == Standing::verified);
    CHECK(one.base_less_treatments == std::vector{Treatment::price_adjustment, Treatment::excluded_subsidy});
  }
}

TEST_CASE("26 USC 25C for a heat pump water heater: 30 %, $2,000, no carryforward, to the end of 2025") {
  const Rule& one = rule("federal-home-electrification", "federal-heat-pump-water-heater-2023");
  CHECK(one.amount == 0.30);
  CHECK(one.cap_usd == 2000.0);
  CHECK(one.carryforward_years == 0);
  CHECK(one.date_basis == DateBasis::placed_in_service);
  CHECK(one.existing_home_only);
  CHECK(one.valid_to == day(2025, 12, 31));
  CHECK(one.equipment == std::vector{Equipment::heat_pump_water_heater});
}

TEST_CASE("42 USC 18795a: shares by income, cap for the water heater, who counts as eligible by another program") {
  const Rule& low = rule("federal-home-electrification", "federal-home-electrification-low");
  const Rule& moderate = rule("federal-home-electrification", "federal-home-electrification-moderate");
  CHECK(low.amount == 1.0);
  CHECK(low.most_income_share == 0.8);  // "less than 80 percent": the edge is counted in, as the file says
  CHECK_FALSE(low.least_income_share.has_value());
  CHECK(moderate.amount == 0.5);
  CHECK(moderate.least_income_share == 0.8);  // "not less than 80 percent"
  CHECK(moderate.most_income_share == 1.5);   // (c)(4); "less than 150 percent" in (d)(4)
  CHECK(moderate.income_waived_by.any());
  for (const Rule* one : {&low, &moderate}) {
    CHECK(one->cap_usd == 1750.0);
    CHECK(one->kind == Kind::rebate);
    CHECK(one->treatment == Treatment::price_adjustment);                     // IRS Announcement 2024-19
    CHECK(one->equipment == std::vector{Equipment::heat_pump_water_heater});  // solar is not on the list
    CHECK(one->one_of == "federal-home-electrification");
    CHECK(one->valid_to == day(2031, 9, 30));
  }
}

TEST_CASE("state credits: rate, cap, carryforward and period as the statutes say") {
  struct State {
    const char* file;
    const char* id;
    double rate;
    double cap;  ///< 0: none
    int carry_years;
  };
  for (const State& s : {State{"hawaii", "hawaii-solar-water-carried", 0.35, 2250, 50},               // HRS 235-12.5
                         State{"hawaii", "hawaii-solar-water-refunded", 0.245, 1575, 0},              // less 30 %
                         State{"hawaii", "hawaii-solar-water-refunded-small-income", 0.35, 2250, 0},  // Act 154 of 2009
                         State{"new-york", "new-york-solar-2006-september", 0.25, 5000, 5},           // 606(g-1)
                         State{"massachusetts", "massachusetts-renewable", 0.15, 1000, 3},            // c. 62 s. 6(d)
                         State{"arizona", "arizona-solar", 0.25, 1000, 5},                            // ARS 43-1083
                         State{"south-carolina", "south-carolina-solar", 0.25, 0, 10},                // 12-6-3587
                         State{"oregon", "oregon-solar-water-2006", 0.60, 1500, 5},                   // ORS 316.116
                         State{"montana", "montana-alternative-energy", 1.0, 500, 4},                 // 15-32-201
                         State{"utah", "utah-clean-energy", 0.25, 2000, 4},                           // 59-10-1014
                         State{"new-mexico", "new-mexico-solar-2006", 0.10, 9000, 10},                // 7-2-18.14
                         State{"new-mexico", "new-mexico-solar-2020", 0.10, 6000, 5},                 // 7-2-18.31
                         State{"north-carolina", "north-carolina-renewable", 0.35, 1400, 5}}) {       // 105-129.16A
    CAPTURE(s.id);
    const Rule& one = rule(s.file, s.id);
    CHECK(one.kind == Kind::credit);
    CHECK(one.tax == Tax::state);
    CHECK(one.paid_by == Payer::state);
    CHECK(one.amount == s.rate);
    CHECK(one.cap_usd == (s.cap > 0 ? std::optional(s.cap) : std::nullopt));
    CHECK(one.carryforward_years == s.carry_years);
  }
  const Rule& carolina = rule("south-carolina", "south-carolina-solar");
  CHECK(carolina.yearly_cap_usd == 3500.0);
  CHECK(carolina.most_share_of_liability == 0.5);
  CHECK(carolina.carries == Carries::over_yearly_cap);
  CHECK(carolina.needs_certification);
  // Hawaii: one credit for a system, whichever way it is taken.
  for (const Rule& one : data().jurisdictions.at("hawaii")) CHECK(one.one_of == "hawaii-renewable-energy-credit");
  CHECK(rule("hawaii", "hawaii-solar-water-refunded-small-income-joint").most_income_usd == 40000.0);
  CHECK(rule("new-mexico", "new-mexico-solar-2024").refundable);
}

TEST_CASE("state deductions and exemptions") {
  const Rule& idaho = rule("idaho", "idaho-alternative-energy");  // Idaho Code 63-3022C
  CHECK(idaho.kind == Kind::deduction);
  CHECK(idaho.yearly_shares == std::vector{0.4, 0.2, 0.2, 0.2});
  CHECK(idaho.yearly_cap_usd == 5000.0);
  CHECK(rule("missouri", "missouri-audit-joint").yearly_cap_usd == 2000.0);  // RSMo 143.121.8
  CHECK(rule("florida", "florida-sales-tax").kind == Kind::sales_tax_exemption);
  CHECK(rule("florida", "florida-property-tax").valid_from == day(2013, 1, 1));  // F.S. 193.624(3)
  CHECK(rule("new-york", "new-york-property-tax").years == 15);                  // RPTL 487
  CHECK(rule("maryland", "maryland-sales-tax").amount == 1.0);                   // Tax-General 11-230
}

TEST_CASE("ends and beginnings of state rules, both sides of the edge") {
  const auto holds = [](const Rule& one, dates::Date on) {
    return !((one.valid_from && on < *one.valid_from) || (one.valid_to && *one.valid_to < on));
  };
  struct Edge {
    const char* file;
    const char* id;
    dates::Date within, outside;
  };
  for (const Edge& e : {Edge{"hawaii", "hawaii-solar-water-carried", day(2009, 7, 1), day(2009, 6, 30)},
                        Edge{"new-york", "new-york-solar-2006", day(2006, 8, 31), day(2006, 9, 1)},
                        Edge{"new-york", "new-york-solar-2006-september", day(2006, 9, 1), day(2006, 8, 31)},
                        Edge{"montana", "montana-alternative-energy", day(2021, 12, 31), day(2022, 1, 1)},
                        Edge{"oregon", "oregon-solar-water-2006", day(2015, 8, 31), day(2015, 9, 1)},
                        Edge{"oregon", "oregon-solar-water-2015", day(2017, 12, 31), day(2018, 1, 1)},
                        Edge{"utah", "utah-clean-energy", day(2027, 12, 31), day(2028, 1, 1)},  // H.B. 264 of 2025
                        Edge{"new-mexico", "new-mexico-solar-2006", day(2016, 12, 30),
                             day(2016, 12, 31)},  // "before December 31, 2016"
                        Edge{"new-mexico", "new-mexico-solar-2020", day(2020, 3, 1), day(2020, 2, 29)},
                        Edge{"new-mexico", "new-mexico-solar-2024", day(2031, 12, 31), day(2032, 1, 1)},
                        Edge{"missouri", "missouri-audit-single", day(2020, 12, 31), day(2021, 1, 1)},
                        Edge{"north-carolina", "north-carolina-renewable", day(2015, 12, 31), day(2016, 1, 1)},
                        Edge{"florida", "florida-property-tax", day(2013, 1, 1), day(2012, 12, 31)}}) {
    CAPTURE(e.id);
    CHECK(holds(rule(e.file, e.id), e.within));
    CHECK_FALSE(holds(rule(e.file, e.id), e.outside));
  }
  // Versions of one rule never hold together.
  for (const auto& [file, rules] : data().jurisdictions) {
    for (const Rule& one : rules) {
      if (one.version_of.empty()) continue;
      for (const auto& edge : {one.valid_from, one.valid_to}) {
        if (edge) CHECK(holding(file, one.version_of, *edge).size() == 1);
      }
    }
  }
}
