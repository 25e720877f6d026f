// data/tax.csv against the revenue procedures: the tax at each bracket's end as the procedure's own tables print it.
#include <array>
#include <cmath>
#include <set>
#include <vector>

#include <doctest/doctest.h>

#include "warmledger/catalog/catalog.hpp"

using namespace warmledger;
using namespace warmledger::incentives;
using enum FilingStatus;

namespace {

const TaxTable& table(int year, FilingStatus status) {
  static const catalog::Catalog read = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  const TaxTable* found = read.taxes.find(year, status);
  REQUIRE(found != nullptr);
  REQUIRE(found->year == year);
  return *found;
}

/// Tax on taxable income: the schedule alone.
double on_taxable(int year, FilingStatus status, double taxable) {
  const TaxTable& t = table(year, status);
  return schedule_tax_usd(t, taxable + t.standard_deduction_usd);
}

}  // namespace

TEST_CASE("the tax at each bracket's end: the amounts printed in the tables of the revenue procedures") {
  struct Printed {
    int year;
    FilingStatus status;
    std::vector<std::pair<double, double>> at;  ///< end of the bracket, tax up to it
  };
  // Rev. Proc. 2025-32 section 4.01, tables 1 to 3; Rev. Proc. 2024-40 (part of tables 2 and 3); Rev. Proc. 2023-34
  // table 2 and part of table 1. Read in secondary accounts that repeat the tables.
  for (const Printed& printed :
       {Printed{2026,
                single,
                {{12400, 1240}, {50400, 5800}, {105700, 17966}, {201775, 41024}, {256225, 58448}, {640600, 192979.25}}},
        Printed{
            2026,
            joint,
            {{24800, 2480}, {100800, 11600}, {211400, 35932}, {403550, 82048}, {512450, 116896}, {768700, 206583.50}}},
        Printed{2026,
                head_of_household,
                {{17700, 1770}, {67450, 7740}, {105700, 16155}, {201750, 39207}, {256200, 56631}, {640600, 191171}}},
        Printed{2025, single, {{11925, 1192.50}, {250525, 57231}}}, Printed{2025, head_of_household, {{64850, 7442}}},
        Printed{2024, joint, {{94300, 10852}, {487450, 111357}, {731200, 196669.50}}},
        Printed{
            2024,
            head_of_household,
            {{16550, 1655}, {63100, 7241}, {100500, 15469}, {191950, 37417}, {243700, 53977}, {609350, 181954.50}}}}) {
    for (const auto& [end, tax] : printed.at) {
      CAPTURE(printed.year);
      CAPTURE(name_of(printed.status));
      CAPTURE(end);
      CHECK(on_taxable(printed.year, printed.status, end) == doctest::Approx(tax).epsilon(1e-12));
    }
  }
}

TEST_CASE("standard deductions, 2020 to 2026") {
  // 2025: Pub. L. 119-21 section 70102, which replaced the 15,000, 30,000 and 22,500 first published; the others: the
  // revenue procedures named in data/tax.csv.
  struct Year {
    int year;
    double single_usd, joint_usd, head_usd;
  };
  for (const Year& y :
       {Year{2026, 16100, 32200, 24150}, Year{2025, 15750, 31500, 23625}, Year{2024, 14600, 29200, 21900},
        Year{2023, 13850, 27700, 20800}, Year{2022, 12950, 25900, 19400}, Year{2021, 12550, 25100, 18800},
        Year{2020, 12400, 24800, 18650}}) {
    CAPTURE(y.year);
    CHECK(table(y.year, single).standard_deduction_usd == y.single_usd);
    CHECK(table(y.year, joint).standard_deduction_usd == y.joint_usd);
    CHECK(table(y.year, head_of_household).standard_deduction_usd == y.head_usd);
  }
}

TEST_CASE("whole incomes, worked by hand from the schedules and standard deductions") {
  // Schedules, not the printed tax table, which works in bands of $50 below $100,000.
  const auto tax = [](int year, FilingStatus status, double income) {
    return schedule_tax_usd(table(year, status), income);
  };
  CHECK(tax(2025, single, 52000) == doctest::Approx(4111.50).epsilon(1e-12));
  CHECK(tax(2026, single, 52000) == doctest::Approx(4060.00).epsilon(1e-12));
  CHECK(tax(2025, joint, 62000) == doctest::Approx(3183.00).epsilon(1e-12));
  CHECK(tax(2026, joint, 62000) == doctest::Approx(3080.00).epsilon(1e-12));
  CHECK(tax(2025, head_of_household, 48000) == doctest::Approx(2585.00).epsilon(1e-12));
  CHECK(tax(2026, head_of_household, 48000) == doctest::Approx(2508.00).epsilon(1e-12));
  CHECK(tax(2025, joint, 140000) == doctest::Approx(13698.00).epsilon(1e-12));
  CHECK(tax(2026, joint, 140000) == doctest::Approx(13140.00).epsilon(1e-12));
  CHECK(tax(2026, single, 10000) == 0.0);
  // 2024 joint, taxable 100,000: 10,852 and 22 % of the 5,700 above 94,300 (Rev. Proc. 2023-34 table 1).
  CHECK(on_taxable(2024, joint, 100000) == doctest::Approx(12106.00).epsilon(1e-12));
  CHECK(on_taxable(2025, single, 20113.19) == doctest::Approx(2175.0828).epsilon(1e-12));
  CHECK(on_taxable(2025, head_of_household, 64860) == doctest::Approx(7444.20).epsilon(1e-12));
}

TEST_CASE("26 USC 1(j): seven rates, and joint brackets twice as wide as single ones up to 32 %") {
  static constexpr std::array<double, 7> rates{0.10, 0.12, 0.22, 0.24, 0.32, 0.35, 0.37};
  for (int year = 2020; year <= 2026; ++year) {
    CAPTURE(year);
    for (const FilingStatus status : {single, joint, head_of_household}) {
      const TaxTable& t = table(year, status);
      REQUIRE(t.brackets.size() == rates.size());
      for (std::size_t i = 0; i < rates.size(); ++i) CHECK(t.brackets[i].rate == rates[i]);
      CHECK(std::isinf(t.brackets.back().up_to_usd));
    }
    for (std::size_t i = 0; i < 5; ++i)
      CHECK(table(year, joint).brackets[i].up_to_usd == 2 * table(year, single).brackets[i].up_to_usd);
    CHECK(table(year, joint).standard_deduction_usd == 2 * table(year, single).standard_deduction_usd);
    CHECK(table(year, head_of_household).standard_deduction_usd ==
          doctest::Approx(1.5 * table(year, single).standard_deduction_usd).epsilon(0.01));
  }
  CHECK(table(2021, single).source.find("from memory") != std::string::npos);
}

TEST_CASE("a year without a table takes the nearest one before it, else the first") {
  static const catalog::Catalog read = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  CHECK(read.taxes.find(2031, single)->year == 2026);
  CHECK(read.taxes.find(2008, single)->year == 2020);
}
