#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <random>

#include "warmledger/errors/errors.hpp"
#include "warmledger/ledger/sums.hpp"

using namespace warmledger;
using namespace warmledger::ledger;
using money::Decimal;

namespace {

Plan plan() {
  Plan p;
  p.install_date = dates::make_date(2026, 9, 10);
  p.study_years = 20;
  p.inflation_rate = 0.02;
  p.installed_cost_usd = 8000;
  p.awards = {{dates::make_date(2026, 9, 10), 500, "rebate"}, {dates::make_date(2027, 4, 15), 1200, "credit"}};
  for (std::size_t m = 0; m < 12; ++m) {
    p.fuel_without.units[m] = 300 + static_cast<double>(m);
    p.fuel_with.units[m] = 100;
    p.pump.units[m] = 6;
  }
  p.fuel_without.usd_per_unit = p.fuel_with.usd_per_unit = p.pump.usd_per_unit = 0.15;
  p.fuel_without.escalation = p.fuel_with.escalation = p.pump.escalation = {0.03};
  p.upkeep = {{"antifreeze test", 120, 3, 3, false}, {"pump replaced", 350, 10, 10, true}};
  p.heater_years_left = 6.5;
  p.heater_replacement_usd = 1500;
  return p;
}

double total(const std::vector<double>& flows) {
  return std::accumulate(flows.begin(), flows.end(), 0.0);
}

}  // namespace

TEST_CASE("twelve bills hold one year, whatever the install day") {
  climate::Monthly calendar{};
  for (std::size_t m = 0; m < 12; ++m) calendar[m] = static_cast<double>(m * m) + 1;
  const double year = std::accumulate(calendar.begin(), calendar.end(), 0.0);
  for (int day = 1; day <= 31; ++day) {
    for (unsigned month : {1U, 3U, 12U}) {
      const climate::Monthly bills = bills_from(calendar, dates::make_date(2027, month, static_cast<unsigned>(day)));
      CHECK(std::accumulate(bills.begin(), bills.end(), 0.0) == doctest::Approx(year).epsilon(1e-12));
    }
  }
  const climate::Monthly first = bills_from(calendar, dates::make_date(2027, 3, 1));
  CHECK(first[0] == calendar[2]);  // installed on 1 March: the first bill is March
  const climate::Monthly middle = bills_from(calendar, dates::make_date(2027, 6, 16));
  CHECK(middle[0] == doctest::Approx(0.5 * calendar[5] + 15.0 / 31.0 * calendar[6]).epsilon(1e-12));
}

TEST_CASE_TEMPLATE("categories sum to the total and with minus without is the difference, in every month", N, double,
                   Decimal) {
  const Ledger<N> book = build<N>(plan());
  const auto difference = book.difference();
  const auto with = book.flows(World::with);
  const auto without = book.flows(World::without);
  std::vector<N> by_category(difference.size(), N(0));
  for (std::size_t c = 0; c < category_count; ++c) {
    const auto part = book.difference(static_cast<Category>(c));
    for (std::size_t m = 0; m < part.size(); ++m) by_category[m] += part[m];
  }
  for (std::size_t m = 0; m < difference.size(); ++m) {
    CHECK(std::fabs(money::to_double(N(with[m] - without[m] - difference[m]))) < 1e-9);
    CHECK(std::fabs(money::to_double(N(by_category[m] - difference[m]))) < 1e-9);
  }
  N from_entries(0);
  for (const auto& entry : book.entries()) from_entries += entry.world == World::with ? entry.amount : N(-entry.amount);
  N whole(0);
  for (const N& flow : difference) whole += flow;
  CHECK(std::fabs(money::to_double(N(from_entries - whole))) < 1e-8);
}

TEST_CASE("amounts fall where they belong") {
  const Ledger<double> book = build<double>(plan());
  const auto incentive = book.flows(World::with, Category::incentive);
  CHECK(incentive[0] == 500.0);
  CHECK(incentive[8] == 1200.0);  // 15 April is after 10 April, so with the eighth month's end
  CHECK(total(incentive) == 1700.0);
  CHECK(book.flows(World::with, Category::installed_cost)[0] == -8000.0);
  const auto upkeep = book.flows(World::with, Category::upkeep);
  CHECK(upkeep[36] == doctest::Approx(-120 * std::pow(1.02, 3)).epsilon(1e-12));
  CHECK(upkeep[18 * 12] < 0);
  const auto replaced = book.flows(World::without, Category::replacement);
  CHECK(replaced[78] == doctest::Approx(-1500 * std::pow(1.02, 6.5)).epsilon(1e-12));
  const auto fuel = book.flows(World::without, Category::fuel);
  CHECK(fuel[0] == 0.0);
  CHECK(fuel[13] == doctest::Approx(fuel[1] * 1.03).epsilon(1e-12));
  CHECK(fuel[12] == doctest::Approx(fuel[240] / std::pow(1.03, 19)).epsilon(1e-12));
}

TEST_CASE("heaters worn out are replaced in both worlds and cancel in the difference") {
  const Ledger<double> book = build<double>(plan());
  const auto replacement = book.difference(Category::replacement);
  CHECK(replacement[78] == 0.0);
  CHECK(replacement[120] == doctest::Approx(-350 * std::pow(1.02, 10)).epsilon(1e-12));  // the pump
  Plan one_tank = plan();
  one_tank.heater_stays = false;
  const Ledger<double> other = build<double>(one_tank);
  CHECK(other.difference(Category::replacement)[78] > 0);  // a heater that need not be bought
}

TEST_CASE("after its life the system saves nothing; before it, what is left has a value") {
  Plan p = plan();
  p.system_life_years = 15;
  const Ledger<double> short_lived = build<double>(p);
  const auto fuel = short_lived.difference(Category::fuel);
  CHECK(fuel[180] > 0);
  for (std::size_t m = 181; m <= 240; ++m) CHECK(fuel[m] == 0.0);
  CHECK(total(short_lived.flows(World::with, Category::pump_electricity)) < 0);
  CHECK(short_lived.flows(World::with, Category::pump_electricity)[181] == 0.0);
  p.system_life_years = 25;
  const Ledger<double> long_lived = build<double>(p);
  const double value = long_lived.difference(Category::remaining_value)[240];
  CHECK(value == doctest::Approx((8000 - 1700) * (1 - 20.0 / 25.0) * std::pow(1.02, 20)).epsilon(1e-12));
}

TEST_CASE("nothing is serviced in the month in which the study ends") {
  Plan p = plan();
  p.study_years = 9;
  p.upkeep = {{"test", 100, 3, 3, false}};
  const auto upkeep = build<double>(p).flows(World::with, Category::upkeep);
  CHECK(upkeep[36] < 0);
  CHECK(upkeep[72] < 0);
  CHECK(upkeep[108] == 0.0);
}

namespace {

/// A plan drawn at random, tariffs and price series among them; every day of the year can be the install date.
Plan random_plan(std::mt19937_64& random, double largest_usd) {
  std::uniform_real_distribution<double> share(0, 1);
  static const std::array<std::shared_ptr<const prices::RateTable>, 3> tariffs = [] {
    prices::Tariff blocks{"blocks", "test", 11.5, 600, {}, {{300.0, 0.1}, {900.0, 0.14}, {std::nullopt, 0.25}}};
    prices::Tariff rates{
        "rates", "test", 0, 0, {{"evening", 0.3, prices::every_month, prices::Days::all, 16, 21}, {"rest", 0.11}}, {}};
    return std::array<std::shared_ptr<const prices::RateTable>, 3>{nullptr, prices::table_of(blocks),
                                                                   prices::table_of(rates)};
  }();
  Plan p = plan();
  p.study_years = 1 + static_cast<int>(random() % 50);
  p.install_date = dates::add_months(dates::make_date(2026, 1, 1 + static_cast<unsigned>(random() % 31)),
                                     static_cast<int>(random() % 40));
  if (random() % 20 == 0) p.install_date = dates::make_date(2028, 2, 29);
  p.inflation_rate = random() % 8 == 0 ? 0 : share(random) * 0.1 - 0.02;
  p.installed_cost_usd = share(random) * largest_usd;
  p.system_life_years = 1 + static_cast<int>(random() % 60);
  p.heater_years_left = random() % 6 == 0 ? 0 : share(random) * 15;
  p.heater_life_years = 1 + share(random) * 20;
  p.heater_replacement_usd = share(random) * largest_usd / 5;
  p.heater_stays = random() % 2 == 0;
  for (Plan::Purchase* purchase : {&p.fuel_without, &p.fuel_with, &p.pump}) {
    purchase->escalation.yearly_rate = random() % 6 == 0 ? 0 : share(random) * 0.12 - 0.04;
    if (random() % 3 == 0)
      purchase->escalation.by_year = std::make_shared<const std::vector<double>>(
          std::vector<double>{1, 1 + share(random) * 0.2, 0.9, 1 + share(random)});
    purchase->tariff = tariffs[random() % 3];
    for (std::size_t m = 0; m < 12; ++m) {
      purchase->units[m] = random() % 10 == 0 ? 0 : share(random) * 500;
      purchase->rate_usd_per_unit[m] = share(random) * 0.4;
      purchase->other_units[m] = share(random) * 1000;
    }
  }
  p.awards.front().usd = std::round(share(random) * largest_usd * 10) / 100;
  return p;
}

}  // namespace

TEST_CASE("both number types agree to a cent in every month, and categories balance, on thousands of random plans") {
  std::mt19937_64 random(23);
  for (int k = 0; k < 2000; ++k) {
    const Plan p = random_plan(random, 20000);
    const auto quick = build<double>(p);
    const auto exact = build<Decimal>(p);
    REQUIRE(quick.lines().size() == exact.lines().size());
    const auto quick_flows = quick.difference();
    const auto exact_flows = exact.difference();
    double worst = 0;
    for (std::size_t m = 0; m < quick_flows.size(); ++m)
      worst = std::max(worst, std::fabs(quick_flows[m] - money::to_double(exact_flows[m])));
    CHECK(worst < 0.01);
    CHECK(quick.largest_imbalance() < 1e-6);
    if (k % 10 == 0) CHECK(money::to_double(exact.largest_imbalance()) < 1e-30);
    CHECK(dates::add_months(p.install_date, quick.months()) >= p.install_date);
  }
}

TEST_CASE_TEMPLATE("sums of one pass are those asked for one by one, number by number", N, double, Decimal) {
  std::mt19937_64 random(29);
  for (int k = 0; k < 200; ++k) {
    const Ledger<N> book = build<N>(random_plan(random, 20000));
    const Sums<N> sums(book);
    const auto same = [](std::span<const N> a, const std::vector<N>& b) {
      return std::equal(a.begin(), a.end(), b.begin(), b.end());
    };
    std::vector<N> cash = book.difference();
    cash.back() -= book.difference(Category::remaining_value).back();
    CHECK(same(sums.cash(), cash));
    for (std::size_t c = 0; c < category_count; ++c)
      CHECK(same(sums.difference(static_cast<Category>(c)), book.difference(static_cast<Category>(c))));
    for (const World world : {World::without, World::with}) {
      const std::vector<N> remaining = book.flows(world, Category::remaining_value);
      CHECK(same(sums.remaining(world), remaining));
      std::vector<N> flows = book.flows(world);
      flows.back() -= remaining.back();
      CHECK(same(sums.cash(world), flows));
      const std::vector<N> fuel = book.flows(world, Category::fuel);
      CHECK(book.flows(world, Category::fuel, 12) == std::vector<N>(fuel.begin(), fuel.begin() + 13));
    }
  }
}

TEST_CASE("amounts of up to 1e12 dollars keep their digits") {
  std::mt19937_64 random(24);
  for (int k = 0; k < 200; ++k) {
    const Plan p = random_plan(random, 1e12);
    const auto quick = build<double>(p).difference();
    const auto exact = build<Decimal>(p).difference();
    for (std::size_t m = 0; m < quick.size(); ++m)
      REQUIRE(std::fabs(quick[m] - money::to_double(exact[m])) <= 1e-11 * std::fabs(quick[m]) + 0.05);
  }
}

TEST_CASE("rates of 0 leave every month alike; a 50-year study from 29 February and the 31st ends on its day") {
  Plan p = plan();
  p.study_years = 50;
  p.system_life_years = 60;
  p.inflation_rate = 0;
  p.install_date = dates::make_date(2028, 2, 29);
  p.fuel_without.escalation = p.fuel_with.escalation = p.pump.escalation = {0.0};
  for (std::size_t m = 0; m < 12; ++m) p.fuel_without.units[m] = 300;
  const Ledger<double> book = build<double>(p);
  CHECK(book.months() == 600);
  CHECK(dates::iso(dates::add_months(p.install_date, 600)) == "2078-02-28");
  const auto fuel = book.flows(World::without, Category::fuel);
  CHECK(total(fuel) == doctest::Approx(-50 * 12 * 300 * 0.15).epsilon(1e-12));
  const auto constant = constant_dollars(std::span<const double>(fuel), 0.0);
  CHECK(constant == fuel);
  p.install_date = dates::make_date(2027, 8, 31);
  CHECK(total(build<double>(p).flows(World::without, Category::fuel)) == doctest::Approx(total(fuel)).epsilon(1e-12));
  const auto entries = book.entries();
  CHECK(dates::iso(entries.back().date) == "2078-02-28");
}

TEST_CASE("reasons say what they are, with the price and how it moves") {
  Plan p = plan();
  p.installed_cost_reason = "a quote";
  p.fuel_without.escalation = {0.0};
  p.fuel_with.escalation = {-0.01};
  p.heater_years_left = 0;
  const Ledger<double> book = build<double>(p);
  const std::vector<std::string> all = reasons(p, book);
  REQUIRE(all.size() == book.lines().size());
  const auto has = [&](std::string_view wanted) { return std::find(all.begin(), all.end(), wanted) != all.end(); };
  CHECK(has("a quote"));
  CHECK(has("rebate"));
  CHECK(has("electricity at 0.15 dollars a kWh, unchanged"));
  CHECK(has("electricity at 0.15 dollars a kWh, falling 1 % a year"));
  CHECK(has("collector pumps, electricity at 0.15 dollars a kWh, rising 3 % a year"));
  CHECK(has("antifreeze test"));
  CHECK(has("water heater replaced on the install date"));
  CHECK(has("water heater replaced at the end of its life"));
  for (const auto& entry : book.entries()) CHECK(entry.line < all.size());
}

TEST_CASE_TEMPLATE("a loan's interest lowers taxes only by its rule, on 15 April of the year after", N, double,
                   Decimal) {
  loans::LoanTerms terms;
  terms.yearly_rate = 0.06;
  terms.term_months = 24;
  const dates::Date start = dates::make_date(2026, 9, 10);
  const auto schedule = loans::make_schedule(N(2400), terms, start);
  const auto none = interest_deduction(schedule, "loan", 0.0, start, 120);
  CHECK(none.amounts.empty());
  const auto series = interest_deduction(schedule, "loan", 0.12, start, 120);
  CHECK(series.category == Category::tax_saving);
  CHECK(series.first_month == 8);  // 15 April 2027 is after 10 April
  REQUIRE(series.amounts.size() == 3);
  N interest(0);
  for (std::size_t k = 0; k < 3; ++k) interest += schedule.payments[k].interest;  // October to December 2026
  CHECK(money::to_double(series.amounts[0]) == doctest::Approx(money::to_double(N(interest * N(0.12)))).epsilon(0.01));
  N all(0);
  for (const N& amount : series.amounts) all += amount;
  CHECK(std::fabs(money::to_double(N(all - schedule.total_interest * N(0.12)))) < 0.02);
  Ledger<N> book(start, 1);
  book.add(series);
  CHECK(book.difference(Category::tax_saving)[8] == series.amounts[0]);
  CHECK_THROWS_AS((void)interest_deduction(schedule, "loan", 1.2, start, 120), errors::ValueOutOfRange);
}

TEST_CASE("yearly sums, constant dollars, and loans as series") {
  Ledger<double> book(dates::make_date(2026, 1, 1), 2);
  book.add({World::with, Category::fuel, "test", 0, 1, std::vector<double>(25, 1.0)});
  const auto years = by_year(std::span<const double>(book.flows(World::with)));
  CHECK(years == std::vector<double>{1, 12, 12});
  const auto constant = constant_dollars(std::span<const double>(book.flows(World::with)), 0.03);
  CHECK(constant[12] == doctest::Approx(1 / 1.03).epsilon(1e-12));
  loans::LoanTerms terms;
  terms.term_months = 36;
  const auto schedule = loans::make_schedule(3600.0, terms, book.start());
  for (auto& series : loan_series(schedule, "a loan", book.start(), book.months())) book.add(std::move(series));
  const auto payments = book.flows(World::with, Category::loan_payment);
  CHECK(payments.size() == 25);
  CHECK(payments[23] == -100.0);
  CHECK(payments[24] == -1300.0);  // the last payment of the study and the 1,200 still owed then
  CHECK(total(payments) == -3600.0);
  CHECK(book.flows(World::with, Category::loan_advance)[0] == 3600.0);
}

TEST_CASE("a loan's payments fall in the months that month_on_or_after says, each counted once") {
  for (const int rhythm : {52, 26, 12, 4, 1}) {
    for (const unsigned day : {1U, 30U}) {
      for (const int first_after : {0, 3, 40}) {
        loans::LoanTerms terms;
        terms.yearly_rate = 0.07;
        terms.term_months = 144;
        terms.payments_per_year = rhythm;
        terms.fee_usd = 55;
        const dates::Date start = dates::make_date(2027, 11, day);
        if (first_after > 0)
          terms.first_payment_date = dates::Date{std::chrono::sys_days{start} + std::chrono::days{first_after}};
        const auto schedule = loans::make_schedule(7000.0, terms, start);
        constexpr int months = 120;
        const auto loan = loan_months(schedule, start, months);
        std::vector<double> expected(months + 1, 0.0);
        for (const auto& line : schedule.payments) {
          const int month = std::max(1, month_on_or_after(start, line.date));
          if (month <= months) expected[static_cast<std::size_t>(month)] -= line.payment;
        }
        std::vector<double> payments = loan.payments;
        payments.resize(months + 1);
        CHECK(payments == expected);
        CHECK(loan.advance == schedule.amount);
        CHECK(loan.charges == -55);
        CHECK(loan.owed_at_end == -loans::owed_on(schedule, dates::add_months(start, months)));
        CHECK(loan.owed_at_end < 0);
        Ledger<double> book(start, months / 12);
        for (auto& series : loan_series(schedule, "a loan", start, months)) book.add(std::move(series));
        CHECK(flows_of(loan, months) == book.flows(World::with));
      }
    }
  }
}

TEST_CASE("plans out of range are refused by name") {
  Plan p = plan();
  p.study_years = 0;
  CHECK_THROWS_WITH_AS((void)build<double>(p), "study_years: 0 is out of range; allowed: 1 to 50 years",
                       errors::ValueOutOfRange);
  p = plan();
  p.installed_cost_usd = -1;
  CHECK_THROWS_AS((void)build<double>(p), errors::ValueOutOfRange);
  p = plan();
  p.fuel_with.units[3] = std::nan("");
  CHECK_THROWS_AS((void)build<double>(p), errors::ValueOutOfRange);
  Ledger<double> book(dates::make_date(2026, 1, 1), 1);
  CHECK_THROWS_AS(book.add({World::with, Category::fuel, "x", -1, 1, {1.0}}), errors::ValueOutOfRange);
  CHECK_THROWS_AS(book.add({World::with, Category::fuel, "x", 0, 0, {1.0}}), errors::ValueOutOfRange);
}
