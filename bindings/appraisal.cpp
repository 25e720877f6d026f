#include "warmledger/appraisal/appraisal.hpp"
#include <algorithm>

#include "arrays.hpp"
#include "bind.hpp"
#include "sheet.hpp"
#include "warmledger/appraisal/hours.hpp"
#include "warmledger/loans/disclosure.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::bind {

namespace {

using appraisal::Appraiser;

/// One appraisal with what it needs to explain itself.
template <class N>
struct Held {
  std::shared_ptr<const Appraiser> appraiser;
  appraisal::Appraisal<N> result;
};

template <class N>
py::dict summary(const Held<N>& held) {
  const auto& a = held.result;
  py::dict s;
  s["household_id"] = a.household_id;
  s["decision"] = appraisal::name_of(a.decision);
  s["reason"] = held.appraiser->reason(a);
  s["unsuitable"] = a.unsuitable;
  s["package"] = held.appraiser->program().packages[a.package].id;
  s["package_title"] = held.appraiser->program().packages[a.package].title;
  s["install_date"] = to_python(held.appraiser->program().install_date);
  s["study_years"] = held.appraiser->program().study_years;
  s["program_title"] = held.appraiser->program().title;
  s["program_note"] = held.appraiser->program().note;
  s["income_tier"] = a.income_tier;
  s["income_share"] = a.income_share;
  s["weather_station"] =
      a.climate->place.name + ", " + a.climate->place.state + " (" + a.climate->place.station_id + ")";
  s["station_distance_km"] = a.distance_km;
  s["co2_saved_kg_year"] = a.co2_saved_kg_year;
  s["tax_liability_usd"] = a.claim.tax_liability_usd;
  s["tax_liability_estimated"] = a.liability_estimated;
  s["own_bill_scale"] = a.own_bill.scale;
  s["own_bill_note"] = a.own_bill.text;
  s["best_loan"] = a.best_loan ? py::object(py::str(held.appraiser->program().loans[a.loans[*a.best_loan].loan].id))
                               : py::object(py::none());
  return s;
}

template <class N>
py::dict measures(const appraisal::Measures<N>& m) {
  py::dict d;
  d["installed_cost_usd"] = to_python(m.installed_cost);
  d["incentives_usd"] = to_python(m.incentives);
  d["net_cost_usd"] = to_python(m.net_cost);
  d["due_at_install_usd"] = to_python(m.due_at_install);
  d["first_year_cost_without_usd"] = to_python(m.first_year_cost_without);
  d["first_year_cost_with_usd"] = to_python(m.first_year_cost_with);
  d["first_year_saving_usd"] = to_python(m.first_year_saving);
  d["savings_present_value_usd"] = to_python(m.savings_present_value);
  d["investment_present_value_usd"] = to_python(m.investment_present_value);
  d["net_savings_usd"] = to_python(m.net_savings);
  d["life_cycle_cost_without_usd"] = to_python(m.life_cycle_cost_without);
  d["life_cycle_cost_with_usd"] = to_python(m.life_cycle_cost_with);
  py::dict why;
  const auto add = [&](const char* name, const economics::Measure<N>& measure) {
    d[name] = to_python(measure);
    if (!measure.value) why[name] = measure.why_none;
  };
  add("simple_payback_years", m.simple_payback_years);
  add("discounted_payback_years", m.discounted_payback_years);
  add("savings_to_investment", m.savings_to_investment);
  add("adjusted_internal_rate_of_return", m.adjusted_internal_rate_of_return);
  add("water_heating_burden_without", m.water_heating_burden_without);
  add("water_heating_burden_with", m.water_heating_burden_with);
  add("energy_burden_without", m.energy_burden_without);
  add("energy_burden_with", m.energy_burden_with);
  add("extra_help_usd", m.extra_help);
  add("lasting_simple_payback_years", m.lasting_simple_payback_years);
  add("lasting_discounted_payback_years", m.lasting_discounted_payback_years);
  add("internal_rate_of_return", m.internal_rate_of_return);
  py::list rates;
  for (const N& rate : m.internal_rates.rates) rates.append(to_python(rate));
  d["internal_rates"] = rates;
  d["equivalent_annual_value_usd"] = to_python(m.equivalent_annual_value);
  add("levelised_cost_of_heat_usd_per_kwh", m.levelised_cost_of_heat);
  add("break_even_fuel_price_usd_per_unit", m.break_even_fuel_price);
  add("break_even_installed_cost_usd", m.break_even_installed_cost);
  d["why_none"] = why;
  return d;
}

/// The measures under every timing convention, by its name.
template <class N>
py::dict measures_by_timing(const Held<N>& held) {
  py::dict d;
  for (const economics::Timing timing : {economics::Timing::monthly, economics::Timing::mid_year,
                                         economics::Timing::end_of_year, economics::Timing::start_of_year})
    d[py::str(std::string(economics::name_of(timing)))] = measures(held.appraiser->measures_under(held.result, timing));
  return d;
}

template <class N>
py::list cost_tests_list(const Held<N>& held) {
  py::list rows;
  if (!held.result.cost_tests) return rows;
  for (std::size_t k = 0; k < economics::cost_test_count; ++k) {
    const auto& outcome = (*held.result.cost_tests)[k];
    const bool known = outcome.result.has_value();
    py::dict row;
    row["test"] = economics::name_of(static_cast<economics::CostTest>(k));
    row["title"] = economics::title(static_cast<economics::CostTest>(k));
    row["discount_rate"] = held.appraiser->program().cost_tests->discount_rates[k];
    row["benefits_usd"] = known ? to_python(outcome.result->benefits) : py::object(py::none());
    row["costs_usd"] = known ? to_python(outcome.result->costs) : py::object(py::none());
    row["net_usd"] = known ? to_python(outcome.result->net) : py::object(py::none());
    row["ratio"] = known ? to_python(outcome.result->ratio) : py::object(py::none());
    row["why_none"] = known ? std::string(outcome.result->ratio.why_none) : outcome.why_none;
    rows.append(row);
  }
  return rows;
}

template <class N>
py::dict year(const Held<N>& held) {
  const hotwater::Year& y = held.result.year;
  py::dict d;
  d["mains_c"] = y.mains_c;
  d["tilted_kwh_m2_day"] = y.tilted_kwh_m2_day;
  d["load_kwh"] = y.load_kwh;
  d["solar_kwh"] = y.solar_kwh;
  d["fuel_without_kwh"] = y.fuel_without_kwh;
  d["backup_with_kwh"] = y.backup_with_kwh;
  d["pump_kwh"] = y.pump_kwh;
  d["solar_fraction"] = y.solar_fraction;
  d["fuel_without"] = prices::name_of(y.fuel_without);
  d["backup_fuel"] = prices::name_of(y.backup_fuel);
  d["solar_fraction_by_heat"] = y.solar_fraction_by_heat();
  d["solar_fraction_by_fuel"] = y.solar_fraction_by_fuel();
  d["notes"] = y.notes;
  d["detail"] = held.result.simulated ? "hourly" : "monthly";
  if (held.result.simulated) {
    const hotwater::SimulatedYear& s = *held.result.simulated;
    d["pump_hours"] = s.pump_hours;
    d["high_limit_hours"] = s.high_limit_hours;
    d["stagnation_hours"] = s.stagnation_hours;
    d["hot_tap_hours"] = s.hot_tap_hours;
    d["tank_loss_kwh"] = s.tank_loss_kwh;
    d["pipe_loss_kwh"] = s.pipe_loss_kwh;
    d["standby_loss_kwh"] = s.standby_loss_kwh;
    d["peak_tank_c"] = s.peak_tank_c;
    d["peak_collector_c"] = s.peak_collector_c;
  }
  return d;
}

template <class N>
py::dict system(const Held<N>& held) {
  const hotwater::SolarSystem& s = held.result.system;
  py::dict d;
  d["collector_count"] = s.collector_count;
  d["area_m2"] = s.area_m2();
  d["tilt_deg"] = s.tilt_deg;
  d["azimuth_deg_from_south"] = s.azimuth_deg;
  d["shading_share"] = s.shading_share;
  d["storage_l"] = s.storage_l;
  d["loop"] = hotwater::name_of(s.loop);
  d["arrangement"] = hotwater::name_of(s.arrangement);
  d["pump_w"] = s.pump_w;
  d["heater_kind"] = hotwater::name_of(held.result.heater.kind);
  d["heater_fuel"] = prices::name_of(held.result.heater.fuel);
  d["hot_water_l_day"] = held.result.demand.litre_day;
  d["set_temperature_c"] = held.result.demand.set_temperature_c;
  return d;
}

template <class N>
py::list incentives_list(const Held<N>& held) {
  py::list rows;
  const incentives::Stack& stack = held.appraiser->stack();
  for (const incentives::Outcome& outcome : held.result.incentives) {
    const incentives::Rule& rule = stack.rules()[outcome.rule];
    py::dict row;
    row["id"] = rule.id;
    row["title"] = rule.title;
    row["payer"] = rule.payer;
    row["kind"] = incentives::name_of(rule.kind);
    row["applied"] = outcome.verdict == incentives::Verdict::applied;
    row["amount_usd"] = outcome.amount_usd;
    row["base_usd"] = outcome.base_usd;
    row["reason"] = stack.explain(outcome, held.result.claim);
    row["citation"] = rule.citation;
    row["standing"] = incentives::name_of(rule.standing);
    row["paid_by"] = incentives::name_of(rule.paid_by);
    row["computed_usd"] = outcome.computed_usd;
    row["income_tax_usd"] = outcome.tax_usd;
    row["avoided_usd_year"] = outcome.avoided_usd_year;
    row["first_date"] =
        outcome.payments.empty() ? py::object(py::none()) : py::object(to_python(outcome.payments.front().date));
    row["instead"] = outcome.other == incentives::no_rule ? py::object(py::none())
                                                          : py::object(py::str(stack.rules()[outcome.other].id));
    row["less_usd"] = outcome.verdict == incentives::Verdict::excluded ? py::object(py::float_(outcome.less_usd))
                                                                       : py::object(py::none());
    row["as_if"] = rule.as_if;
    py::list payments;
    for (const incentives::Payment& payment : outcome.payments)
      payments.append(py::make_tuple(to_python(payment.date), payment.usd));
    row["payments"] = payments;  // what arrives when, also after the study
    rows.append(row);
  }
  return rows;
}

/// Year by year: what each credit and deduction found, used, carried and lost.
template <class N>
py::list tax_list(const Held<N>& held) {
  py::list rows;
  const incentives::Stack& stack = held.appraiser->stack();
  const auto& a = held.result;
  for (const incentives::TaxLine& line :
       stack.tax_years(a.claim, held.appraiser->program().income, std::span(a.incentives))) {
    py::dict row;
    row["year"] = line.year;
    row["tax"] = incentives::name_of(line.tax);
    row["id"] = stack.rules()[line.rule].id;
    row["kind"] = incentives::name_of(stack.rules()[line.rule].kind);
    row["liability_usd"] = line.liability_usd;
    row["available_usd"] = line.available_usd;
    row["used_usd"] = line.used_usd;
    row["carried_usd"] = line.carried_usd;
    row["lapsed_usd"] = line.lapsed_usd;
    row["estimated"] = a.claim.liability_estimated.at(static_cast<std::size_t>(line.tax));
    row["as_if"] = stack.rules()[line.rule].as_if;
    rows.append(row);
  }
  return rows;
}

template <class N>
py::list loans_list(const Held<N>& held) {
  py::list rows;
  for (const auto& loan : held.result.loans) {
    const loans::LoanTerms& terms = held.appraiser->program().loans[loan.loan];
    py::dict row;
    row["id"] = terms.id;
    row["title"] = terms.title;
    row["yearly_rate"] = loan.bought_down_rate.value_or(terms.yearly_rate);
    row["term_months"] = terms.term_months;
    row["amount_usd"] = to_python(loan.schedule.amount);
    row["payment_usd"] = to_python(loan.schedule.level_payment);
    row["total_interest_usd"] = to_python(loan.schedule.total_interest);
    row["cash_at_install_usd"] = to_python(loan.paid_by_household_at_install);
    row["average_month_usd"] = to_python(loan.average_month_net);
    row["lowest_month_usd"] = to_python(loan.lowest_month_net);
    row["net_savings_usd"] = to_python(loan.net_savings);
    row["pays_from_month_one"] = loan.pays_from_month_one;
    row["shape"] = loans::shape_of(terms);
    const auto shown = loans::disclose(loan.schedule);
    std::string why_none;
    const auto ratio = [&](const char* name, const auto& found) {
      row[name] = to_python(found.value);
      if (!found.value)
        why_none += (why_none.empty() ? "" : "; ") + std::string(name) + ": " + std::string(found.why_none);
    };
    ratio("apr", shown.annual_percentage_rate);
    row["amount_financed_usd"] = to_python(shown.amount_financed);
    row["finance_charge_usd"] = to_python(shown.finance_charge);
    row["total_of_payments_usd"] = to_python(shown.total_of_payments);
    const auto first = std::find_if(loan.schedule.payments.begin(), loan.schedule.payments.end(),
                                    [](const auto& line) { return line.payment > N(0); });
    row["first_payment_usd"] =
        first == loan.schedule.payments.end() ? py::object(py::none()) : to_python(first->payment);
    row["first_payment_date"] = first == loan.schedule.payments.end() ? py::object(py::none()) : to_python(first->date);
    ratio("coverage", loan.coverage);
    row["months_out_of_pocket"] = loan.purse.months_out_of_pocket;
    row["deepest_usd"] = to_python(loan.purse.deepest);
    row["deepest_month"] = loan.purse.deepest_month;
    ratio("debt_ratio_before", loan.debt_ratio_before);
    ratio("debt_ratio_after", loan.debt_ratio_after);
    ratio("energy_burden", loan.energy_burden);
    row["owed_at_study_end_usd"] = to_python(loan.owed_at_end);
    row["dealer_fee_usd"] = to_python(loan.schedule.lending.dealer_fee);
    row["points_and_fee_usd"] = to_python(loan.schedule.lending.points_and_fee);
    row["sponsor"] = terms.buy_down_payer;
    row["sponsor_cost_usd"] = to_python(loan.sponsor_cost);
    row["collected_on"] = loans::name_of(terms.collected_on);
    row["why_none"] = why_none;
    rows.append(row);
  }
  return rows;
}

template <class N>
py::dict ledger_columns(const Held<N>& held) {
  const ledger::Ledger<N>& book = held.result.ledger;
  const std::vector<N> deflators = ledger::deflators<N>(held.result.plan.inflation_rate, book.months());
  std::vector<py::str> reasons;
  for (const std::string& reason : ledger::reasons(held.result.plan, book)) reasons.emplace_back(reason);
  py::list month, date, world, category, amount, constant, reason;
  for (const ledger::Entry<N>& entry : book.entries()) {
    month.append(entry.month);
    date.append(to_python(entry.date));
    world.append(ledger::name_of(entry.world));
    category.append(ledger::name_of(entry.category));
    amount.append(to_python(entry.amount));
    constant.append(to_python(N(entry.amount * deflators[static_cast<std::size_t>(entry.month)])));
    reason.append(reasons[entry.line]);
  }
  py::dict columns;
  columns["month"] = month;
  columns["date"] = date;
  columns["world"] = world;
  columns["category"] = category;
  columns["amount_usd"] = amount;
  columns["constant_usd"] = constant;
  columns["reason"] = reason;
  return columns;
}

template <class N>
py::list cautions_list(const Held<N>& held) {
  py::list rows;
  for (const hotwater::Caution& caution : held.result.cautions)
    rows.append(py::make_tuple(hotwater::name_of(caution.topic), caution.text));
  return rows;
}

template <class N>
py::object section(const Held<N>& held, const std::string& name) {
  if (name == "summary") return summary(held);
  if (name == "measures") return measures(held.result.measures);
  if (name == "measures_by_timing") return measures_by_timing(held);
  if (name == "cost_tests") return cost_tests_list(held);
  if (name == "year") return year(held);
  if (name == "system") return system(held);
  if (name == "incentives") return incentives_list(held);
  if (name == "loans") return loans_list(held);
  if (name == "ledger") return ledger_columns(held);
  if (name == "cautions") return cautions_list(held);
  if (name == "tax") return tax_list(held);
  if (name == "defaults_used") return py::cast(held.result.defaults_used);
  throw errors::unknown_name("section", name,
                             {"summary", "measures", "year", "system", "incentives", "loans", "ledger", "cautions",
                              "defaults_used", "measures_by_timing", "cost_tests", "tax"});
}

template <class N>
py::dict hours(const Held<N>& held) {
  appraisal::Hours found;
  {
    const py::gil_scoped_release release;
    found = appraisal::hours_of(held.result);
  }
  const hotwater::HourlyTrace& trace = found.trace;
  py::dict columns;
  columns["dry_bulb_c"] = array_of(found.dry_bulb_c);
  columns["irradiance_w_m2"] = array_of(found.irradiance_w_m2);
  columns["collector_c"] = array_of(trace.collector_c);
  columns["tank_top_c"] = array_of(trace.tank_top_c);
  columns["tank_bottom_c"] = array_of(trace.tank_bottom_c);
  columns["drawn_l"] = array_of(trace.drawn_l);
  columns["solar_w"] = array_of(trace.solar_w);
  columns["backup_w"] = array_of(trace.backup_w);
  return columns;
}

template <class N>
void bind_held(py::module_& room, const char* name) {
  py::class_<Held<N>>(room, name)
      .def("section", &section<N>, py::arg("name"))
      .def("hours", &hours<N>, "Hourly columns of the simulation as NumPy arrays of 8760 values.");
}

template <class N>
Held<N> appraise(const std::shared_ptr<Appraiser>& appraiser, const catalog::SheetRow& row, hotwater::Detail detail) {
  const py::gil_scoped_release release;
  return {appraiser, appraiser->appraise<N>(row.household, detail)};
}

}  // namespace

void appraisal_room(py::module_& module) {
  py::module_ room = module.def_submodule("appraisal", "One household in full.");
  py::class_<Appraiser, std::shared_ptr<Appraiser>>(room, "Appraiser")
      .def(py::init([](std::shared_ptr<catalog::Program> program, std::shared_ptr<catalog::Catalog> catalog) {
             return std::make_shared<Appraiser>(std::move(program), std::move(catalog));
           }),
           py::arg("program"), py::arg("catalog"))
      .def(
          "appraise",
          [](const std::shared_ptr<Appraiser>& self, const std::vector<std::string>& header, const py::list& cells,
             const std::string& file, long row_number, const std::string& detail, bool exact) -> py::object {
            Sheet sheet(header, file);
            const catalog::SheetRow row = sheet.row(cells, row_number);
            if (!row.problems.empty()) throw errors::Error(row.problems.front());
            if (exact) return py::cast(appraise<money::Decimal>(self, row, hotwater::detail_named(detail)));
            return py::cast(appraise<double>(self, row, hotwater::detail_named(detail)));
          },
          py::arg("header"), py::arg("cells"), py::arg("file"), py::arg("row"), py::arg("detail"), py::arg("exact"),
          "Appraises one household given as a row of cells; exact computes every amount with 50 digits.");
  bind_held<double>(room, "Held");
  bind_held<money::Decimal>(room, "ExactHeld");
}

}  // namespace warmledger::bind
