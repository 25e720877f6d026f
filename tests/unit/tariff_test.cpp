#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numeric>
#include <random>

#include "warmledger/errors/errors.hpp"
#include "warmledger/ledger/ledger.hpp"
#include "warmledger/prices/tariff.hpp"

using namespace warmledger;
using namespace warmledger::prices;
using money::Decimal;

namespace {

constexpr Months summer{false, false, false, false, false, true, true, true, true, false, false, false};

Tariff by_time() {
  Tariff tariff;
  tariff.title = "by time";
  tariff.fixed_usd_month = 9.5;
  tariff.rates = {
      {"summer evening", 0.32, summer, Days::weekdays, 16, 21}, {"other hours", 0.14, summer}, {"winter", 0.12}};
  tariff.blocks = {{600.0, -0.02}, {std::nullopt, 0.0}};
  return tariff;
}

Tariff by_block() {
  Tariff tariff;
  tariff.title = "by block";
  tariff.fixed_usd_month = 12;
  tariff.blocks = {{500.0, 0.10}, {1000.0, 0.15}, {std::nullopt, 0.22}};
  return tariff;
}

}  // namespace

// A utility-style bill, worked by hand; no utility's own.
TEST_CASE_TEMPLATE("a bill by season, time of use and block, worked by hand", N, double, Decimal) {
  const auto table = table_of(by_time());
  CHECK(table->by_hour);
  // July, 720 kWh: 36 kWh in each of the five evening hours, 540 kWh spread over the other nineteen.
  HourValues july{};
  for (std::size_t h = 0; h < 24; ++h) july[h] = h >= 16 && h < 21 ? 36.0 : 540.0 / 19.0;
  const double rate = mean_rate(*table, 6, july);
  // Five of seven evenings cost 0.32, two 0.14: 180 kWh at 1.88 / 7; the credit of 0.02 holds for 600 kWh.
  const double by_hand = 9.50 + 180 * 1.88 / 7 + 540 * 0.14 - 600 * 0.02;
  CHECK(by_hand == doctest::Approx(121.442857142857).epsilon(1e-12));
  CHECK(money::to_double(month_bill<N>(*table, 6, N(720), N(rate))) == doctest::Approx(by_hand).epsilon(1e-12));
  // January, 500 kWh, all of it within the credit.
  CHECK(mean_rate(*table, 0, july) == 0.12);
  CHECK(money::to_double(month_bill<N>(*table, 0, N(500), N(0.12))) == doctest::Approx(9.5 + 60 - 10).epsilon(1e-12));
  CHECK(units_of_bill(*table, 6, by_hand, rate) == doctest::Approx(720).epsilon(1e-9));
  CHECK(units_of_bill(*table, 6, 5.0, rate) == 0.0);
}

TEST_CASE("a saving is priced at the last blocks: the bill with less the bill without") {
  const auto table = table_of(by_block());
  const auto& blocks = table->blocks[0];
  // 900 kWh of other use and 250 of hot water: 100 at 0.15 and 150 at 0.22 are the hot water's.
  CHECK(added_charge<double>(blocks, 250, 0, 900) == doctest::Approx(100 * 0.15 + 150 * 0.22).epsilon(1e-12));
  const double saved = added_charge<double>(blocks, 250, 0, 900) - added_charge<double>(blocks, 100, 0, 900);
  CHECK(saved == doctest::Approx(150 * 0.22).epsilon(1e-12));
  CHECK(saved == doctest::Approx(month_bill<double>(*table, 0, 1150, 0) - month_bill<double>(*table, 0, 1000, 0)));
  std::mt19937_64 random(5);
  std::uniform_real_distribution<double> units(0, 2000);
  for (int k = 0; k < 2000; ++k) {
    const double other = units(random);
    const double use = units(random);
    CHECK(added_charge<double>(blocks, use, 0, other) ==
          doctest::Approx(month_bill<double>(*table, 3, other + use, 0) - month_bill<double>(*table, 3, other, 0))
              .epsilon(1e-9));
  }
}

TEST_CASE("equal prices at all hours are the flat bill, whatever the hours of use") {
  Tariff tariff;
  tariff.rates = {{"evening", 0.17, summer, Days::weekdays, 16, 21},
                  {"night", 0.17, every_month, Days::all, 22, 6},
                  {"rest", 0.17}};
  const auto table = table_of(tariff);
  CHECK_FALSE(table->by_hour);
  std::mt19937_64 random(6);
  std::uniform_real_distribution<double> share(0, 1);
  for (int k = 0; k < 500; ++k) {
    HourValues hours{};
    for (double& hour : hours) hour = share(random);
    CHECK(mean_rate(*table, static_cast<std::size_t>(k % 12), hours) == 0.17);
  }
  CHECK(mean_rate(*table, 0, HourValues{}) == 0.17);
}

TEST_CASE("periods run past midnight, and the first rate that fits is charged") {
  Tariff tariff;
  tariff.rates = {
      {"night", 0.08, every_month, Days::all, 22, 6}, {"weekend", 0.10, every_month, Days::weekends}, {"day", 0.20}};
  const auto table = table_of(tariff);
  CHECK(table->usd_per_unit[0][23] == 0.08);
  CHECK(table->usd_per_unit[0][5] == 0.08);
  CHECK(table->usd_per_unit[0][6] == doctest::Approx(0.20 * 5 / 7 + 0.10 * 2 / 7).epsilon(1e-12));
}

TEST_CASE("tariffs that leave an hour, a month or a unit without a price are refused by name") {
  Tariff tariff;
  CHECK_THROWS_AS(check(tariff), errors::MissingValue);
  tariff.rates = {{"summer", 0.2, summer}};
  CHECK_THROWS_WITH_AS(
      check(tariff),
      "rate: does not say what hour 0 to 1 of a weekday in January costs; allowed: rates that hold every "
      "hour; a last one without months, days and hours takes the rest",
      errors::MissingValue);
  tariff.rates = {{"weekdays", 0.2, every_month, Days::weekdays}};
  CHECK_THROWS_AS(check(tariff), errors::MissingValue);
  tariff = by_block();
  tariff.blocks[1].up_to_units = 400;
  CHECK_THROWS_AS(check(tariff), errors::Contradiction);
  tariff = by_block();
  tariff.blocks.pop_back();
  CHECK_THROWS_AS(check(tariff), errors::MissingValue);
  tariff = by_block();
  tariff.blocks[0].usd_per_unit = std::nan("");
  CHECK_THROWS_AS(check(tariff), errors::ValueOutOfRange);
  tariff = by_block();
  tariff.fixed_usd_month = -1;
  CHECK_THROWS_AS(check(tariff), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)units_of_bill(*table_of(by_block()), 0, 1e12, 0), errors::ValueOutOfRange);
}

TEST_CASE("price indices: constant, by yearly rises, by real indices of a region") {
  CHECK(price_indices<double>({0.0}, 3) == std::vector<double>{1, 1, 1});
  const std::array<double, 2> rises{0.10, -0.05};
  const Escalation series{0.02, std::make_shared<const std::vector<double>>(indices_from_rises(rises))};
  const auto indices = price_indices<double>(series, 5);
  CHECK(indices[2] == doctest::Approx(1.1 * 0.95).epsilon(1e-12));
  CHECK(indices[4] == doctest::Approx(1.1 * 0.95 * 1.02 * 1.02).epsilon(1e-12));
  CHECK(price_indices<Decimal>(series, 2).size() == 2);  // a study shorter than the series
  const EscalationTable table{"somewhere", 2024, {1.0, 1.02, 1.05, 1.01}, "test"};
  const auto from_table = price_indices<double>(escalation_from(table, 2025, 0.03), 4);
  CHECK(from_table[0] == 1.0);
  CHECK(from_table[1] == doctest::Approx(1.05 / 1.02 * 1.03).epsilon(1e-12));
  CHECK(from_table[3] == doctest::Approx(1.01 / 1.02 * std::pow(1.03, 3)).epsilon(1e-12));  // beyond its last year
  CHECK(price_indices<double>(escalation_from(table, 2040, 0.03), 3)[2] == doctest::Approx(1.03 * 1.03));
  CHECK(price_indices<double>(escalation_from(table, 2020, 0), 6)[5] ==
        doctest::Approx(1.02));  // before its first year
  CHECK(in_words({0.0}) == "unchanged");
  CHECK(in_words({0.03}) == "rising 3 % a year");
  CHECK(in_words({-0.015}) == "falling 1.5 % a year");
  CHECK(in_words(series) == "following its yearly price series, rising 2 % a year after year 3");
  CHECK_THROWS_AS(check(Escalation{0, std::make_shared<const std::vector<double>>(std::vector<double>{1, 0})}),
                  errors::ValueOutOfRange);
}

TEST_CASE_TEMPLATE("the ledger charges tariffs, shows the fixed charge in both worlds and says so", N, double,
                   Decimal) {
  ledger::Plan plan;
  plan.install_date = dates::make_date(2026, 1, 1);
  plan.study_years = 2;
  plan.installed_cost_usd = 5000;
  plan.heater_years_left = 50;
  plan.heater_life_years = 60;
  plan.fuel_without.tariff = plan.fuel_with.tariff = plan.pump.tariff = table_of(by_block());
  for (std::size_t m = 0; m < 12; ++m) {
    plan.fuel_without.units[m] = 250;
    plan.fuel_with.units[m] = 100;
    plan.pump.units[m] = 10;
    plan.fuel_without.other_units[m] = plan.fuel_with.other_units[m] = 900;
    plan.pump.other_units[m] = 1000;
  }
  plan.fuel_without.escalation = plan.fuel_with.escalation = plan.pump.escalation = {0.1};
  const auto book = ledger::build<N>(plan);
  const auto at = [](const std::vector<N>& flows, std::size_t month) { return money::to_double(flows[month]); };
  using ledger::Category;
  using ledger::World;
  CHECK(at(book.flows(World::without, Category::fuel), 1) == doctest::Approx(-48).epsilon(1e-12));
  CHECK(at(book.flows(World::with, Category::fuel), 12) == doctest::Approx(-15).epsilon(1e-12));
  CHECK(at(book.flows(World::with, Category::pump_electricity), 13) ==
        doctest::Approx(-10 * 0.22 * 1.1).epsilon(1e-12));
  for (const World world : {World::without, World::with}) {
    CHECK(at(book.flows(world, Category::fixed_charge), 1) == -12.0);
    CHECK(at(book.flows(world, Category::fixed_charge), 24) == doctest::Approx(-13.2).epsilon(1e-12));
  }
  CHECK(at(book.difference(Category::fixed_charge), 7) == 0.0);
  bool said = false;
  for (const std::string& reason : ledger::reasons(plan, book))
    said =
        said || reason == "$12.00 a month on tariff by block, rising 10 % a year; the same with and without the system";
  CHECK(said);
}
