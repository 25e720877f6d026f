#include "bind.hpp"
#include "warmledger/loans/apr.hpp"
#include "warmledger/loans/schedule.hpp"

namespace warmledger::bind {

namespace {

money::Rounding rounding_named(std::string_view name) {
  if (name == "half_up") return money::Rounding::half_up;
  if (name == "half_even") return money::Rounding::half_even;
  if (name == "up") return money::Rounding::up;
  if (name == "down") return money::Rounding::down;
  throw errors::unknown_name("rounding", name, {"half_up", "half_even", "up", "down"});
}

}  // namespace

void loans_room(py::module_& module) {
  py::module_ room = module.def_submodule("loans", "Schedules to the cent.");
  room.def(
      "schedule",
      [](double amount_usd, double yearly_rate, int term_months, const py::object& start, const std::string& rounding) {
        loans::LoanTerms terms;
        terms.yearly_rate = yearly_rate;
        terms.term_months = term_months;
        terms.rounding = rounding_named(rounding);
        const auto schedule = loans::level_schedule<double>(amount_usd, terms, date_from(start));
        py::list number, date, payment, interest, principal, balance;
        for (const auto& line : schedule.payments) {
          number.append(line.number);
          date.append(to_python(line.date));
          payment.append(line.payment);
          interest.append(line.interest);
          principal.append(line.principal);
          balance.append(line.balance);
        }
        py::dict columns;
        columns["number"] = number;
        columns["date"] = date;
        columns["payment_usd"] = payment;
        columns["interest_usd"] = interest;
        columns["principal_usd"] = principal;
        columns["balance_usd"] = balance;
        return columns;
      },
      py::arg("amount_usd"), py::arg("yearly_rate"), py::arg("term_months"), py::arg("start"),
      py::arg("rounding") = "half_up",
      "Columns of a level-payment schedule: number, date, payment_usd, interest_usd, principal_usd, balance_usd.");
  using Listed = std::vector<std::tuple<double, int, double>>;
  room.def(
      "apr",
      [](const Listed& advances, const Listed& payments, double unit_periods_per_year) {
        const auto flows = [](const Listed& listed) {
          std::vector<loans::Flow<double>> list;
          for (const auto& [amount, whole, fraction] : listed) list.push_back({amount, whole, fraction});
          return list;
        };
        const auto out = flows(advances);
        const auto back = flows(payments);
        const loans::AnnualRate<double> rate =
            loans::apr(std::span<const loans::Flow<double>>(out), std::span<const loans::Flow<double>>(back),
                       unit_periods_per_year);
        if (!rate.value) {
          throw errors::NotAvailable({{"", {}, {}, "apr"}, "", "has no value: " + std::string(rate.why_none), ""});
        }
        return *rate.value;
      },
      py::arg("advances"), py::arg("payments"), py::kw_only(), py::arg("unit_periods_per_year"),
      "Annual percentage rate by the actuarial method of Regulation Z (12 CFR 1026) Appendix J, as a decimal: 0.0975 "
      "is "
      "9.75 %. advances and payments: (amount, whole unit-periods, fraction of one) from the start of the loan. Raises "
      "NotAvailable with the reason when no rate fits. Not lending advice.");
  room.def("level_payment", &loans::level_payment<double>, py::arg("amount_usd"), py::arg("rate_per_period"),
           py::arg("periods"), "Unrounded level payment.");
}

}  // namespace warmledger::bind
