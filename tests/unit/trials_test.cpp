// Trials: with nothing drawn they are the appraisal; what they draw, put into the appraisal, gives the same money.
#include "warmledger/whatif/trials.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <doctest/doctest.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/screening/screening.hpp"
#include "warmledger/whatif/cases.hpp"

using namespace warmledger;
using appraisal::Appraiser;
using whatif::Input;
using whatif::Prospect;
using whatif::RiskModel;
using whatif::Shape;
using whatif::TrialColumn;

namespace {

const std::shared_ptr<const catalog::Catalog>& data() {
  static const auto catalog = std::make_shared<const catalog::Catalog>(catalog::read_catalog(WARMLEDGER_DATA_DIR));
  return catalog;
}

catalog::Program demo() {
  return catalog::read_program(std::string(WARMLEDGER_DATA_DIR) + "/demo/program.toml", *data());
}

catalog::Household household(prices::Fuel fuel = prices::Fuel::propane) {
  catalog::Household h;
  h.id = "h1";
  h.place = "Quillmere";
  h.occupants = 4;
  h.yearly_income_usd = 52000;
  h.heater_fuel = fuel;
  h.heater_age_years = 5;
  return h;
}

double at(const whatif::TrialTable& table, TrialColumn column, std::size_t row = 0) {
  return table.at(static_cast<std::size_t>(column)).at(row);
}

double years(const economics::Measure<double>& measure) {
  return measure.value.value_or(std::numeric_limits<double>::infinity());
}

void same(const whatif::TrialTable& table, const appraisal::Appraisal<double>& a, const std::string& loan,
          const catalog::Program& p, double epsilon) {
  const auto near = [&](TrialColumn column, double value, double cents = 1e-6) {
    INFO(whatif::trial_columns()[static_cast<std::size_t>(column)].name, " ", at(table, column), " ", value);
    CHECK((at(table, column) == value || std::abs(at(table, column) - value) <= cents + epsilon * std::abs(value)));
  };
  near(TrialColumn::installed_cost, a.measures.installed_cost);
  near(TrialColumn::incentives, a.measures.incentives);
  near(TrialColumn::due_at_install, a.measures.due_at_install);
  near(TrialColumn::first_year_saving, a.measures.first_year_saving);
  near(TrialColumn::net_savings, a.measures.net_savings);
  near(TrialColumn::simple_payback, years(a.measures.simple_payback_years));
  near(TrialColumn::discounted_payback, years(a.measures.discounted_payback_years));
  if (loan.empty()) return;
  for (const auto& result : a.loans) {
    if (p.loans[result.loan].id != loan) continue;
    near(TrialColumn::loan_amount, result.schedule.amount);
    near(TrialColumn::paid_at_install, result.paid_by_household_at_install);
    // Payments in proportion to the amount are within a cent of rounded ones: two dollars over twenty years.
    near(TrialColumn::net_savings_with_loan, result.net_savings, 2.0);
    near(TrialColumn::deepest, result.purse.deepest, 2.0);
  }
}

}  // namespace

TEST_SUITE("trials") {
  TEST_CASE("with nothing drawn a trial is the appraisal") {
    const auto program = std::make_shared<const catalog::Program>(demo());
    const Appraiser appraiser(program, data());
    for (const prices::Fuel fuel :
         {prices::Fuel::electricity, prices::Fuel::natural_gas, prices::Fuel::propane, prices::Fuel::heating_oil}) {
      for (const int old : {2, 12, 30}) {
        catalog::Household h = household(fuel);
        h.heater_age_years = old;
        for (const catalog::Package& package : program->packages) {
          h.package = package.id;
          for (const loans::LoanTerms& loan : program->loans) {
            const Prospect prospect(appraiser, h, hotwater::Detail::monthly, RiskModel{}, loan.id);
            const auto table = prospect.run(1, 0, 1);
            same(table, prospect.base(), loan.id, *program, 1e-12);
            for (const auto& result : prospect.base().loans) {
              if (program->loans[result.loan].id != loan.id) continue;
              CHECK(at(table, TrialColumn::net_savings_with_loan) == doctest::Approx(result.net_savings).epsilon(1e-9));
              CHECK(at(table, TrialColumn::lowest_bill_month) <= result.lowest_month_net + 1e-9);
            }
          }
        }
      }
    }
  }

  TEST_CASE("what a trial draws, put into the appraisal, gives the same money") {
    const catalog::Program base = demo();
    const auto program = std::make_shared<const catalog::Program>(base);
    const Appraiser appraiser(program, data());
    catalog::Household h = household();
    h.package = base.packages[1].id;
    h.hot_water_l_day = 200;
    h.installed_cost_usd = 8000;
    RiskModel model;
    const auto input = [&](Input which) -> whatif::Distribution& {
      return model.inputs[static_cast<std::size_t>(which)];
    };

    SUBCASE("cost, use, upkeep, life and an incentive that is gone") {
      input(Input::installed_cost).first = 1.17;
      input(Input::hot_water).first = 1.3;
      input(Input::upkeep).first = 1.6;
      input(Input::system_life).first = 0.61;
      model.gone = {{"county-rebate", 1.0}};
      catalog::Program changed = base;
      for (auto& rule : changed.rules) {
        if (rule.id == "county-rebate") rule.valid_to = dates::make_date(2001, 1, 1);
      }
      for (auto& item : changed.packages[1].upkeep) item.usd *= 1.6;
      changed.packages[1].life_years = static_cast<int>(std::round(base.packages[1].life_years * 0.61));
      catalog::Household other = h;
      other.installed_cost_usd = 8000 * 1.17;
      other.hot_water_l_day = 200 * 1.3;
      const auto loan = base.loans[0].id;
      const auto table = Prospect(appraiser, h, hotwater::Detail::monthly, model, loan).run(1, 0, 1);
      const auto truth =
          Appraiser(std::make_shared<catalog::Program>(changed), data()).appraise(other, hotwater::Detail::monthly);
      same(table, truth, loan, base, 1e-9);
      CHECK(at(table, TrialColumn::incentives_gone) == 1);
    }
    SUBCASE("prices of every year") {
      model.prices = {{prices::Fuel::propane, 0.2, 0.7}, {prices::Fuel::electricity, 0.1, 1.0}};
      const Prospect prospect(appraiser, h, hotwater::Detail::monthly, model);
      std::vector<double> u(prospect.dimensions());
      whatif::fill_uniforms(9, 9, 9, u);
      const auto table = prospect.run(u);
      catalog::Program changed = base;
      std::size_t which = 0;
      for (const auto& risk : model.prices) {
        std::vector<double> index =
            prices::price_indices<double>(base.escalation[static_cast<std::size_t>(risk.fuel)], base.study_years);
        double x = 0, variance = 0;
        for (std::size_t y = 1; y < index.size(); ++y) {
          x = risk.persistence * x +
              risk.volatility * whatif::normal_quantile(u[whatif::input_count + 3 * y + 1 + which]);
          variance = risk.persistence * risk.persistence * variance + risk.volatility * risk.volatility;
          index[y] *= std::exp(x - variance / 2);
        }
        if (risk.fuel == prices::Fuel::propane)
          CHECK(at(table, TrialColumn::fuel_price_times) == doctest::Approx(index.back()).epsilon(1e-12));
        changed.escalation[static_cast<std::size_t>(risk.fuel)].by_year =
            std::make_shared<const std::vector<double>>(index);
        ++which;
      }
      const auto truth =
          Appraiser(std::make_shared<catalog::Program>(changed), data()).appraise(h, hotwater::Detail::monthly);
      same(table, truth, {}, base, 1e-10);
    }
    SUBCASE("a darker sky, by both methods") {
      model.sun_years = {0.9};
      auto darker = std::make_shared<catalog::Catalog>(*data());
      std::vector<climate::Climate> climates = data()->atlas.climates();
      for (auto& one : climates) {
        for (double& kwh : one.months.horizontal_kwh_m2_day) kwh *= 0.9;
      }
      darker->atlas = climate::Atlas(std::move(climates));
      for (const auto detail : {hotwater::Detail::monthly, hotwater::Detail::hourly}) {
        const auto table = Prospect(appraiser, h, detail, model).run(1, 0, 1);
        const auto truth = Appraiser(program, darker).appraise(h, detail);
        CHECK(at(table, TrialColumn::first_year_saving) == doctest::Approx(truth.measures.first_year_saving));
        CHECK(at(table, TrialColumn::sun_times) == doctest::Approx(0.9));
      }
    }
    SUBCASE("between the grid's points") {
      input(Input::hot_water) = {Shape::lognormal, 1, 0.2, 0, 0.4, 2.5};
      const Prospect prospect(appraiser, h, hotwater::Detail::monthly, model);
      const auto table = prospect.run(3, 0, 40);
      for (std::size_t i = 0; i < 40; ++i) {
        catalog::Household other = h;
        other.hot_water_l_day = 200 * at(table, TrialColumn::hot_water_times, i);
        const auto truth = appraiser.appraise(other, hotwater::Detail::monthly);
        CHECK(at(table, TrialColumn::first_year_saving, i) ==
              doctest::Approx(truth.measures.first_year_saving).epsilon(0.001));
      }
    }
    SUBCASE("a household's own bill is met with the use as it is, and moves with it") {
      h.water_heating_bill_usd = {700};
      same(Prospect(appraiser, h, hotwater::Detail::monthly, model).run(1, 0, 1),
           appraiser.appraise(h, hotwater::Detail::monthly), {}, base, 1e-12);
      input(Input::hot_water).first = 1.2;
      const auto more = Prospect(appraiser, h, hotwater::Detail::monthly, model).run(1, 0, 1);
      h.water_heating_bill_usd = {840};
      h.hot_water_l_day = 240;
      same(more, appraiser.appraise(h, hotwater::Detail::monthly), {}, base, 1e-9);
    }
  }

  TEST_CASE("a loan with lumps in dollars is worked out anew in every trial") {
    catalog::Program p = demo();
    p.loans[0].lump_from_incentives = true;
    const Appraiser appraiser(std::make_shared<catalog::Program>(p), data());
    RiskModel model;
    model.inputs[0].first = 1.1;
    catalog::Household h = household();
    h.installed_cost_usd = 8000;
    const auto table = Prospect(appraiser, h, hotwater::Detail::monthly, model, p.loans[0].id).run(1, 0, 1);
    h.installed_cost_usd = 8800;
    same(table, appraiser.appraise(h, hotwater::Detail::monthly), p.loans[0].id, p, 1e-9);
  }

  TEST_CASE("trials are the same for any threads, and any part of them") {
    const Appraiser appraiser(std::make_shared<catalog::Program>(demo()), data());
    RiskModel model;
    model.inputs[0] = {Shape::triangular, 0.9, 1, 1.3, 0, 5};
    model.inputs[1] = {Shape::lognormal, 1, 0.2, 0, 0.4, 2.5};
    model.inputs[2] = {Shape::uniform, 0.5, 2, 0, 0, 5};
    model.inputs[3] = {Shape::normal, 1, 0.2, 0, 0.2, 3};
    model.inputs[4] = {Shape::uniform, 0, 2, 0, 0, 3};
    model.correlation = {1, 0, 0.5, 0, 0, 0, 1, 0, 0, 0, 0.5, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1};
    model.prices = {{prices::Fuel::propane, 0.15, 1}, {prices::Fuel::electricity, 0.03, 0.9}};
    model.price_correlation = {1, 0.4, 0.4, 1};
    model.sun_deviation = 0.03;
    model.gone = {{"county-rebate", 0.4}};
    const Prospect prospect(appraiser, household(), hotwater::Detail::monthly, model);
    const auto one = prospect.run(7, 0, 1500, 1);
    const auto two = prospect.run(7, 0, 1500, 2);
    const auto part = prospect.run(7, 700, 5, 1);
    for (std::size_t c = 0; c < whatif::trial_column_count; ++c) {
      CHECK(one[c] == two[c]);
      for (std::size_t i = 0; i < 5; ++i) CHECK(part[c][i] == one[c][700 + i]);
    }
    std::vector<double> u(prospect.dimensions());
    whatif::fill_uniforms(7, whatif::key_of("h1"), 3, u);
    CHECK(at(prospect.run(u), TrialColumn::net_savings) == at(one, TrialColumn::net_savings, 3));
  }

  TEST_CASE("bright years of a bright place stay below the sun outside the atmosphere") {
    const Appraiser appraiser(std::make_shared<catalog::Program>(demo()), data());
    catalog::Household h = household();
    h.place = "DAGGETT BARSTOW-DAGGETT AP, CA";
    RiskModel model;
    model.sun_deviation = 0.1;
    for (const auto detail : {hotwater::Detail::monthly, hotwater::Detail::hourly}) {
      const auto table = Prospect(appraiser, h, detail, model).run(1, 0, 200);
      model.sun_years = {1.5};
      const auto brightest = Prospect(appraiser, h, detail, model).run(1, 0, 1);
      model.sun_years = {};
      for (std::size_t i = 0; i < 200; ++i)
        CHECK(at(table, TrialColumn::first_year_saving, i) <= at(brightest, TrialColumn::first_year_saving) * 1.001);
    }
  }

  TEST_CASE("models that cannot be are refused") {
    const Appraiser appraiser(std::make_shared<catalog::Program>(demo()), data());
    const auto with = [&](const auto& change) {
      RiskModel model;
      change(model);
      return Prospect(appraiser, household(), hotwater::Detail::monthly, model);
    };
    CHECK_THROWS_AS(with([](RiskModel& m) { m.sun_deviation = -1; }), errors::ValueOutOfRange);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.sun_years = {0.1}; }), errors::ValueOutOfRange);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.prices = {{prices::Fuel::propane, 3, 1}}; }), errors::ValueOutOfRange);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.prices = {{prices::Fuel::propane, 0, 2}}; }), errors::ValueOutOfRange);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.prices = {{}, {}}; }), errors::DuplicateName);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.gone = {{"nothing", 0.5}}; }), errors::UnknownName);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.gone = {{"county-rebate", 1.5}}; }), errors::ValueOutOfRange);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.inputs[1].first = 0; }), errors::ValueOutOfRange);
    CHECK_THROWS_AS(with([](RiskModel& m) { m.correlation = {1}; }), errors::ValueOutOfRange);
    CHECK_THROWS_AS(Prospect(appraiser, household(), hotwater::Detail::monthly, {}, "nobody's"), errors::UnknownName);
    const Prospect prospect(appraiser, household(), hotwater::Detail::monthly, {});
    CHECK_THROWS_AS((void)prospect.run(std::vector<double>{0.5}), errors::ValueOutOfRange);
    CHECK_THROWS_AS((void)prospect.run(std::vector<double>(prospect.dimensions(), 1.0)), errors::ValueOutOfRange);
  }
}

TEST_SUITE("cases") {
  TEST_CASE("cases are appraisals, and what they share is worked out once") {
    const auto program = std::make_shared<const catalog::Program>(demo());
    catalog::Program other = demo();
    other.nominal_discount_rate += 0.01;
    const Appraiser first(program, data());
    const Appraiser second(std::make_shared<catalog::Program>(other), data());
    std::vector<whatif::Case> cases;
    for (const Appraiser* appraiser : {&first, &second}) {
      for (const double cost : {6000.0, 7000.0, 8000.0}) {
        for (const double tilt : {30.0, 40.0}) {
          catalog::SheetRow row;
          row.household = household();
          row.household.package = program->packages[1].id;
          row.household.installed_cost_usd = cost;
          row.household.roof_tilt_deg = tilt;
          cases.push_back({appraiser, row});
        }
      }
    }
    catalog::SheetRow bad;
    bad.household = household();
    bad.household.place = "Nowhere at all";
    cases.push_back({&first, bad});
    const auto net_savings_column = [] {
      const auto columns = screening::result_columns();
      return static_cast<std::size_t>(
          std::find_if(columns.begin(), columns.end(), [](const auto& c) { return c.name == "net_savings_usd"; }) -
          columns.begin());
    }();
    for (const auto detail : {hotwater::Detail::monthly, hotwater::Detail::hourly}) {
      for (const unsigned threads : {1U, 2U}) {
        const whatif::Answers answers = whatif::appraise_cases(cases, detail, threads, "sheet");
        CHECK(answers.simulations == 2);
        CHECK(answers.irradiances == 2);
        CHECK(answers.bad_rows == 1);
        REQUIRE(answers.problems.size() == 1);
        CHECK(answers.problems[0].where.row == 13);
        for (std::size_t i = 0; i + 1 < cases.size(); ++i) {
          const auto alone = cases[i].appraiser->appraise(cases[i].row.household, detail);
          CHECK(answers.columns[net_savings_column].numbers[i] == alone.measures.net_savings);
        }
      }
    }
  }

  TEST_CASE("many uses of one roof meet its sun once") {
    const Appraiser appraiser(std::make_shared<const catalog::Program>(demo()), data());
    std::vector<whatif::Case> cases;
    for (int i = 0; i < 200; ++i) {
      catalog::SheetRow row;
      row.household = household();
      row.household.package = appraiser.program().packages[0].id;
      row.household.hot_water_l_day = 100 + i;
      cases.push_back({&appraiser, row});
    }
    const whatif::Answers answers = whatif::appraise_cases(cases, hotwater::Detail::monthly, 2);
    CHECK(answers.simulations == 200);
    CHECK(answers.irradiances == 1);
    CHECK(answers.bad_rows == 0);
  }
}
