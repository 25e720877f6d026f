#include "bind.hpp"

#include <vector>

#include "warmledger/economics/internal_rate.hpp"

namespace warmledger::bind {

namespace {

using Flows = std::vector<double>;
std::span<const double> span_of(const Flows& flows) {
  return flows;
}

}  // namespace

void economics_room(py::module_& module) {
  py::module_ room = module.def_submodule("economics", "Measures over cash flows.");
  room.def(
      "npv", [](double rate, const Flows& flows) { return economics::net_present_value(rate, span_of(flows)); },
      py::arg("rate"), py::arg("flows"),
      "Present value at time 0 of flows at times 0, 1, 2, ...; rate per period, above -1.");
  room.def(
      "simple_payback", [](const Flows& flows) { return to_python(economics::payback(span_of(flows))); },
      py::arg("flows"),
      "Periods until the running sum first reaches zero, by straight line within the period; None if it never does.");
  room.def(
      "discounted_payback",
      [](double rate, const Flows& flows) { return to_python(economics::discounted_payback(rate, span_of(flows))); },
      py::arg("rate"), py::arg("flows"), "simple_payback of the flows discounted at rate.");
  room.def(
      "sir",
      [](double savings, double investment) {
        return to_python(economics::savings_to_investment(savings, investment));
      },
      py::arg("savings_present_value"), py::arg("investment_present_value"),
      "Savings-to-investment ratio; None when nothing is invested.");
  room.def(
      "irr", [](const Flows& flows) { return economics::internal_rates(span_of(flows)).rates; }, py::arg("flows"),
      "Every internal rate of return above -1 of flows at times 0, 1, 2, ..., ascending: none, one or several "
      "(ASTM E1057).");
  room.def(
      "airr",
      [](double rate, double savings, double investment, int years) {
        return to_python(economics::adjusted_internal_rate_of_return(
            rate, economics::savings_to_investment(savings, investment), years));
      },
      py::arg("rate"), py::arg("savings_present_value"), py::arg("investment_present_value"), py::arg("years"),
      "Adjusted internal rate of return (1 + rate) SIR^(1/years) - 1; None without a positive ratio.");
  room.def("spv", &economics::single_present_value<double>, py::arg("rate"), py::arg("time"),
           "Single present value factor.");
  room.def("upv", &economics::uniform_present_value<double>, py::arg("rate"), py::arg("periods"),
           "Uniform present value factor.");
  room.def("upv_star", &economics::modified_uniform_present_value<double>, py::arg("rate"), py::arg("escalation"),
           py::arg("periods"),
           "Modified uniform present value factor of a cost at base-date prices that escalates each period.");
  room.def("real_rate", &economics::real_rate<double>, py::arg("nominal_rate"), py::arg("inflation_rate"),
           "The real rate that goes with a nominal one.");
  room.def("monthly_rate", &economics::monthly_rate<double>, py::arg("yearly_rate"),
           "Monthly rate that compounds to the yearly one.");
}

}  // namespace warmledger::bind
