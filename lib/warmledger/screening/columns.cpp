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
void no_text(const Appraiser&, const Row&, std::string&) {}

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

/// Begins another part of a cell.
void part(std::string& out, std::string_view mark = "; ") {
  if (!out.empty()) out += mark;
}

/// The same with a heading.
void part(std::string& out, std::string_view heading, std::string_view mark) {
  part(out, mark);
  out.append(heading).append(": ");
}

void join(std::string& out, std::span<const std::string> parts) {
  for (const std::string& one : parts) {
    part(out);
    out += one;
  }
}

void decision_text(const Appraiser&, const Row& row, std::string& out) {
  out += row.appraisal ? appraisal::name_of(row.appraisal->decision) : "bad row";
}

void reason_text(const Appraiser& appraiser, const Row& row, std::string& out) {
  if (row.appraisal) {
    out += appraiser.reason(*row.appraisal);
    return;
  }
  for (const errors::Problem& problem : row.problems) {
    errors::Problem short_form = problem;
    short_form.where.file.clear();
    short_form.where.row.reset();
    part(out);
    out += errors::sentence(short_form);
  }
}

void station_text(const Appraiser&, const Result& a, std::string& out) {
  const climate::Place& place = a.climate->place;
  out.append(place.name).append(", ").append(place.state).append(" (").append(place.station_id).append(")");
}

void incentives_text(const Appraiser& appraiser, const Result& a, std::string& out) {
  const catalog::Program& program = appraiser.program();
  const dates::Date end = dates::add_months(program.install_date, program.study_years * 12);
  for (const incentives::Outcome& outcome : a.incentives) {
    if (outcome.verdict != incentives::Verdict::applied || !(outcome.amount_usd > 0)) continue;
    const incentives::Rule& rule = appraiser.stack().rules()[outcome.rule];
    part(out);
    out.append(rule.id).append(rule.as_if.empty() ? "" : " (what-if, not the law)").append(": ");
    out += money::dollars(outcome.amount_usd);
    if (outcome.tax_usd > 0) out.append(" (income tax on it ").append(money::dollars(outcome.tax_usd)).append(")");
    double late = 0;
    for (const incentives::Payment& payment : outcome.payments) late += payment.date > end ? payment.usd : 0;
    if (late > 0) out.append(" (").append(money::dollars(late)).append(" of it after the study, not counted)");
  }
}

void refused_text(const Appraiser& appraiser, const Result& a, std::string& out) {
  for (const incentives::Outcome& outcome : a.incentives) {
    if (outcome.verdict == incentives::Verdict::applied) continue;
    part(out, appraiser.stack().rules()[outcome.rule].id, "; ");
    out += appraiser.stack().explain(outcome, a.claim);
  }
}

void cautions_text(const Appraiser&, const Result& a, std::string& out) {
  for (const hotwater::Caution& caution : a.cautions) {
    part(out, hotwater::name_of(caution.topic), " | ");
    out += caution.text;
  }
}

void cost_tests_text(const Appraiser&, const Result& a, std::string& out) {
  if (!a.cost_tests) return;
  for (std::size_t k = 0; k < economics::cost_test_count; ++k) {
    const auto& outcome = (*a.cost_tests)[k];
    const std::string_view title = economics::title(static_cast<economics::CostTest>(k));
    if (!outcome.result) {
      part(out, title, "; ");
      out += outcome.why_none;
    } else if (!outcome.result->ratio.value) {
      part(out);
      out.append(title).append(", ratio: ").append(outcome.result->ratio.why_none);
    }
  }
}

void measures_text(const Appraiser&, const Result& a, std::string& out) {
  const auto add = [&out](std::string_view name, const economics::Measure<double>& value) {
    if (value.value) return;
    part(out, name, "; ");
    out += value.why_none;
  };
  const M& m = a.measures;
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
    out += fmt::format(" ({})", fmt::join(rates, ", "));
  }
  add("levelised cost of heat", m.levelised_cost_of_heat);
  add("break-even fuel price", m.break_even_fuel_price);
  add("break-even installed cost", m.break_even_installed_cost);
  add("water heating burden", m.water_heating_burden_without);
  add("energy burden", m.energy_burden_without);
  add("extra help", m.extra_help);
}

/// A text column from a function of the appraisal; empty for a row without one.
template <auto Text>
void text_of(const Appraiser& appraiser, const Row& row, std::string& out) {
  if (row.appraisal) Text(appraiser, *row.appraisal, out);
}

std::span<const ResultColumn> table() {
  using enum ColumnKind;
  static const std::array columns{
      ResultColumn{"household_id", text, "", 0, "Identifier as it stands in the sheet", no_number,
                   [](const Appraiser&, const Row& r, std::string& out) { out += r.household_id; }},
      ResultColumn{"decision", text, "", 0,
                   "pays in cash, pays with loan, needs more help, does not pay, not suitable; or bad row", no_number,
                   decision_text},
      ResultColumn{"reason", text, "", 0, "Why, with the figures behind it; for a bad row every problem found",
                   no_number, reason_text},
      ResultColumn{"income_tier", text, "", 0,
                   "First of the program's income tiers whose limit the income does not exceed, or above", no_number,
                   text_of<[](const Appraiser&, const Result& a, std::string& out) { out += a.income_tier; }>},
      ResultColumn{"income_share_pct", number, "% of area median income", 1,
                   "Yearly income over the area median for the household's size",
                   from<[](const Result& a) { return a.income_share * 100; }>, no_text},
      ResultColumn{"package", text, "", 0,
                   "Package with the greatest net savings among those that fit, or the one the sheet asks for",
                   no_number, text_of<[](const Appraiser& p, const Result& a, std::string& out) {
                     out += p.program().packages[a.package].id;
                   }>},
      ResultColumn{"weather_station", text, "", 0, "Weather station whose monthly means were used", no_number,
                   text_of<station_text>},
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
                   text_of<[](const Appraiser&, const Result& a, std::string& out) {
                     out += prices::unit_of(a.plan.fuel_without.fuel);
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
                   text_of<incentives_text>},
      ResultColumn{"incentives_refused", text, "", 0,
                   "Each incentive that does not pay, and the first condition that failed", no_number,
                   text_of<refused_text>},
      ResultColumn{
          "wait_listed", yes_no, "", 0,
          "Whether a pool of the program had no money left for this household, which is then appraised without "
          "it; empty where the program has no pools",
          no_number, no_text},
      ResultColumn{"pool_funding", text, "", 0,
                   "Of each pool that the household asked: whether it is funded, its place and what was left",
                   no_number, no_text},
      ResultColumn{
          "as_if", text, "", 0,
          "What-ifs of the program: rules that are not the law, prices that do not hold; named wherever they count",
          no_number,
          text_of<[](const Appraiser& p, const Result&, std::string& out) { join(out, p.program().as_if); }>},
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
                   [](const Appraiser& p, const Row& r, std::string& out) {
                     if (const auto* l = best_loan(r)) out += p.program().loans[l->loan].id;
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
                   text_of<cost_tests_text>},
      ResultColumn{"measures_none", text, "", 0, "Measures that have no value, and why", no_number,
                   text_of<measures_text>},
      ResultColumn{"cautions", text, "", 0,
                   "What can hurt a person or a house. Local codes and licensed practice decide", no_number,
                   text_of<cautions_text>},
      ResultColumn{"method_notes", text, "", 0,
                   "Where the input lies outside the range the energy method was fitted to", no_number,
                   text_of<[](const Appraiser&, const Result& a, std::string& out) { join(out, a.year.notes); }>},
      ResultColumn{"own_bill_scale", number, "", 2,
                   "Factor on the simulated energy without the system from the household's own bill; 1 where the sheet "
                   "has none",
                   from<[](const Result& a) { return a.own_bill.scale; }>, no_text},
      ResultColumn{"own_bill_note", text, "", 0, "How the own bill was used, and whether a bound held it", no_number,
                   text_of<[](const Appraiser&, const Result& a, std::string& out) { out += a.own_bill.text; }>},
      ResultColumn{"defaults_used", text, "", 0, "Everything that was assumed because the sheet does not say",
                   no_number,
                   text_of<[](const Appraiser&, const Result& a, std::string& out) { join(out, a.defaults_used); }>},
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
