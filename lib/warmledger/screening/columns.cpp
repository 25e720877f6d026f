#include <array>

#include <fmt/format.h>

#include "warmledger/screening/screening.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::screening {

using appraisal::Appraiser;
using Result = appraisal::Appraisal<double>;

namespace {

std::optional<double> no_number(const Appraiser&, const Row&) {
  return std::nullopt;
}
std::string no_text(const Appraiser&, const Row&) {
  return {};
}

/// A number column from a function of the appraisal; none for a row without one.
template <auto Get>
std::optional<double> from(const Appraiser&, const Row& row) {
  if (!row.appraisal) return std::nullopt;
  return Get(*row.appraisal);
}

/// Sum over the year of a monthly member of the simulation; none by the monthly method.
template <auto Member>
std::optional<double> from_simulation(const Appraiser&, const Row& row) {
  if (!row.appraisal || !row.appraisal->simulated) return std::nullopt;
  return row.appraisal->year.yearly((*row.appraisal->simulated).*Member);
}

using M = appraisal::Measures<double>;
using T = economics::CostTestResult<double>;

template <auto Member>
std::optional<double> amount(const Appraiser&, const Row& row) {
  if (!row.appraisal) return std::nullopt;
  return row.appraisal->measures.*Member;
}

template <auto Member>
std::optional<double> measure(const Appraiser&, const Row& row) {
  if (!row.appraisal) return std::nullopt;
  return (row.appraisal->measures.*Member).value;
}

template <auto Member>
std::optional<double> percent(const Appraiser& appraiser, const Row& row) {
  const std::optional<double> share = measure<Member>(appraiser, row);
  return share ? std::optional(*share * 100) : std::nullopt;
}

const appraisal::LoanResult<double>* best_loan(const Row& row) {
  return row.appraisal && row.appraisal->best_loan ? &row.appraisal->loans[*row.appraisal->best_loan] : nullptr;
}

template <auto Member>
std::optional<double> of_best_loan(const Appraiser&, const Row& row) {
  const auto* loan = best_loan(row);
  return loan ? std::optional(loan->*Member) : std::nullopt;
}

/// An amount of a cost test; none where the program asks for no tests or the test has no result.
template <economics::CostTest Test, auto Member>
std::optional<double> of_cost_test(const Appraiser&, const Row& row) {
  if (!row.appraisal || !row.appraisal->cost_tests) return std::nullopt;
  const auto& result = (*row.appraisal->cost_tests)[static_cast<std::size_t>(Test)].result;
  return result ? std::optional((*result).*Member) : std::nullopt;
}

std::string joined(const std::vector<std::string>& parts) {
  return fmt::format("{}", fmt::join(parts, "; "));
}

std::string decision_text(const Appraiser&, const Row& row) {
  return row.appraisal ? std::string(appraisal::name_of(row.appraisal->decision)) : "bad row";
}

std::string reason_text(const Appraiser& appraiser, const Row& row) {
  if (row.appraisal) return appraiser.reason(*row.appraisal);
  std::vector<std::string> sentences;
  for (const errors::Problem& problem : row.problems) {
    errors::Problem short_form = problem;
    short_form.where.file.clear();
    short_form.where.row.reset();
    sentences.push_back(errors::sentence(short_form));
  }
  return joined(sentences);
}

std::string incentives_text(const Appraiser& appraiser, const Row& row) {
  if (!row.appraisal) return {};
  std::vector<std::string> parts;
  for (const incentives::Outcome& outcome : row.appraisal->incentives) {
    if (outcome.verdict == incentives::Verdict::applied && outcome.amount_usd > 0) {
      parts.push_back(
          fmt::format("{}{}: {}", appraiser.stack().rules()[outcome.rule].id,
                      appraiser.stack().rules()[outcome.rule].as_if.empty() ? "" : " (what-if, not the law)",
                      money::dollars(outcome.amount_usd)));
      if (outcome.tax_usd > 0) parts.back() += fmt::format(" (income tax on it {})", money::dollars(outcome.tax_usd));
      const dates::Date end = dates::add_months(appraiser.program().install_date, appraiser.program().study_years * 12);
      double late = 0;
      for (const incentives::Payment& payment : outcome.payments) late += payment.date > end ? payment.usd : 0;
      if (late > 0) parts.back() += fmt::format(" ({} of it after the study, not counted)", money::dollars(late));
    }
  }
  return joined(parts);
}

std::string as_if_text(const Appraiser& appraiser, const Row& row) {
  return row.appraisal ? joined(appraiser.program().as_if) : std::string();
}

std::string refused_text(const Appraiser& appraiser, const Row& row) {
  if (!row.appraisal) return {};
  std::vector<std::string> parts;
  for (const incentives::Outcome& outcome : row.appraisal->incentives) {
    if (outcome.verdict != incentives::Verdict::applied) {
      parts.push_back(fmt::format("{}: {}", appraiser.stack().rules()[outcome.rule].id,
                                  appraiser.stack().explain(outcome, row.appraisal->claim)));
    }
  }
  return joined(parts);
}

std::string cautions_text(const Appraiser&, const Row& row) {
  if (!row.appraisal) return {};
  std::vector<std::string> parts;
  for (const hotwater::Caution& caution : row.appraisal->cautions)
    parts.push_back(fmt::format("{}: {}", hotwater::name_of(caution.topic), caution.text));
  return fmt::format("{}", fmt::join(parts, " | "));
}

std::string cost_tests_text(const Appraiser&, const Row& row) {
  if (!row.appraisal || !row.appraisal->cost_tests) return {};
  std::vector<std::string> parts;
  for (std::size_t k = 0; k < economics::cost_test_count; ++k) {
    const auto& outcome = (*row.appraisal->cost_tests)[k];
    const std::string_view title = economics::title(static_cast<economics::CostTest>(k));
    if (!outcome.result) {
      parts.push_back(fmt::format("{}: {}", title, outcome.why_none));
    } else if (!outcome.result->ratio.value) {
      parts.push_back(fmt::format("{}, ratio: {}", title, outcome.result->ratio.why_none));
    }
  }
  return joined(parts);
}

std::string payback_text(const Appraiser&, const Row& row) {
  if (!row.appraisal) return {};
  std::vector<std::string> parts;
  const auto add = [&parts](std::string_view name, const economics::Measure<double>& value) {
    if (!value.value) parts.push_back(fmt::format("{}: {}", name, value.why_none));
  };
  const M& m = row.appraisal->measures;
  add("simple payback", m.simple_payback_years);
  add("discounted payback", m.discounted_payback_years);
  add("savings-to-investment ratio", m.savings_to_investment);
  add("adjusted internal rate of return", m.adjusted_internal_rate_of_return);
  add("lasting simple payback", m.lasting_simple_payback_years);
  add("lasting discounted payback", m.lasting_discounted_payback_years);
  add("internal rate of return", m.internal_rate_of_return);
  if (m.internal_rates.rates.size() > 1) {
    std::vector<std::string> rates;
    for (const double rate : m.internal_rates.rates) rates.push_back(fmt::format("{:.2f} %", rate * 100));
    parts.back() += fmt::format(" ({})", fmt::join(rates, ", "));
  }
  add("levelised cost of heat", m.levelised_cost_of_heat);
  add("break-even fuel price", m.break_even_fuel_price);
  add("break-even installed cost", m.break_even_installed_cost);
  add("water heating burden", m.water_heating_burden_without);
  add("energy burden", m.energy_burden_without);
  add("extra help", m.extra_help);
  return joined(parts);
}

template <auto Text>
std::string text_of(const Appraiser& appraiser, const Row& row) {
  if (!row.appraisal) return {};
  return Text(appraiser, *row.appraisal);
}

std::span<const ResultColumn> table() {
  using enum ColumnKind;
  static const std::array columns{
      ResultColumn{"household_id", text, "", 0, "Identifier as it stands in the sheet", no_number,
                   [](const Appraiser&, const Row& r) { return r.household_id; }},
      ResultColumn{"decision", text, "", 0,
                   "pays in cash, pays with loan, needs more help, does not pay, not suitable; or bad row", no_number,
                   decision_text},
      ResultColumn{"reason", text, "", 0, "Why, with the figures behind it; for a bad row every problem found",
                   no_number, reason_text},
      ResultColumn{"income_tier", text, "", 0,
                   "First of the program's income tiers whose limit the income does not exceed, or above", no_number,
                   text_of<[](const Appraiser&, const Result& a) { return a.income_tier; }>},
      ResultColumn{"income_share_pct", number, "% of area median income", 1,
                   "Yearly income over the area median for the household's size",
                   from<[](const Result& a) { return a.income_share * 100; }>, no_text},
      ResultColumn{"package", text, "", 0,
                   "Package with the greatest net savings among those that fit, or the one the sheet asks for",
                   no_number,
                   text_of<[](const Appraiser& p, const Result& a) { return p.program().packages[a.package].id; }>},
      ResultColumn{"weather_station", text, "", 0, "Weather station whose monthly means were used", no_number,
                   text_of<[](const Appraiser&, const Result& a) {
                     return fmt::format("{}, {} ({})", a.climate->place.name, a.climate->place.state,
                                        a.climate->place.station_id);
                   }>},
      ResultColumn{"station_distance_km", number, "km", 1, "Distance from the household's place to that station",
                   from<[](const Result& a) { return a.distance_km; }>, no_text},
      ResultColumn{"load_kwh", number, "kWh a year", 0,
                   "Heat to bring the hot water from the mains to the set temperature",
                   from<[](const Result& a) { return a.year.yearly(a.year.load_kwh); }>, no_text},
      ResultColumn{"solar_fraction_pct", number, "% of the load", 1, "Share of that heat that the sun brings in a year",
                   from<[](const Result& a) { return a.year.solar_fraction_by_heat() * 100; }>, no_text},
      ResultColumn{"fuel_saved_pct", number, "% of purchased energy", 1,
                   "Share of the heater's purchased energy that is saved, pumps left out",
                   from<[](const Result& a) { return a.year.solar_fraction_by_fuel() * 100; }>, no_text},
      ResultColumn{"fuel_saved", number, "sold units of the existing fuel a year", 1,
                   "Purchased fuel without less with, in kWh, therms or gallons of the existing fuel (a one-tank "
                   "system's electricity is not in it)",
                   from<[](const Result& a) {
                     double units = 0;
                     for (std::size_t m = 0; m < 12; ++m)
                       units += a.plan.fuel_without.units[m] -
                                (a.plan.fuel_with.fuel == a.plan.fuel_without.fuel ? a.plan.fuel_with.units[m] : 0.0);
                     return units;
                   }>,
                   no_text},
      ResultColumn{"fuel_unit", text, "", 0, "Unit of fuel_saved", no_number,
                   text_of<[](const Appraiser&, const Result& a) {
                     return std::string(prices::unit_of(a.plan.fuel_without.fuel));
                   }>},
      ResultColumn{"pump_kwh", number, "kWh a year", 0, "Electricity of the collector pumps",
                   from<[](const Result& a) { return a.year.yearly(a.year.pump_kwh); }>, no_text},
      ResultColumn{"pump_hours", number, "hours a year", 0, "Hours in which the collector pump runs (hourly method)",
                   from_simulation<&hotwater::SimulatedYear::pump_hours>, no_text},
      ResultColumn{
          "hot_tap_hours", number, "hours a year", 0,
          "Hours of draw in which water above 120 F would reach a tap without the tempering valve (hourly method)",
          from_simulation<&hotwater::SimulatedYear::hot_tap_hours>, no_text},
      ResultColumn{"high_limit_hours", number, "hours a year", 0,
                   "Hours in which the high limit keeps the pump off in the sun (hourly method)",
                   from_simulation<&hotwater::SimulatedYear::high_limit_hours>, no_text},
      ResultColumn{"stagnation_hours", number, "hours a year", 0,
                   "Hours in which glycol stands still above the temperature at which it degrades (hourly method)",
                   from_simulation<&hotwater::SimulatedYear::stagnation_hours>, no_text},
      ResultColumn{"peak_tank_f", number, "degrees F", 0,
                   "Highest temperature at the top of the solar tank (hourly method)",
                   [](const Appraiser&, const Row& r) {
                     return r.appraisal && r.appraisal->simulated
                                ? std::optional(units::fahrenheit_from_celsius(r.appraisal->simulated->peak_tank_c))
                                : std::nullopt;
                   },
                   no_text},
      ResultColumn{"co2_saved_kg", number, "kg a year", 0, "Carbon dioxide not released, pumps counted",
                   from<[](const Result& a) { return a.co2_saved_kg_year; }>, no_text},
      ResultColumn{"installed_cost_usd", number, "US dollars", 2,
                   "The household's quote, or the package's material and labor", amount<&M::installed_cost>, no_text},
      ResultColumn{"incentives_usd", number, "US dollars", 2, "All incentives received within the study",
                   amount<&M::incentives>, no_text},
      ResultColumn{"net_cost_usd", number, "US dollars", 2, "Installed cost less incentives", amount<&M::net_cost>,
                   no_text},
      ResultColumn{"due_at_install_usd", number, "US dollars", 2,
                   "Installed cost less the incentives that arrive on the install date", amount<&M::due_at_install>,
                   no_text},
      ResultColumn{"incentives_applied", text, "", 0, "Each incentive that pays, and how much", no_number,
                   incentives_text},
      ResultColumn{"incentives_refused", text, "", 0,
                   "Each incentive that does not pay, and the first condition that failed", no_number, refused_text},
      ResultColumn{
          "wait_listed", yes_no, "", 0,
          "Whether a pool of the program had no money left for this household, which is then appraised without "
          "it; empty where the program has no pools",
          no_number, no_text},
      ResultColumn{"pool_funding", text, "", 0,
                   "Of each pool that the household asked: whether it is funded, its place and what was left",
                   no_number, [](const Appraiser&, const Row&) { return std::string(); }},
      ResultColumn{
          "as_if", text, "", 0,
          "What-ifs of the program: rules that are not the law, prices that do not hold; named wherever they count",
          no_number, as_if_text},
      ResultColumn{"first_year_cost_without_usd", number, "US dollars", 2,
                   "Water heating fuel in year 1 with the existing heater alone", amount<&M::first_year_cost_without>,
                   no_text},
      ResultColumn{"first_year_cost_with_usd", number, "US dollars", 2, "Backup fuel and pump electricity in year 1",
                   amount<&M::first_year_cost_with>, no_text},
      ResultColumn{"first_year_saving_usd", number, "US dollars", 2, "The one less the other",
                   amount<&M::first_year_saving>, no_text},
      ResultColumn{"simple_payback_years", number, "years", 1,
                   "Until the running sum of nominal cash flow, bought in cash, first reaches zero; remaining values "
                   "are no cash",
                   measure<&M::simple_payback_years>, no_text},
      ResultColumn{"discounted_payback_years", number, "years", 1,
                   "The same with each month discounted to the install date", measure<&M::discounted_payback_years>,
                   no_text},
      ResultColumn{"net_savings_usd", number, "US dollars, present value", 2,
                   "Life-cycle cost without less life-cycle cost with, in cash", amount<&M::net_savings>, no_text},
      ResultColumn{
          "savings_to_investment", number, "ratio", 2,
          "Present value of savings in fuel, pump and upkeep over that of the extra investment (10 CFR 436.21)",
          measure<&M::savings_to_investment>, no_text},
      ResultColumn{"adjusted_irr_pct", number, "% a year, nominal", 2,
                   "Adjusted internal rate of return (10 CFR 436.22), savings reinvested at the discount rate",
                   percent<&M::adjusted_internal_rate_of_return>, no_text},
      ResultColumn{"internal_rate_of_return_pct", number, "% a year, nominal", 2,
                   "Rate at which net savings are zero, where there is exactly one; none or several are told in "
                   "measures_none",
                   percent<&M::internal_rate_of_return>, no_text},
      ResultColumn{"lasting_simple_payback_years", number, "years", 1,
                   "Until the running sum of simple_payback_years is zero or more and never again below",
                   measure<&M::lasting_simple_payback_years>, no_text},
      ResultColumn{"lasting_discounted_payback_years", number, "years", 1,
                   "The same with each month discounted to the install date",
                   measure<&M::lasting_discounted_payback_years>, no_text},
      ResultColumn{"equivalent_annual_value_usd", number, "US dollars a year", 2,
                   "Net savings as an even amount at the end of each year of the study",
                   amount<&M::equivalent_annual_value>, no_text},
      ResultColumn{"levelised_cost_of_heat_usd_per_kwh", number, "US dollars per kWh of solar heat", 4,
                   "Present value of the extra investment, upkeep and pump electricity over that of the solar heat",
                   measure<&M::levelised_cost_of_heat>, no_text},
      ResultColumn{"break_even_fuel_price_usd", number, "US dollars per sold unit of the existing fuel", 4,
                   "Price in year 1 at which net savings are zero, all else unchanged",
                   measure<&M::break_even_fuel_price>, no_text},
      ResultColumn{"break_even_installed_cost_usd", number, "US dollars", 2,
                   "Installed cost at which net savings are zero, incentives unchanged in dollars",
                   measure<&M::break_even_installed_cost>, no_text},
      ResultColumn{"life_cycle_cost_without_usd", number, "US dollars, present value", 2,
                   "Of water heating over the study, without the system", amount<&M::life_cycle_cost_without>, no_text},
      ResultColumn{"life_cycle_cost_with_usd", number, "US dollars, present value", 2,
                   "Of water heating over the study, with the system bought in cash", amount<&M::life_cycle_cost_with>,
                   no_text},
      ResultColumn{"extra_help_usd", number, "US dollars", 2,
                   "Sum at install that makes every threshold hold, other incentives unchanged; 0 if they hold",
                   measure<&M::extra_help>, no_text},
      ResultColumn{"loan", text, "", 0,
                   "The program's loan with the best average month; one that pays from month one goes first", no_number,
                   [](const Appraiser& p, const Row& r) {
                     const auto* l = best_loan(r);
                     return l ? p.program().loans[l->loan].id : std::string();
                   }},
      ResultColumn{"loan_amount_usd", number, "US dollars", 2,
                   "Amount lent: what is due at install, up to the most the lender lends",
                   [](const Appraiser&, const Row& r) {
                     const auto* l = best_loan(r);
                     return l ? std::optional(l->schedule.amount) : std::nullopt;
                   },
                   no_text},
      ResultColumn{"loan_payment_usd", number, "US dollars a payment", 2, "Level payment",
                   [](const Appraiser&, const Row& r) {
                     const auto* l = best_loan(r);
                     return l ? std::optional(l->schedule.level_payment) : std::nullopt;
                   },
                   no_text},
      ResultColumn{"loan_cash_at_install_usd", number, "US dollars", 2,
                   "What the loan and the incentives at install leave to the household",
                   of_best_loan<&appraisal::LoanResult<double>::paid_by_household_at_install>, no_text},
      ResultColumn{"loan_average_month_usd", number, "US dollars a month", 2,
                   "First year's bill saving less the payments of the loan's costliest year, over 12",
                   of_best_loan<&appraisal::LoanResult<double>::average_month_net>, no_text},
      ResultColumn{"loan_lowest_month_usd", number, "US dollars a month", 2,
                   "Lowest of the first twelve months: that month's bill saving less the payment",
                   of_best_loan<&appraisal::LoanResult<double>::lowest_month_net>, no_text},
      ResultColumn{"loan_net_savings_usd", number, "US dollars, present value", 2,
                   "Net savings when bought with that loan", of_best_loan<&appraisal::LoanResult<double>::net_savings>,
                   no_text},
      ResultColumn{"pays_from_month_one", yes_no, "", 0,
                   "Whether that loan leaves nothing to pay at install and its average month is not negative",
                   [](const Appraiser&, const Row& r) {
                     const auto* l = best_loan(r);
                     return l ? std::optional(l->pays_from_month_one ? 1.0 : 0.0) : std::nullopt;
                   },
                   no_text},
      ResultColumn{"water_heating_burden_without_pct", number, "% of income", 2,
                   "Year-1 water heating cost over income, without", percent<&M::water_heating_burden_without>,
                   no_text},
      ResultColumn{"water_heating_burden_with_pct", number, "% of income", 2, "The same with the system",
                   percent<&M::water_heating_burden_with>, no_text},
      ResultColumn{"energy_burden_without_pct", number, "% of income", 2,
                   "All household energy bills over income, where yearly_energy_bills_usd is given",
                   percent<&M::energy_burden_without>, no_text},
      ResultColumn{"energy_burden_with_pct", number, "% of income", 2, "The same less the first-year saving",
                   percent<&M::energy_burden_with>, no_text},
      ResultColumn{"participant_test_benefits_usd", number, "US dollars, present value", 2,
                   "Benefits of the participant test, where the program file has [cost_tests]",
                   of_cost_test<economics::CostTest::participant, &T::benefits>, no_text},
      ResultColumn{"participant_test_costs_usd", number, "US dollars, present value", 2,
                   "Costs of the participant test", of_cost_test<economics::CostTest::participant, &T::costs>, no_text},
      ResultColumn{"administrator_test_benefits_usd", number, "US dollars, present value", 2,
                   "Benefits of the program administrator test, where the program file has [cost_tests]",
                   of_cost_test<economics::CostTest::administrator, &T::benefits>, no_text},
      ResultColumn{"administrator_test_costs_usd", number, "US dollars, present value", 2,
                   "Costs of the program administrator test",
                   of_cost_test<economics::CostTest::administrator, &T::costs>, no_text},
      ResultColumn{"ratepayer_impact_test_benefits_usd", number, "US dollars, present value", 2,
                   "Benefits of the ratepayer impact test, where the program file has [cost_tests]",
                   of_cost_test<economics::CostTest::ratepayer_impact, &T::benefits>, no_text},
      ResultColumn{"ratepayer_impact_test_costs_usd", number, "US dollars, present value", 2,
                   "Costs of the ratepayer impact test", of_cost_test<economics::CostTest::ratepayer_impact, &T::costs>,
                   no_text},
      ResultColumn{"total_resource_test_benefits_usd", number, "US dollars, present value", 2,
                   "Benefits of the total resource cost test, where the program file has [cost_tests]",
                   of_cost_test<economics::CostTest::total_resource, &T::benefits>, no_text},
      ResultColumn{"total_resource_test_costs_usd", number, "US dollars, present value", 2,
                   "Costs of the total resource cost test",
                   of_cost_test<economics::CostTest::total_resource, &T::costs>, no_text},
      ResultColumn{"societal_test_benefits_usd", number, "US dollars, present value", 2,
                   "Benefits of the societal test, where the program file has [cost_tests]",
                   of_cost_test<economics::CostTest::societal, &T::benefits>, no_text},
      ResultColumn{"societal_test_costs_usd", number, "US dollars, present value", 2, "Costs of the societal test",
                   of_cost_test<economics::CostTest::societal, &T::costs>, no_text},
      ResultColumn{"cost_tests_none", text, "", 0, "Cost tests that have no result or no ratio, and why", no_number,
                   cost_tests_text},
      ResultColumn{"measures_none", text, "", 0, "Measures that have no value, and why", no_number, payback_text},
      ResultColumn{"cautions", text, "", 0,
                   "What can hurt a person or a house. Local codes and licensed practice decide", no_number,
                   cautions_text},
      ResultColumn{"method_notes", text, "", 0,
                   "Where the input lies outside the range the energy method was fitted to", no_number,
                   text_of<[](const Appraiser&, const Result& a) { return joined(a.year.notes); }>},
      ResultColumn{"own_bill_scale", number, "", 2,
                   "Factor on the simulated energy without the system from the household's own bill; 1 where the sheet "
                   "has none",
                   from<[](const Result& a) { return a.own_bill.scale; }>, no_text},
      ResultColumn{"own_bill_note", text, "", 0, "How the own bill was used, and whether a bound held it", no_number,
                   text_of<[](const Appraiser&, const Result& a) { return a.own_bill.text; }>},
      ResultColumn{"defaults_used", text, "", 0, "Everything that was assumed because the sheet does not say",
                   no_number, text_of<[](const Appraiser&, const Result& a) { return joined(a.defaults_used); }>},
  };
  return columns;
}

}  // namespace

std::span<const ResultColumn> result_columns() {
  return table();
}

std::string result_columns_markdown() {
  std::string text = "| column | unit | meaning |\n| --- | --- | --- |\n";
  for (const ResultColumn& column : result_columns()) {
    text += fmt::format("| {} | {} | {} |\n", column.name,
                        column.unit.empty() ? (column.kind == ColumnKind::yes_no ? "yes or no" : "text") : column.unit,
                        column.meaning);
  }
  return text;
}

}  // namespace warmledger::screening
