#include "arrays.hpp"
#include "bind.hpp"

#include <vector>

#include <fmt/format.h>

#include "warmledger/economics/cost_tests.hpp"
#include "warmledger/economics/internal_rate.hpp"
#include "warmledger/economics/more_measures.hpp"

namespace warmledger::bind {

namespace {

/// Anything NumPy makes an array of doubles of.
using Flows = py::array_t<double, py::array::c_style | py::array::forcecast>;
/// A dict that gets the reason when a measure is None.
using Reasons = std::optional<py::dict>;

void require_dimensions(const Flows& flows, std::string_view name, int dimensions, const char* allowed) {
  if (flows.ndim() != dimensions) {
    throw errors::MalformedText({{"", {}, {}, std::string(name)},
                                 fmt::format("an array of {} dimension{}", flows.ndim(), flows.ndim() == 1 ? "" : "s"),
                                 "is not what is asked for",
                                 allowed});
  }
}

std::span<const double> span_of(const Flows& flows, std::string_view name = "flows") {
  require_dimensions(flows, name, 1, "amounts at times 0, 1, 2, ... in one dimension");
  return {flows.data(), static_cast<std::size_t>(flows.size())};
}

py::object give(const economics::Measure<double>& measure, const char* name, Reasons& reasons) {
  if (!measure.value && reasons) (*reasons)[name] = measure.why_none;
  return to_python(measure);
}

void factors(py::module_& room) {
  room.def("spv", &economics::single_present_value<double>, py::arg("rate"), py::arg("time"),
           R"(Single present value factor (1 + rate)^-time (ASTM E917).

rate per period, decimal, above -1; time in periods. Raises ValueOutOfRange.)");
  room.def("upv", &economics::uniform_present_value<double>, py::arg("rate"), py::arg("periods"),
           R"(Uniform present value factor [1 - (1 + rate)^-periods] / rate, `periods` at a rate of 0 (ASTM E917).

What 1 at the end of each of `periods` (0 to 10,000) is worth now. rate per period, above -1. Raises ValueOutOfRange.)");
  room.def("upv_star", &economics::modified_uniform_present_value<double>, py::arg("rate"), py::arg("escalation"),
           py::arg("periods"),
           R"(Modified uniform present value factor of NIST Handbook 135.

What an amount of 1 at base-date prices, escalating by `escalation` each period from the first on, is worth now over
`periods` (0 to 10,000). Both rates per period, both real or both nominal, above -1. Raises ValueOutOfRange.)");
  room.def("ucr", &economics::uniform_capital_recovery<double>, py::arg("rate"), py::arg("periods"),
           R"(Uniform capital recovery factor, 1 / upv: the even amount at the end of each period worth 1 now.

rate per period, above -1; periods 1 to 10,000. Raises ValueOutOfRange.)");
  room.def("equivalent_annual_value", &economics::equivalent_annual_value<double>, py::arg("rate"),
           py::arg("present_value"), py::arg("years"),
           R"(A present value in dollars as an even amount at the end of each of `years` (1 to 10,000), dollars a year.

rate a year, above -1. Raises ValueOutOfRange.)");
  room.def("real_rate", &economics::real_rate<double>, py::arg("nominal_rate"), py::arg("inflation_rate"),
           "The real rate that goes with a nominal one: (1 + nominal) / (1 + inflation) - 1. Rates above -1.");
  room.def("monthly_rate", &economics::monthly_rate<double>, py::arg("yearly_rate"),
           "The monthly rate that compounds to the yearly one: (1 + yearly)^(1/12) - 1. Rates above -1.");
  room.def("periodic_rate", &economics::periodic_rate<double>, py::arg("yearly_rate"), py::arg("periods_per_year"),
           "The rate of one of 1 to 366 even parts of a year that compounds to the yearly one. Rates above -1.");
  room.def("yearly_rate", &economics::yearly_rate<double>, py::arg("periodic_rate"), py::arg("periods_per_year"),
           "The yearly rate that a rate per period compounds to, 1 to 366 periods a year. Rates above -1.");
}

void present_values(py::module_& room) {
  room.def(
      "npv", [](double rate, const Flows& flows) { return economics::net_present_value(rate, span_of(flows)); },
      py::arg("rate"), py::arg("flows"),
      R"(Net present value, in the dollars of the flows, at time 0 of flows at times 0, 1, 2, ... (ASTM E1074).

rate per period, decimal, above -1 (0.05 is 5 %); received positive, paid negative; no flows are worth 0. The first flow
is not discounted (a spreadsheet's NPV discounts it by one period). Raises ValueOutOfRange for a rate or a flow that is
not allowed, and for a value too large for a number.)");
  room.def(
      "present_value",
      [](double rate, const Flows& flows, const std::string& timing) {
        return economics::present_value(rate, span_of(flows), economics::timing_named(timing));
      },
      py::arg("rate"), py::arg("flows"), py::arg("timing") = "end_of_year",
      R"(Present value at time 0 of yearly flows under a named timing convention (NIST Handbook 135).

flows[0] falls at time 0 under all. timing: "end_of_year" (flows[k] at k, the same as npv), "mid_year" (at k - 0.5),
"start_of_year" (at k - 1) or "monthly" (twelve even parts at the ends of the months of year k). rate a year, above -1.
Raises ValueOutOfRange, UnknownName.)");
  room.def(
      "life_cycle_cost",
      [](double rate, const Flows& costs, const std::string& timing) {
        return economics::present_value(rate, span_of(costs, "costs"), economics::timing_named(timing));
      },
      py::arg("rate"), py::arg("costs"), py::arg("timing") = "end_of_year",
      R"(Life-cycle cost in dollars (ASTM E917, 10 CFR 436.19): present value of yearly costs, costs positive.

costs[0] at time 0; a remaining value is a negative cost of the last year. Timing and errors as in present_value.)");
}

void measures(py::module_& room) {
  room.def(
      "simple_payback",
      [](const Flows& flows, Reasons reasons) {
        return give(economics::payback(span_of(flows)), "simple_payback", reasons);
      },
      py::arg("flows"), py::kw_only(), py::arg("reasons") = py::none(),
      R"(Periods until the running sum of the flows first reaches zero (ASTM E1121, undiscounted).

Within the crossing period by straight line; 0 when flows[0] is not negative; None when it never does. reasons: a dict
that then gets why, under the name of this function. Raises ValueOutOfRange for a flow that is not finite.)");
  room.def(
      "discounted_payback",
      [](double rate, const Flows& flows, Reasons reasons) {
        return give(economics::discounted_payback(rate, span_of(flows)), "discounted_payback", reasons);
      },
      py::arg("rate"), py::arg("flows"), py::kw_only(), py::arg("reasons") = py::none(),
      "simple_payback of the flows discounted at rate per period, above -1 (ASTM E1121).");
  room.def(
      "lasting_simple_payback",
      [](const Flows& flows, Reasons reasons) {
        return give(economics::lasting_payback(span_of(flows)), "lasting_simple_payback", reasons);
      },
      py::arg("flows"), py::kw_only(), py::arg("reasons") = py::none(),
      R"(Periods after which the running sum of the flows is zero or more and never again below.

Never earlier than simple_payback: a later replacement can take the sum below zero again. None when it ends below zero;
`reasons` and errors as there.)");
  room.def(
      "lasting_discounted_payback",
      [](double rate, const Flows& flows, Reasons reasons) {
        return give(economics::lasting_discounted_payback(rate, span_of(flows)), "lasting_discounted_payback", reasons);
      },
      py::arg("rate"), py::arg("flows"), py::kw_only(), py::arg("reasons") = py::none(),
      "lasting_simple_payback of the flows discounted at rate per period, above -1.");
  room.def(
      "sir",
      [](double savings, double investment, Reasons reasons) {
        return give(economics::savings_to_investment(savings, investment), "sir", reasons);
      },
      py::arg("savings_present_value"), py::arg("investment_present_value"), py::kw_only(),
      py::arg("reasons") = py::none(),
      R"(Savings-to-investment ratio (ASTM E964, 10 CFR 436.21) of present values in dollars.

None when the investment is not above 0; reasons: a dict that then gets why, under the name of this function.)");
  room.def(
      "airr",
      [](double rate, double savings, double investment, int years, Reasons reasons) {
        return give(economics::adjusted_internal_rate_of_return(
                        rate, economics::savings_to_investment(savings, investment), years),
                    "airr", reasons);
      },
      py::arg("rate"), py::arg("savings_present_value"), py::arg("investment_present_value"), py::arg("years"),
      py::kw_only(), py::arg("reasons") = py::none(),
      R"(Adjusted internal rate of return a year (ASTM E1057, 10 CFR 436.22): (1 + rate) SIR^(1/years) - 1.

Savings are reinvested at `rate` (a year, above -1); years 1 to 1000. None without a positive ratio; `reasons` as in
sir. Raises ValueOutOfRange.)");
  room.def(
      "mirr",
      [](const Flows& flows, double finance_rate, double reinvest_rate, Reasons reasons) {
        return give(economics::modified_internal_rate_of_return(span_of(flows), finance_rate, reinvest_rate), "mirr",
                    reasons);
      },
      py::arg("flows"), py::arg("finance_rate"), py::arg("reinvest_rate"), py::kw_only(),
      py::arg("reasons") = py::none(),
      R"(Modified internal rate of return per period: the formula of spreadsheets' MIRR and of numpy-financial.

Paid amounts are discounted at finance_rate, received ones compounded to the last period at reinvest_rate, both above
-1. None unless something is paid and something received; `reasons` as in sir. Raises ValueOutOfRange.)");
  room.def(
      "levelised_cost",
      [](double rate, const Flows& costs, const Flows& quantities, Reasons reasons) {
        return give(economics::levelised_cost(rate, span_of(costs, "costs"), span_of(quantities, "quantities")),
                    "levelised_cost", reasons);
      },
      py::arg("rate"), py::arg("costs"), py::arg("quantities"), py::kw_only(), py::arg("reasons") = py::none(),
      R"(Levelised cost in dollars a unit: present value of costs over that of the quantity delivered (heat, say).

Costs positive; both at times 0, 1, 2, ..., discounted at rate per period, above -1. None when no quantity is delivered;
`reasons` as in sir. Raises ValueOutOfRange.)");
  room.def(
      "break_even",
      [](double value_a, double net_savings_a, double value_b, double net_savings_b, Reasons reasons) {
        return give(economics::break_even(value_a, net_savings_a, value_b, net_savings_b), "break_even", reasons);
      },
      py::arg("value_a"), py::arg("net_savings_a"), py::arg("value_b"), py::arg("net_savings_b"), py::kw_only(),
      py::arg("reasons") = py::none(),
      R"(The value of one input (a fuel price, an installed cost) at which net savings, linear in it, are zero.

From net savings in dollars at two different values. It may lie outside the two, and below 0. None when net savings do
not depend on it; `reasons` as in sir. Raises ValueOutOfRange, and Contradiction for two equal values.)");
}

void internal_rates(py::module_& room) {
  room.def(
      "irr",
      [](const Flows& flows, Reasons reasons) {
        const auto all = economics::internal_rates(span_of(flows));
        if (reasons && all.rates.size() != 1) (*reasons)["irr"] = all.statement;
        return all.rates;
      },
      py::arg("flows"), py::kw_only(), py::arg("reasons") = py::none(),
      R"(Every internal rate of return above -1, per period, ascending: none, one or several (ASTM E1057).

flows at times 0, 1, 2, ...; received positive, paid negative. All real roots are isolated, not sampled: the list is
complete. reasons: a dict that gets why there is none, or that there are several. Raises ValueOutOfRange for a flow that
is not finite.)");
  room.def(
      "internal_rates",
      [](const Flows& flows) {
        const auto all = economics::internal_rates(span_of(flows));
        return py::make_tuple(all.rates, all.statement, all.sign_changes);
      },
      py::arg("flows"), "Rates, statement and sign changes, as a tuple.");
  room.def(
      "internal_rates_by_row",
      [](const Flows& flows, std::optional<unsigned> threads) {
        require_dimensions(flows, "flows", 2, "rows of flows in two dimensions");
        const auto columns = static_cast<std::size_t>(flows.shape(1));
        const std::span<const double> all(flows.data(), static_cast<std::size_t>(flows.size()));
        if (threads) errors::require_in_range("threads", *threads, 1, 1024, "threads");
        std::vector<economics::InternalRates<double>> rows;
        {
          const py::gil_scoped_release release;
          rows = economics::internal_rates_by_row(all, columns, threads.value_or(0));
        }
        py::list result;
        for (const auto& row : rows) result.append(row.rates);
        return result;
      },
      py::arg("flows"), py::arg("threads") = py::none(),
      R"(irr of every row of a two-dimensional array, on several threads without the interpreter's lock.

flows of shape (rows, periods); threads 1 to 1024, None for one a core: the result does not depend on it. Returns a list
of lists of rates. Raises ValueOutOfRange naming row and column of a flow that is not finite.)");
}

py::dict outcome_of(const economics::CostTestOutcome<double>& outcome) {
  py::dict row;
  const bool known = outcome.result.has_value();
  const auto amount = [&](double economics::CostTestResult<double>::*member) {
    return known ? py::object(py::float_((*outcome.result).*member)) : py::object(py::none());
  };
  row["benefits"] = amount(&economics::CostTestResult<double>::benefits);
  row["costs"] = amount(&economics::CostTestResult<double>::costs);
  row["net"] = amount(&economics::CostTestResult<double>::net);
  row["ratio"] = known ? to_python(outcome.result->ratio) : py::object(py::none());
  row["why_none"] = known ? std::string(outcome.result->ratio.why_none) : outcome.why_none;
  return row;
}

void cost_tests(py::module_& room) {
  room.def(
      "cost_tests",
      [](const std::vector<std::pair<std::string, Flows>>& items, const std::vector<double>& rates) {
        std::vector<economics::CostStream<double>> streams;
        for (const auto& [name, flows] : items) {
          const economics::CostItem item = economics::cost_item_named(name);
          const std::span<const double> amounts = span_of(flows, name);
          streams.push_back({item, item, {amounts.begin(), amounts.end()}, {}});
        }
        std::array<double, economics::cost_test_count> of_test{};
        if (rates.size() != of_test.size()) throw py::value_error("one rate for each test");
        std::copy(rates.begin(), rates.end(), of_test.begin());
        const auto outcomes = economics::cost_tests(std::span<const economics::CostStream<double>>(streams), of_test);
        py::dict result;
        for (std::size_t k = 0; k < outcomes.size(); ++k)
          result[py::str(std::string(economics::name_of(static_cast<economics::CostTest>(k))))] =
              outcome_of(outcomes[k]);
        return result;
      },
      py::arg("items"), py::arg("rates"),
      "Benefits, costs, net, ratio and why_none of each test, from flows by item and a rate for each test.");
  room.def(
      "cost_test_table",
      [] {
        py::list rows;
        for (const economics::CostTestRow& row : economics::cost_test_rows) {
          py::dict cells;
          cells["item"] = row.name;
          cells["title"] = row.title;
          for (std::size_t k = 0; k < row.entries.size(); ++k)
            cells[py::str(std::string(economics::name_of(static_cast<economics::CostTest>(k))))] =
                economics::title(row.entries[k]);
          rows.append(cells);
        }
        return rows;
      },
      "Which item enters which cost test, and on which side: a dict for each item.");
  room.def(
      "cost_test_titles",
      [] {
        py::dict titles;
        for (std::size_t k = 0; k < economics::cost_test_count; ++k) {
          const auto test = static_cast<economics::CostTest>(k);
          titles[py::str(std::string(economics::name_of(test)))] = economics::title(test);
        }
        return titles;
      },
      "The cost tests in order, with their titles.");
}

}  // namespace

void economics_room(py::module_& module) {
  py::module_ room = module.def_submodule("economics", "Measures over cash flows.");
  factors(room);
  present_values(room);
  measures(room);
  internal_rates(room);
  cost_tests(room);
}

}  // namespace warmledger::bind
