#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/appraisal/hours.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/screening/screening.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using appraisal::Appraiser;
using appraisal::Decision;
using money::Decimal;

namespace {

const std::shared_ptr<const catalog::Catalog>& data() {
  static const auto catalog = std::make_shared<const catalog::Catalog>(catalog::read_catalog(WARMLEDGER_DATA_DIR));
  return catalog;
}

catalog::Program program() {
  catalog::Program p;
  p.title = "test program";
  p.install_date = dates::make_date(2026, 9, 1);
  p.study_years = 20;
  p.nominal_discount_rate = 0.05;
  p.inflation_rate = 0.025;
  for (auto& escalation : p.escalation) escalation.yearly_rate = 0.03;
  p.prices[static_cast<std::size_t>(prices::Fuel::electricity)] = prices::Price{0.18, "test"};
  p.prices[static_cast<std::size_t>(prices::Fuel::natural_gas)] = prices::Price{1.4, "test"};
  p.prices[static_cast<std::size_t>(prices::Fuel::propane)] = prices::Price{3.0, "test"};
  p.prices[static_cast<std::size_t>(prices::Fuel::heating_oil)] = prices::Price{4.0, "test"};
  p.income.area_median_income_usd = 80000;
  p.income.tiers = {{"low", 0.5, true}, {"moderate", 0.8, true}};
  p.places = {{"Somewhere", 39.0, -98.0}};
  catalog::Package package;
  package.id = "standard";
  package.title = "standard";
  package.system.collector_count = 2;
  package.system.storage_l = 80 * units::litre_per_gallon;
  package.material_usd = 4500;
  package.labor_usd = 2500;
  package.life_years = 20;
  package.upkeep = {{"pump replaced", 350, 10, 10, true}};
  p.packages = {package};
  incentives::Rule rebate;
  rebate.id = "rebate";
  rebate.title = "county rebate";
  rebate.amount = 1500;
  p.rules = {rebate};
  loans::LoanTerms loan;
  loan.id = "county";
  loan.title = "county loan";
  loan.yearly_rate = 0.02;
  loan.term_months = 180;
  p.loans = {loan};
  p.decision.longest_simple_payback_years = 12;
  p.decision.largest_extra_help_usd = 2000;
  return p;
}

catalog::Household household() {
  catalog::Household h;
  h.id = "h1";
  h.place = "somewhere";
  h.occupants = 4;
  h.yearly_income_usd = 48000;
  h.heater_age_years = 5;
  h.roof_tilt_deg = units::tilt_deg_from_rise_in_12(8);
  return h;
}

appraisal::Appraisal<double> run(const catalog::Program& p, const catalog::Household& h) {
  return Appraiser(std::make_shared<catalog::Program>(p), data()).appraise(h, hotwater::Detail::monthly);
}

}  // namespace

TEST_CASE("the measures of one household hang together") {
  const auto a = run(program(), household());
  const auto& m = a.measures;
  CHECK(m.installed_cost == 7000.0);
  CHECK(m.net_cost == 5500.0);
  CHECK(m.net_savings == doctest::Approx(m.life_cycle_cost_without - m.life_cycle_cost_with).epsilon(1e-9));
  CHECK(m.net_savings == doctest::Approx(m.savings_present_value - m.investment_present_value).epsilon(1e-9));
  CHECK((m.net_savings > 0) == (*m.savings_to_investment.value > 1));
  CHECK((m.net_savings > 0) == (*m.adjusted_internal_rate_of_return.value > 0.05));
  CHECK(m.first_year_saving == doctest::Approx(m.first_year_cost_without - m.first_year_cost_with));
  CHECK(m.first_year_cost_without == doctest::Approx(a.year.yearly(a.year.fuel_without_kwh) * 0.18).epsilon(1e-9));
  CHECK(*m.water_heating_burden_without.value == doctest::Approx(m.first_year_cost_without / 48000));
  CHECK_FALSE(m.energy_burden_with.value.has_value());
  CHECK(m.energy_burden_with.why_none == "yearly_energy_bills_usd is not given");
  CHECK(*m.discounted_payback_years.value > *m.simple_payback_years.value);
  CHECK(a.income_tier == "moderate");
  CHECK(a.year.solar_fraction_by_heat() > 0.6);
}

TEST_CASE("a loan that outlasts the study is counted whole, and one that loses in the long run does not pay") {
  auto p = program();
  p.loans[0].term_months = 300;
  const auto long_study = run(p, household());
  p.study_years = 5;
  const auto short_study = run(p, household());
  // A loan below the discount rate is worth something; what is still owed after five years is not forgiven.
  const double gain_long = long_study.loans[0].net_savings - long_study.measures.net_savings;
  const double gain_short = short_study.loans[0].net_savings - short_study.measures.net_savings;
  CHECK(gain_short > 0);
  CHECK(gain_short < gain_long);
  p.study_years = 20;
  p.escalation[0].yearly_rate = -0.10;
  p.loans[0].yearly_rate = 0.04;
  const auto fading = run(p, household());
  REQUIRE(fading.loans[0].pays_from_month_one);
  REQUIRE(fading.loans[0].net_savings < 0);
  CHECK(fading.decision != Decision::pays_with_loan);
}

TEST_CASE("what others paid is no saving of the household's: a free system that saves nothing has no net savings") {
  auto p = program();
  p.study_years = 10;
  p.rules[0].amount = 1e6;
  auto h = household();
  h.hot_water_l_day = 2;
  const auto a = run(p, h);
  CHECK(a.measures.net_cost == 0.0);
  CHECK(a.measures.net_savings <= 0.0);
  CHECK_FALSE(std::signbit(a.measures.due_at_install));
}

TEST_CASE("coordinates far from every station are refused, with the distance") {
  auto h = household();
  h.place.clear();
  h.latitude_deg = 39.0;
  h.longitude_deg = 98.0;  // the sign was forgotten
  try {
    (void)run(program(), h);
    FAIL("it was taken");
  } catch (const errors::ValueOutOfRange& error) {
    CHECK(error.problem().where.key == "latitude_deg, longitude_deg");
    CHECK(error.problem().what.find("km from the nearest weather station") != std::string::npos);
  }
}

TEST_CASE("a remaining value pays nothing back") {
  auto p = program();
  p.packages[0].life_years = 60;  // two thirds of the cost are left at the end of the study
  p.packages[0].material_usd = 30000;
  const auto a = run(p, household());
  CHECK(a.ledger.difference(ledger::Category::remaining_value).back() > 20000);
  CHECK_FALSE(a.measures.simple_payback_years.value.has_value());
}

TEST_CASE("the decision: each one is reached, with its figures in the reason") {
  auto p = program();
  const Appraiser base(std::make_shared<catalog::Program>(p), data());
  const auto paid = base.appraise(household(), hotwater::Detail::monthly);
  const double payback = *paid.measures.simple_payback_years.value;

  p.decision.longest_simple_payback_years = payback + 0.01;
  CHECK(run(p, household()).decision == Decision::pays_in_cash);
  p.decision.longest_simple_payback_years = payback - 1;
  p.loans.clear();
  CHECK(run(p, household()).decision == Decision::needs_more_help);
  p.decision.largest_extra_help_usd = 0;
  const Appraiser poor(std::make_shared<catalog::Program>(p), data());
  const auto a = poor.appraise(household(), hotwater::Detail::monthly);
  CHECK(a.decision == Decision::does_not_pay);
  CHECK(poor.reason(a).find("above the program's most of $0") != std::string::npos);
  p.loans = program().loans;
  p.loans[0].yearly_rate = 0;
  p.loans[0].term_months = 300;
  const auto financed = run(p, household());
  CHECK(financed.decision == Decision::pays_with_loan);
  CHECK(financed.loans[0].average_month_net >= 0);
  auto north = household();
  north.roof_azimuth_deg = 0;
  CHECK(run(program(), north).decision == Decision::not_suitable);
}

TEST_CASE(
    "the extra help it names is just enough: that much more rebate meets every threshold, a dollar less does not") {
  for (const int which : {0, 1, 2, 3}) {
    auto p = program();
    p.decision = {};
    p.decision.largest_extra_help_usd = 1e6;
    if (which == 0) p.decision.longest_simple_payback_years = 6;
    if (which == 1) p.decision.longest_discounted_payback_years = 7.5;
    if (which == 2) p.decision.least_net_savings_usd = 6000;
    if (which == 3) p.decision.least_savings_to_investment = 2;
    const auto before = run(p, household());
    REQUIRE(before.measures.extra_help.value.has_value());
    const double help = *before.measures.extra_help.value;
    REQUIRE(help > 1);
    p.rules[0].amount += help;
    const auto enough = run(p, household());
    CHECK(*enough.measures.extra_help.value <= 0.01);
    p.rules[0].amount -= 1;
    CHECK(*run(p, household()).measures.extra_help.value > 0.5);
    if (which == 0) CHECK(*enough.measures.simple_payback_years.value <= 6.0001);
    if (which == 1) CHECK(*enough.measures.discounted_payback_years.value <= 7.5001);
    if (which == 2) CHECK(enough.measures.net_savings >= 5999.98);
    if (which == 3) CHECK(*enough.measures.savings_to_investment.value >= 1.9999);
  }
}

TEST_CASE("the reasons why a household does not suit are all named") {
  auto h = household();
  h.roof_azimuth_deg = 250;
  h.shading_share = 0.5;
  h.occupants = 2;
  h.tenure = incentives::Tenure::renter;
  h.roof_area_m2 = 2;
  auto p = program();
  p.packages[0].system.loop = hotwater::Loop::pressurized_glycol;
  const auto a = run(p, h);
  CHECK(a.decision == Decision::not_suitable);
  CHECK(a.unsuitable.size() == 5);
  CHECK(a.unsuitable[1] == "the roof faces 70 degrees away from south; the program takes up to 30");
}

TEST_CASE("of several packages the best buy that suits is taken, or the one the sheet asks for") {
  auto p = program();
  catalog::Package dear = p.packages[0];
  dear.id = "dear";
  dear.material_usd = 9000;
  p.packages.insert(p.packages.begin(), dear);
  CHECK(p.packages[run(p, household()).package].id == "standard");
  auto asks = household();
  asks.package = "dear";
  CHECK(p.packages[run(p, asks).package].id == "dear");
  asks.package = "standrd";
  CHECK_THROWS_WITH_AS(
      (void)run(p, asks),
      "package: \"standrd\" is not a package of the program (did you mean standard?); allowed: dear, standard",
      errors::UnknownName);
}

TEST_CASE("what was assumed is listed, and what was given is not") {
  const auto assumed = run(program(), household());
  const auto lists = [](const auto& a, const std::string& what) {
    return std::any_of(a.defaults_used.begin(), a.defaults_used.end(),
                       [&](const std::string& text) { return text.rfind(what, 0) == 0; });
  };
  CHECK(lists(assumed, "hot_water_gal_day = 80"));
  CHECK(lists(assumed, "heater_uniform_energy_factor"));
  auto given = household();
  given.hot_water_l_day = 250;
  given.heater_uniform_energy_factor = 0.92;
  given.own_price_usd_per_unit[0] = 0.21;
  const auto a = run(program(), given);
  CHECK_FALSE(lists(a, "hot_water_gal_day"));
  CHECK_FALSE(lists(a, "heater_uniform_energy_factor"));
  CHECK_FALSE(lists(a, "electricity price"));
}

TEST_CASE("places: a name of the program, coordinates, a station; anything else is refused with the nearest name") {
  auto h = household();
  const auto by_name = run(program(), h);
  h.place.clear();
  h.latitude_deg = 39.0;
  h.longitude_deg = -98.0;
  const auto by_coordinates = run(program(), h);
  CHECK(by_name.climate == by_coordinates.climate);
  CHECK(by_name.distance_km == by_coordinates.distance_km);
  h = household();
  h.place = "Somewere";
  CHECK_THROWS_WITH_AS((void)run(program(), h),
                       "place: \"Somewere\" is not known (did you mean Somewhere?); allowed: a place of the program, a "
                       "weather station, or latitude_deg and longitude_deg",
                       errors::UnknownName);
}

TEST_CASE(
    "both details go through one ledger; the simulation brings hours and temperatures, and cautions with numbers") {
  const Appraiser appraiser(std::make_shared<catalog::Program>(program()), data());
  auto h = household();
  h.set_temperature_c = 48;
  const auto monthly = appraiser.appraise(h, hotwater::Detail::monthly);
  const auto hourly = appraiser.appraise(h, hotwater::Detail::hourly);
  CHECK_FALSE(monthly.simulated.has_value());
  REQUIRE(hourly.simulated.has_value());
  CHECK(hourly.simulated->yearly_residual < 1e-9);
  CHECK(hourly.year.yearly(hourly.simulated->pump_hours) > 1000);
  CHECK(hourly.year.solar_fraction_by_heat() > monthly.year.solar_fraction_by_heat());
  CHECK(hourly.year.solar_fraction_by_heat() < monthly.year.solar_fraction_by_heat() + 0.15);
  CHECK(hourly.measures.first_year_cost_without ==
        doctest::Approx(monthly.measures.first_year_cost_without).epsilon(0.03));
  const auto scald = std::find_if(hourly.cautions.begin(), hourly.cautions.end(),
                                  [](const hotwater::Caution& c) { return c.topic == hotwater::Topic::scald; });
  REQUIRE(scald != hourly.cautions.end());
  CHECK(scald->text.find("In the simulated year the water drawn would be above 120 F") != std::string::npos);
}

TEST_CASE("many at once are the same bits as one by one") {
  const Appraiser appraiser(std::make_shared<catalog::Program>(program()), data());
  std::vector<catalog::Household> list;
  for (int k = 0; k < 21; ++k) {
    auto h = household();
    h.occupants = 1 + k % 7;
    h.roof_azimuth_deg = 180 + (k % 5) * 9;
    h.heater_fuel = prices::all_fuels[static_cast<std::size_t>(k) % 3];
    if (k == 4) h.place = "Nowhere at all";
    if (k == 9) h.set_temperature_c = 10;  // below the mains
    list.push_back(h);
  }
  std::vector<const catalog::Household*> pointers;
  for (const auto& h : list) pointers.push_back(&h);
  for (const auto detail : {hotwater::Detail::monthly, hotwater::Detail::hourly}) {
    appraisal::Scratch scratch;
    const auto attempts = appraiser.appraise_many<double>(pointers, detail, scratch);
    REQUIRE(attempts.size() == list.size());
    for (std::size_t k = 0; k < list.size(); ++k) {
      if (k == 4 || k == 9) {
        CHECK(attempts[k].failure);
        CHECK_THROWS_AS((void)appraiser.appraise(list[k], detail), errors::Error);
        continue;
      }
      const auto alone = appraiser.appraise(list[k], detail);
      CHECK(attempts[k].appraisal->measures.net_savings == alone.measures.net_savings);
      CHECK(attempts[k].appraisal->year.backup_with_kwh == alone.year.backup_with_kwh);
    }
  }
}

TEST_CASE("the two number types agree on random households: amounts within a cent, rates within 1e-9") {
  std::mt19937_64 random(29);
  const auto pick = [&](double low, double high) { return std::uniform_real_distribution<double>(low, high)(random); };
  auto p = program();
  incentives::Rule credit;
  credit.id = "credit";
  credit.title = "credit";
  credit.kind = incentives::Kind::credit;
  credit.basis = incentives::Basis::share_of_cost;
  credit.amount = 0.25;
  credit.arrival = incentives::Arrival::tax_filing;
  credit.carryforward_years = 3;
  p.rules.push_back(credit);
  const Appraiser appraiser(std::make_shared<catalog::Program>(p), data());
  for (int k = 0; k < 60; ++k) {
    auto h = household();
    h.occupants = 1 + static_cast<int>(random() % 8);
    h.yearly_income_usd = pick(0, 150000);
    h.heater_fuel = prices::all_fuels[random() % 3];
    h.roof_azimuth_deg = pick(0, 360);
    h.roof_tilt_deg = pick(0, 60);
    h.installed_cost_usd = pick(0, 15000);
    const auto quick = appraiser.appraise<double>(h, hotwater::Detail::monthly);
    const auto exact = appraiser.appraise<Decimal>(h, hotwater::Detail::monthly);
    const auto near = [](double a, const Decimal& b) { return std::fabs(a - money::to_double(b)) < 0.01; };
    CHECK(near(quick.measures.net_savings, exact.measures.net_savings));
    CHECK(near(quick.measures.life_cycle_cost_with, exact.measures.life_cycle_cost_with));
    CHECK(near(quick.measures.first_year_saving, exact.measures.first_year_saving));
    CHECK(quick.decision == exact.decision);
    REQUIRE(quick.loans.size() == exact.loans.size());
    for (std::size_t l = 0; l < quick.loans.size(); ++l)
      CHECK(near(quick.loans[l].average_month_net, exact.loans[l].average_month_net));
    REQUIRE(quick.measures.adjusted_internal_rate_of_return.value.has_value() ==
            exact.measures.adjusted_internal_rate_of_return.value.has_value());
    if (quick.measures.adjusted_internal_rate_of_return.value) {
      CHECK(std::fabs(*quick.measures.adjusted_internal_rate_of_return.value -
                      money::to_double(*exact.measures.adjusted_internal_rate_of_return.value)) < 1e-9);
    }
  }
}

TEST_CASE("screening keeps every row in order, for any number of threads") {
  hotwater::Detail detail{};
  SUBCASE("monthly") {
    detail = hotwater::Detail::monthly;
  }
  SUBCASE("hourly") {
    detail = hotwater::Detail::hourly;
  }
  const Appraiser appraiser(std::make_shared<catalog::Program>(program()), data());
  const auto rows = [] {
    std::vector<catalog::SheetRow> list;
    for (int k = 0; k < 500; ++k) {
      catalog::SheetRow row;
      row.household = household();
      row.household.id = "h" + std::to_string(k);
      row.household.occupants = 1 + k % 8;
      if (k % 50 == 7) row.household.place = "Nowhere at all";
      if (k % 50 == 9) row.problems.push_back({{"s.csv", {}, k + 1, "occupants"}, "-2", "is out of range", "1 to 20"});
      list.push_back(row);
    }
    return list;
  };
  screening::Options one;
  one.detail = detail;
  one.threads = 1;
  const auto single = screening::screen(appraiser, rows(), "s.csv", one);
  CHECK(single.bad_rows == 20);
  CHECK(single.problems.size() == 20);
  CHECK(errors::sentence(single.problems[0]).rfind("s.csv, row 8, place: \"Nowhere at all\" is not a known place", 0) ==
        0);
  const auto columns = screening::result_columns();
  REQUIRE(columns[0].name == "household_id");
  REQUIRE(columns[1].name == "decision");
  for (std::size_t k = 0; k < 500; ++k) CHECK(single.columns[0].texts[k] == "h" + std::to_string(k));
  CHECK(single.columns[1].texts[7] == "bad row");
  for (const unsigned threads : {2U, 3U, 8U}) {
    screening::Options many;
    many.detail = detail;
    many.threads = threads;
    const auto other = screening::screen(appraiser, rows(), "s.csv", many);
    for (std::size_t c = 0; c < columns.size(); ++c) {
      CHECK(other.columns[c].texts == single.columns[c].texts);
      for (std::size_t r = 0; r < other.columns[c].numbers.size(); ++r) {
        const double a = other.columns[c].numbers[r];
        const double b = single.columns[c].numbers[r];
        CHECK((a == b || (std::isnan(a) && std::isnan(b))));
      }
    }
  }
}

TEST_CASE("screening stops when asked, and takes an empty sheet") {
  const Appraiser appraiser(std::make_shared<catalog::Program>(program()), data());
  CHECK(screening::screen(appraiser, {}, "s.csv").columns[0].texts.empty());
  std::vector<catalog::SheetRow> many(20000);
  for (auto& row : many) row.household = household();
  screening::Options options;
  options.progress = [](std::size_t) { return false; };
  CHECK(screening::screen(appraiser, std::move(many), "s.csv", options).stopped);
}

TEST_CASE("the hours of an appraisal are those of its own year") {
  const Appraiser appraiser(std::make_shared<catalog::Program>(program()), data());
  const auto a = appraiser.appraise(household());
  const appraisal::Hours hours = appraisal::hours_of(a);
  REQUIRE(hours.trace.backup_w.size() == 8760);
  REQUIRE(hours.dry_bulb_c.size() == 8760);
  double january_kwh = 0;
  for (std::size_t hour = 0; hour < 31 * 24; ++hour) january_kwh += hours.trace.backup_w[hour] / 1000;
  CHECK(january_kwh == doctest::Approx(a.year.backup_with_kwh[0]).epsilon(1e-9));
  CHECK(*std::max_element(hours.trace.tank_top_c.begin(), hours.trace.tank_top_c.end()) <= a.simulated->peak_tank_c);
  const auto monthly = appraiser.appraise(household(), hotwater::Detail::monthly);
  CHECK_THROWS_AS(static_cast<void>(appraisal::hours_of(monthly)), errors::NotAvailable);
}

TEST_CASE("a check throws what an appraisal would, and nothing else") {
  const Appraiser appraiser(std::make_shared<catalog::Program>(program()), data());
  appraisal::Scratch scratch;
  CHECK_NOTHROW(appraiser.check(household(), scratch));
  catalog::Household nowhere = household();
  nowhere.place = "no such place";
  CHECK_THROWS_AS(appraiser.check(nowhere, scratch), errors::UnknownName);
  catalog::Household far = household();
  far.latitude_deg = 10;
  far.longitude_deg = 10;
  CHECK_THROWS_AS(appraiser.check(far, scratch), errors::ValueOutOfRange);
  CHECK_THROWS_AS(static_cast<void>(appraiser.appraise(far)), errors::ValueOutOfRange);
}

namespace {

/// The test program with a tariff for electricity.
catalog::Program on_tariff(prices::Tariff tariff) {
  catalog::Program p = program();
  p.prices[0].reset();
  tariff.title = "test tariff";
  tariff.source = "test";
  p.tariffs[0] = prices::table_of(tariff);
  return p;
}

appraisal::Appraisal<double> appraised(catalog::Program p, const catalog::Household& h,
                                       hotwater::Detail detail = hotwater::Detail::hourly) {
  return Appraiser(std::make_shared<const catalog::Program>(std::move(p)), data()).appraise(h, detail);
}

double fuel_of_year_one(const appraisal::Appraisal<double>& a) {
  return a.measures.first_year_cost_without;
}

}  // namespace

TEST_CASE("a time-of-use tariff of equal prices is the flat price; dear evenings make evening draws dear") {
  const catalog::Household h = household();
  const auto flat = appraised(program(), h);
  using prices::Days;
  const prices::Rate evening{"evening", 0.18, prices::every_month, Days::all, 17, 22};
  const auto equal = appraised(on_tariff({"", "", 0, 0, {evening, {"rest", 0.18}}, {}}), h);
  CHECK(equal.measures.first_year_saving == doctest::Approx(flat.measures.first_year_saving).epsilon(1e-12));
  CHECK(equal.measures.net_savings == doctest::Approx(flat.measures.net_savings).epsilon(1e-10));

  prices::Rate dear = evening;
  dear.usd_per_unit = 0.38;
  for (const auto detail : {hotwater::Detail::hourly, hotwater::Detail::monthly}) {
    const auto timed = appraised(on_tariff({"", "", 0, 0, {dear, {"rest", 0.18}}, {}}), h, detail);
    // The mean price of the units taken lies between the two.
    double units = 0;
    for (const double month : timed.plan.fuel_without.units) units += month;
    CHECK(fuel_of_year_one(timed) / units > 0.19);
    CHECK(fuel_of_year_one(timed) / units < 0.37);
  }
  const auto simulated = appraised(on_tariff({"", "", 0, 0, {dear, {"rest", 0.18}}, {}}), h);
  REQUIRE(simulated.simulated);
  REQUIRE(simulated.simulated->hours_of_day != nullptr);
  const hotwater::HoursOfDay& hours = *simulated.simulated->hours_of_day;
  for (std::size_t m = 0; m < 12; ++m) {
    // By hand from the hours: the sums of the hours are the months, and each hour has its price.
    double kwh = 0;
    double usd = 0;
    double pump = 0;
    for (std::size_t hour = 0; hour < 24; ++hour) {
      kwh += hours.backup_kwh[m][hour];
      usd += hours.backup_kwh[m][hour] * (hour >= 17 && hour < 22 ? 0.38 : 0.18);
      pump += hours.pump_kwh[m][hour];
    }
    CHECK(kwh == doctest::Approx(simulated.year.backup_with_kwh[m]).epsilon(1e-9));
    CHECK(pump == doctest::Approx(simulated.year.pump_kwh[m]).epsilon(1e-9));
    CHECK(ledger::year_one_usd<double>(simulated.plan.fuel_with)[m] == doctest::Approx(usd).epsilon(1e-9));
  }
}

TEST_CASE("a household's own price is charged although the program has a tariff; other fuels keep theirs") {
  catalog::Household h = household();
  h.own_price_usd_per_unit[0] = 0.18;
  const auto own = appraised(on_tariff({"", "", 0, 0, {{"all", 0.9}}, {}}), h);
  CHECK(own.plan.fuel_without.tariff == nullptr);
  CHECK(own.measures.first_year_saving ==
        doctest::Approx(appraised(program(), h).measures.first_year_saving).epsilon(1e-12));
}

TEST_CASE("own bills scale the simulated energy within bounds, and the result says so") {
  catalog::Household h = household();
  const auto plain = appraised(program(), h);
  CHECK(plain.own_bill.scale == 1.0);
  CHECK(plain.own_bill.text.empty());
  double units = 0;
  for (const double month : plain.plan.fuel_without.units) units += month;

  h.water_heating_units = {units * 0.8};
  const auto less = appraised(program(), h);
  CHECK(less.own_bill.scale == doctest::Approx(0.8).epsilon(1e-12));
  CHECK(less.own_bill.text.find("scaled by 0.80 to own water heating of") != std::string::npos);
  CHECK(less.measures.first_year_cost_without ==
        doctest::Approx(0.8 * plain.measures.first_year_cost_without).epsilon(1e-9));
  CHECK(less.measures.first_year_saving < plain.measures.first_year_saving);

  h.water_heating_units = std::vector<double>(12, units * 1.3 / 12);
  const auto more = appraised(program(), h);
  CHECK(more.own_bill.scale == doctest::Approx(1.3).epsilon(1e-12));
  // What is used above the simulation is bought in both worlds: the saving stays.
  CHECK(more.measures.first_year_saving == doctest::Approx(plain.measures.first_year_saving).epsilon(1e-9));

  h.water_heating_units = {units * 9};
  const auto held = appraised(program(), h);
  CHECK(held.own_bill.scale == 2.0);
  CHECK(held.own_bill.text.find("9.00 would be needed, the program's bounds are 0.5 to 2") != std::string::npos);

  h.water_heating_units.clear();
  h.water_heating_bill_usd = {plain.measures.first_year_cost_without * 0.9};
  CHECK(appraised(program(), h).own_bill.scale == doctest::Approx(0.9).epsilon(1e-9));

  h.water_heating_bill_usd.clear();
  h.home_fuel_units = {units * 3};
  CHECK(appraised(program(), h).own_bill.scale == 1.0);
  h.home_fuel_units = {units * 0.7};
  const auto capped = appraised(program(), h);
  CHECK(capped.own_bill.scale == doctest::Approx(0.7).epsilon(1e-9));
  CHECK(capped.own_bill.text.find("held to 0.70 by the whole home's bill") != std::string::npos);
}

TEST_CASE("the whole home's bill fills a tariff's first blocks, so that a saving is priced at the last") {
  catalog::Household h = household();
  const prices::Tariff blocks{"", "", 10, 600, {}, {{500.0, 0.1}, {std::nullopt, 0.3}}};
  const auto assumed = appraised(on_tariff(blocks), h);
  for (std::size_t m = 0; m < 12; ++m) CHECK(assumed.plan.fuel_without.other_units[m] == 600.0);
  // 600 of other use: all hot water lies in the block of 0.30.
  double saved = 0;
  for (std::size_t m = 0; m < 12; ++m)
    saved += assumed.plan.fuel_without.units[m] - assumed.plan.fuel_with.units[m] - assumed.plan.pump.units[m];
  CHECK(assumed.measures.first_year_saving == doctest::Approx(0.3 * saved).epsilon(1e-9));
  // A bill of little more than hot water: the first block takes most of it.
  double units = 0;
  for (const double month : assumed.plan.fuel_without.units) units += month;
  h.home_fuel_units = {units * 1.05};
  const auto own = appraised(on_tariff(blocks), h);
  CHECK(own.measures.first_year_saving < 0.7 * assumed.measures.first_year_saving);
  const double imbalance = own.ledger.largest_imbalance();
  CHECK(imbalance < 1e-6);
}

TEST_CASE("a heater that is due in any case is bought new on the install date in both worlds") {
  catalog::Household h = household();
  h.heater_age_years = 9;
  h.heater_replaced_now = true;
  const auto due = appraised(program(), h);
  using ledger::Category;
  using ledger::World;
  CHECK(due.ledger.flows(World::without, Category::replacement)[0] == -1500.0);
  CHECK(due.ledger.flows(World::with, Category::replacement)[0] == -1500.0);
  CHECK(due.ledger.flows(World::without, Category::replacement)[13 * 12] < 0);
}
