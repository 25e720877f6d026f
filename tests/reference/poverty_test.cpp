// data/poverty.csv and data/income_tiers.csv against what the agencies published.
#include <algorithm>
#include <array>
#include <string>

#include <doctest/doctest.h>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

const catalog::Catalog& data() {
  static const catalog::Catalog read = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  return read;
}

const PovertyGuideline& on(int year, unsigned month, unsigned day, PovertyRegion region) {
  const PovertyGuideline* found = data().poverty.find(dates::make_date(year, month, day), region);
  REQUIRE(found != nullptr);
  return *found;
}

IncomeRules rules() {
  IncomeRules made;
  made.area_median_income_usd = 81700;
  made.rounding = LimitRounding::nearest;
  made.poverty = on(2026, 9, 1, PovertyRegion::contiguous);
  return made;
}

std::string tier(const std::string& definition, double income, int persons, const IncomeRules& by) {
  for (const TierFinding& found : find_tiers(data().income_tiers, by, income, persons)) {
    if (found.definition == definition) return found.tier;
  }
  FAIL("no definition " << definition);
  return {};
}

}  // namespace

TEST_CASE("poverty guidelines 2026: 91 FR 1797, all sizes of all three areas (read in the notice's table)") {
  using enum PovertyRegion;
  struct Area {
    PovertyRegion region;
    std::array<double, 8> usd;
    double each_more;
  };
  for (const Area& area : {Area{contiguous, {15960, 21640, 27320, 33000, 38680, 44360, 50040, 55720}, 5680},
                           Area{alaska, {19950, 27050, 34150, 41250, 48350, 55450, 62550, 69650}, 7100},
                           Area{hawaii, {18360, 24890, 31420, 37950, 44480, 51010, 57540, 64070}, 6530}}) {
    const PovertyGuideline& found = on(2026, 1, 13, area.region);
    CAPTURE(name_of(area.region));
    CHECK(found.usd == area.usd);
    CHECK(found.each_more_usd == area.each_more);
    CHECK(poverty_guideline_usd(found, 10) == area.usd[7] + 2 * area.each_more);
    CHECK(found.source.find("verified") != std::string::npos);
  }
  // 200 %, 48 states and DC, as programs of weatherization print it; derived from the notice.
  const PovertyGuideline& states = on(2026, 9, 1, contiguous);
  CHECK(poverty_limit_usd(states, 2, 1) == 31920);
  CHECK(poverty_limit_usd(states, 2, 2) == 43280);
  CHECK(poverty_limit_usd(states, 2, 3) == 54640);
  CHECK(poverty_limit_usd(states, 2, 4) == 66000);
  CHECK(poverty_limit_usd(states, 2, 5) == 77360);
  CHECK(poverty_limit_usd(states, 2, 8) == 111440);
}

TEST_CASE("poverty guidelines 2024 and 2025: 89 FR 2961, 90 FR 5917") {
  using enum PovertyRegion;
  CHECK(on(2024, 6, 1, contiguous).usd ==
        std::array<double, 8>{15060, 20440, 25820, 31200, 36580, 41960, 47340, 52720});
  CHECK(poverty_guideline_usd(on(2024, 6, 1, alaska), 4) == 39000);
  CHECK(poverty_guideline_usd(on(2024, 6, 1, hawaii), 4) == 35880);
  CHECK(on(2025, 6, 1, contiguous).usd ==
        std::array<double, 8>{15650, 21150, 26650, 32150, 37650, 43150, 48650, 54150});
  CHECK(poverty_guideline_usd(on(2025, 6, 1, alaska), 1) == 19550);
  CHECK(poverty_guideline_usd(on(2025, 6, 1, hawaii), 1) == 17990);
  // The notice of 2025 holds from 15 January 2025, that of 2026 from 13 January 2026.
  CHECK(on(2025, 1, 14, contiguous).usd[0] == 15060);
  CHECK(on(2025, 1, 15, contiguous).usd[0] == 15650);
  CHECK(on(2026, 1, 12, contiguous).usd[0] == 15650);
  CHECK(data().poverty.find(dates::make_date(2024, 1, 10), contiguous) == nullptr);
  // Each published table of these years rises by one step from size to size (42 USC 9902(2) tables, derived).
  for (const PovertyGuideline& table : data().poverty.tables()) {
    for (std::size_t i = 1; i < 8; ++i) CHECK(table.usd[i] - table.usd[i - 1] == table.each_more_usd);
  }
}

TEST_CASE("one household, every definition: edges as each law sets them") {
  const IncomeRules by = rules();
  // Four persons, median 81,700: 50 % is 40,850; 80 % is 65,360, rounded to 65,350.
  CHECK(tier("block-grants", 40850, 4, by) == "low");
  CHECK(tier("block-grants", 40851, 4, by) == "moderate");
  CHECK(tier("block-grants", 65350, 4, by) == "moderate");  // exactly 80 % belongs to it (24 CFR 570.3)
  CHECK(tier("block-grants", 65351, 4, by) == "above");
  // Community reinvestment: "less than" at every edge, no rounding, the same median whatever the size.
  CHECK(tier("community-reinvestment", 40849.99, 4, by) == "low");
  CHECK(tier("community-reinvestment", 40850, 4, by) == "moderate");
  CHECK(tier("community-reinvestment", 65359.99, 1, by) == "moderate");
  CHECK(tier("community-reinvestment", 65360, 1, by) == "middle");
  CHECK(tier("community-reinvestment", 98040, 8, by) == "upper");
  // Home electrification: under 80 % the whole cost, from 80 to 150 % half.
  CHECK(tier("home-electrification", 65349.99, 4, by) == "low");
  CHECK(tier("home-electrification", 65350, 4, by) == "moderate");
  CHECK(tier("home-electrification", 122549.99, 4, by) == "moderate");
  CHECK(tier("home-electrification", 122550, 4, by) == "above");  // "less than 150 percent", 42 USC 18795a(d)(4)
  CHECK(tier("neighborhood-stabilization", 98050, 4, by) == "low, moderate or middle");
  CHECK(tier("neighborhood-stabilization", 98051, 4, by) == "above");
  // The same 60,000: moderate to one program, low to another, middle to a third when one person earns it.
  CHECK(tier("block-grants", 60000, 4, by) == "moderate");
  CHECK(tier("assisted-housing", 60000, 4, by) == "low");
  CHECK(tier("home-electrification", 60000, 1, by) == "moderate");
}

TEST_CASE("extremely low income: the greater of 30 % and the guideline, not above the very low limit") {
  // HUD's rule. Eight persons: 30 % of 81,700 x 1.32 is 32,353.20, the guideline 55,720, the very low limit 53,900.
  const IncomeRules by = rules();
  CHECK(tier("assisted-housing", 53900, 8, by) == "extremely low");
  CHECK(tier("assisted-housing", 53901, 8, by) == "low");
  // Four persons: 30 % is 24,510, rounded to 24,500; the guideline of 33,000 is greater and below 40,850.
  CHECK(tier("assisted-housing", 33000, 4, by) == "extremely low");
  CHECK(tier("assisted-housing", 33001, 4, by) == "very low");
  CHECK(tier("assisted-housing", 40851, 4, by) == "low");
  IncomeRules blind = by;
  blind.poverty.reset();
  CHECK(tier("assisted-housing", 90000, 4, blind) == "not known");  // nothing is guessed
  CHECK(tier("assisted-housing", 40000, 4, blind) == "very low");
}

TEST_CASE("weatherization and heating assistance: multiples of the guideline, or of the state's median") {
  IncomeRules by = rules();
  CHECK(tier("weatherization", 66000, 4, by) == "eligible");
  CHECK(tier("weatherization", 66000.01, 4, by) == "above");
  CHECK(tier("heating-assistance", 49500, 4, by) == "eligible");  // 150 % of 33,000
  CHECK(tier("heating-assistance", 49501, 4, by) == "not known");
  by.state_median_income_usd = 100000;
  CHECK(tier("heating-assistance", 49501, 4, by) == "eligible");  // up to 60 % of the state's median
  CHECK(tier("heating-assistance", 60000, 4, by) == "eligible");
  CHECK(tier("heating-assistance", 60001, 4, by) == "above");
  CHECK(tier("heating-assistance", 31200, 1, by) == "eligible");  // 60 % of 52 %: above 150 % of 15,960
  CHECK(tier("heating-assistance", 31201, 1, by) == "above");
  // 45 CFR 96.85, from a secondary account of it.
  constexpr std::array<double, 8> factors{0.52, 0.68, 0.84, 1.00, 1.16, 1.32, 1.35, 1.38};
  for (int persons = 1; persons <= 8; ++persons)
    CHECK(state_median_size_factor(persons) == factors[static_cast<std::size_t>(persons - 1)]);
}

TEST_CASE("every definition has a tier, limits, a reason and a source") {
  const IncomeRules by = rules();
  CHECK(find_tiers(data().income_tiers, by, 60000, 4).size() == 9);
  for (const double income : {0.0, 20000.0, 45000.0, 64000.0, 90000.0, 1e6}) {
    for (const int persons : {1, 2, 4, 9}) {
      for (const TierFinding& found : find_tiers(data().income_tiers, by, income, persons)) {
        CAPTURE(found.definition);
        CHECK_FALSE(found.tier.empty());
        CHECK_FALSE(found.reason.empty());
        CHECK(found.source.find('(') != std::string::npos);
        if (found.most_usd) CHECK(income <= *found.most_usd);
        if (found.least_usd) CHECK(income >= *found.least_usd);
      }
    }
  }
  const auto found = find_tiers(data().income_tiers, by, 60000, 4);
  CHECK(found[1].reason ==
        "$60,000.00 is at or below $65,350.00 (80 % of area median income for the household's size)");
  CHECK(found[0].title == "Assisted housing (federal income limits)");
  CHECK_THROWS_AS((void)find_tiers(data().income_tiers, by, -1, 4), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)find_tiers(data().income_tiers, by, 1, 0), errors::ValueOutOfRange);
}
