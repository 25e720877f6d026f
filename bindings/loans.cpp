#include <cmath>
#include <set>

#include "arrays.hpp"
#include "bind.hpp"
#include "warmledger/loans/ability.hpp"
#include "warmledger/loans/disclosure.hpp"

namespace warmledger::bind {

namespace {

using loans::CollectedOn, loans::DatedFlow, loans::DeferredInterest, loans::Flow, money::Decimal, money::Rounding;

[[noreturn]] void refuse(const std::string& key, const py::handle& value, const std::string& allowed) {
  std::string found = py::cast<std::string>(py::repr(value));
  if (found.size() > 80) found = found.substr(0, 77) + "...";
  throw errors::MalformedText({{"", {}, {}, key}, found, "is of the wrong kind", allowed});
}

double number_from(const std::string& key, const py::handle& value) {
  if (PyBool_Check(value.ptr()) || PyUnicode_Check(value.ptr()) || PyBytes_Check(value.ptr()) ||
      PyNumber_Check(value.ptr()) == 0) {
    refuse(key, value, "a number");
  }
  const double number = PyFloat_AsDouble(value.ptr());
  if (number == -1.0 && PyErr_Occurred() != nullptr) {
    PyErr_Clear();
    refuse(key, value, "a number");
  }
  return number;
}

int whole_from(const std::string& key, const py::handle& value) {
  const double number = number_from(key, value);
  if (!(std::fabs(number) <= 1e6) || number != std::floor(number)) refuse(key, value, "a whole number");
  return static_cast<int>(number);
}

bool flag_from(const std::string& key, const py::handle& value) {
  if (PyBool_Check(value.ptr()) == 0) refuse(key, value, "True or False");
  return value.is(py::handle(Py_True));
}

std::string text_from(const std::string& key, const py::handle& value) {
  if (PyUnicode_Check(value.ptr()) == 0) refuse(key, value, "text");
  return std::string(utf8_of(value.ptr()));
}

std::optional<dates::Date> maybe_date(const py::handle& value) {
  return value.is_none() ? std::optional<dates::Date>() : date_from(value);
}

/// The elements of a list or tuple; a text is none.
std::vector<py::object> elements(const std::string& key, const py::handle& value, const std::string& allowed) {
  if (PyUnicode_Check(value.ptr()) || PyBytes_Check(value.ptr()) || PyDict_Check(value.ptr()) ||
      !py::isinstance<py::iterable>(value)) {
    refuse(key, value, allowed);
  }
  std::vector<py::object> list;
  for (const py::handle item : py::iter(value)) list.push_back(py::reinterpret_borrow<py::object>(item));
  return list;
}

constexpr auto flows_allowed = "a list of (dollars, whole unit-periods, fraction of one)";
constexpr auto dated_allowed = "a list of (date, dollars)";

std::vector<Flow<double>> flows_from(const std::string& name, const py::handle& value) {
  std::vector<Flow<double>> flows;
  for (const py::object& item : elements(name, value, flows_allowed)) {
    const std::string key = name + "[" + std::to_string(flows.size()) + "]";
    const std::vector<py::object> parts = elements(key, item, flows_allowed);
    if (parts.size() != 3) refuse(key, item, flows_allowed);
    flows.push_back({number_from(key + ".amount", parts[0]), whole_from(key + ".whole_periods", parts[1]),
                     number_from(key + ".fraction", parts[2])});
  }
  return flows;
}

std::vector<DatedFlow<double>> dated_from(const std::string& name, const py::handle& value) {
  std::vector<DatedFlow<double>> flows;
  for (const py::object& item : elements(name, value, dated_allowed)) {
    const std::string key = name + "[" + std::to_string(flows.size()) + "]";
    const std::vector<py::object> parts = elements(key, item, dated_allowed);
    if (parts.size() != 2) refuse(key, item, dated_allowed);
    flows.push_back({date_from(parts[0]), number_from(key + ".amount", parts[1])});
  }
  return flows;
}

double value_of(const loans::AnnualRate<double>& rate) {
  if (rate.value) return *rate.value;
  throw errors::NotAvailable({{"", {}, {}, "apr"}, "", "has no value: " + std::string(rate.why_none), ""});
}

/// What LoanTerms of Python says: an amount, a day and the terms.
struct Request {
  double amount_usd = 0;
  dates::Date start{};
  loans::LoanTerms terms;
};

template <class Value>
Value word_from(const std::string& key, const py::handle& value,
                std::initializer_list<std::pair<std::string_view, Value>> words) {
  const std::string found = text_from(key, value);
  std::string allowed;
  for (const auto& [word, meaning] : words) {
    if (found == word) return meaning;
    allowed += (allowed.empty() ? "" : ", ") + std::string(word);
  }
  throw errors::UnknownName({{"", {}, {}, key}, found, "is not one of the choices", allowed});
}

Request request_from(const py::dict& given) {
  Request request;
  loans::LoanTerms& t = request.terms;
  for (const auto& item : given) {
    const std::string key = text_from("name", item.first);
    const py::handle value = item.second;
    const auto number = [&] { return number_from(key, value); };
    const auto whole = [&] { return whole_from(key, value); };
    if (key == "amount_usd")
      request.amount_usd = number();
    else if (key == "start")
      request.start = date_from(value);
    else if (key == "yearly_rate")
      t.yearly_rate = number();
    else if (key == "term_months")
      t.term_months = whole();
    else if (key == "largest_usd")
      t.largest_usd = number();
    else if (key == "rounding")
      t.rounding = word_from<Rounding>(key, value,
                                       {{"half_up", Rounding::half_up},
                                        {"half_even", Rounding::half_even},
                                        {"up", Rounding::up},
                                        {"down", Rounding::down}});
    else if (key == "payments_per_year")
      t.payments_per_year = whole();
    else if (key == "first_payment_date")
      t.first_payment_date = maybe_date(value);
    else if (key == "odd_days_year")
      t.odd_days_year = whole();
    else if (key == "deferral_months")
      t.deferral_months = whole();
    else if (key == "deferred_interest")
      t.deferred_interest = word_from<DeferredInterest>(key, value,
                                                        {{"added", DeferredInterest::added},
                                                         {"waived", DeferredInterest::waived},
                                                         {"waived_if_paid", DeferredInterest::waived_if_paid}});
    else if (key == "interest_only_months")
      t.interest_only_months = whole();
    else if (key == "balloon_share")
      t.balloon_share = number();
    else if (key == "amortisation_months")
      t.amortisation_months = whole();
    else if (key == "lump_usd")
      t.lump_usd = number();
    else if (key == "lump_share")
      t.lump_share = number();
    else if (key == "lump_months")
      t.lump_months = whole();
    else if (key == "lump_date")
      t.lump_date = maybe_date(value);
    else if (key == "reamortise")
      t.reamortise = flag_from(key, value);
    else if (key == "early_payoff_months")
      t.early_payoff_months = whole();
    else if (key == "interest_deduction_rate")
      t.interest_deduction_rate = number();
    else if (key == "dealer_fee_share")
      t.dealer_fee_share = number();
    else if (key == "points_share")
      t.points_share = number();
    else if (key == "fee_usd")
      t.fee_usd = number();
    else if (key == "fees_financed")
      t.fees_financed = flag_from(key, value);
    else if (key == "buy_down_rate")
      t.buy_down_rate = number();
    else if (key == "buy_down_payer")
      t.buy_down_payer = text_from(key, value);
    else if (key == "collected_on")
      t.collected_on = word_from<CollectedOn>(key, value,
                                              {{"loan_bill", CollectedOn::loan_bill},
                                               {"utility_bill", CollectedOn::utility_bill},
                                               {"property_tax_bill", CollectedOn::property_tax_bill}});
    else
      throw errors::UnknownName({{"", {}, {}, key}, "", "is no term of a loan", "the arguments of LoanTerms"});
  }
  errors::require_in_range("amount_usd", request.amount_usd, 0.0, 1e12, "dollars");
  loans::check(t);
  (void)loans::first_period(t, request.start);
  return request;
}

/// Numbers as a column: an array of doubles, or a list of Decimals.
py::object column_of(const std::vector<double>& numbers) {
  return array_of(numbers);
}
py::object column_of(const std::vector<Decimal>& numbers) {
  py::list column;
  for (const Decimal& number : numbers) column.append(to_python(number));
  return column;
}

template <class N>
py::dict columns_of(const loans::Schedule<N>& schedule) {
  using Line = loans::Payment<N>;
  py::list number, date;
  for (const Line& line : schedule.payments) {
    number.append(line.number);
    date.append(to_python(line.date));
  }
  const auto column = [&](N Line::*member) {
    std::vector<N> numbers;
    numbers.reserve(schedule.payments.size());
    for (const Line& line : schedule.payments) numbers.push_back(line.*member);
    return column_of(numbers);
  };
  py::dict columns;
  columns["number"] = number;
  columns["date"] = date;
  columns["payment_usd"] = column(&Line::payment);
  columns["interest_usd"] = column(&Line::interest);
  columns["principal_usd"] = column(&Line::principal);
  columns["balance_usd"] = column(&Line::balance);
  columns["added_usd"] = column(&Line::added);
  columns["lump_usd"] = column(&Line::lump);
  return columns;
}

template <class N>
py::dict disclosed(const loans::DatedDisclosure<N>& shown) {
  py::dict d;
  d["amount_financed_usd"] = to_python(shown.amount_financed);
  d["finance_charge_usd"] = to_python(shown.finance_charge);
  d["total_of_payments_usd"] = to_python(shown.total_of_payments);
  d["number_of_payments"] = shown.number_of_payments;
  d["apr"] = to_python(shown.annual_percentage_rate.value);
  d["why_none"] = std::string(shown.annual_percentage_rate.why_none);
  return d;
}

template <class N>
loans::Schedule<N> schedule_of(const Request& request) {
  return loans::make_schedule(N(request.amount_usd), request.terms, request.start);
}

template <class N>
py::dict lending_of(const Request& request) {
  const loans::Schedule<N> schedule = schedule_of<N>(request);
  const loans::BuyDown<N> down = loans::buy_down(N(request.amount_usd), request.terms, request.start);
  py::dict d;
  d["amount_usd"] = to_python(schedule.amount);
  d["proceeds_usd"] = to_python(schedule.lending.proceeds);
  d["dealer_fee_usd"] = to_python(schedule.lending.dealer_fee);
  d["points_and_fee_usd"] = to_python(schedule.lending.points_and_fee);
  d["paid_at_closing_usd"] = to_python(schedule.lending.paid_at_closing);
  d["level_payment_usd"] = to_python(schedule.level_payment);
  d["total_interest_usd"] = to_python(schedule.total_interest);
  d["cost_usd"] = to_python(down.cost);
  d["payment_without_usd"] = to_python(down.level_payment_without);
  d["payment_with_usd"] = to_python(down.level_payment_with);
  return d;
}

py::tuple pair_of(const loans::Ratio<double>& ratio) {
  return py::make_tuple(to_python(ratio.value), std::string(ratio.why_none));
}

}  // namespace

void loans_room(py::module_& module) {
  py::module_ room = module.def_submodule("loans", "Terms, schedules to the cent, disclosure, ability to pay.");
  room.def(
      "check", [](const py::dict& terms) { (void)request_from(terms); }, py::arg("terms"));
  room.def(
      "schedule",
      [](const py::dict& terms, bool exact) {
        const Request request = request_from(terms);
        return exact ? columns_of(schedule_of<Decimal>(request)) : columns_of(schedule_of<double>(request));
      },
      py::arg("terms"), py::arg("exact") = false, "Columns of a schedule.");
  room.def(
      "disclose_terms",
      [](const py::dict& terms, bool exact) {
        const Request request = request_from(terms);
        return exact ? disclosed(loans::disclose(schedule_of<Decimal>(request)))
                     : disclosed(loans::disclose(schedule_of<double>(request)));
      },
      py::arg("terms"), py::arg("exact") = false, "Disclosed figures of a loan.");
  room.def(
      "disclose_flows",
      [](const py::object& advances, const py::object& payments, const py::object& prepaid) {
        const auto out = dated_from("advances", advances);
        const auto back = dated_from("payments", payments);
        return disclosed(loans::disclose(std::span<const DatedFlow<double>>(out),
                                         std::span<const DatedFlow<double>>(back),
                                         number_from("prepaid_finance_charge_usd", prepaid)));
      },
      py::arg("advances"), py::arg("payments"), py::arg("prepaid_finance_charge_usd"),
      "Disclosed figures of dated flows.");
  room.def(
      "lending",
      [](const py::dict& terms, bool exact) {
        const Request request = request_from(terms);
        return exact ? lending_of<Decimal>(request) : lending_of<double>(request);
      },
      py::arg("terms"), py::arg("exact") = false, "What is lent, its charges, and what a buy-down costs.");
  room.def(
      "debt_to_income",
      [](const py::object& debts, const py::object& income) {
        return pair_of(loans::debt_to_income(number_from("monthly_debt_payments_usd", debts),
                                             number_from("yearly_income_usd", income)));
      },
      py::arg("monthly_debt_payments_usd"), py::arg("yearly_income_usd"));
  room.def(
      "payment_coverage",
      [](const py::object& saving, const py::object& payment) {
        return pair_of(loans::payment_coverage(number_from("monthly_saving_usd", saving),
                                               number_from("monthly_payment_usd", payment)));
      },
      py::arg("monthly_saving_usd"), py::arg("monthly_payment_usd"));
  room.def(
      "energy_burden",
      [](const py::object& bills, const py::object& income) {
        return pair_of(
            loans::energy_burden(number_from("yearly_bills_usd", bills), number_from("yearly_income_usd", income)));
      },
      py::arg("yearly_bills_usd"), py::arg("yearly_income_usd"));
  room.def(
      "purse",
      [](const py::object& flows) {
        std::vector<double> list;
        for (const py::object& item : elements("flows", flows, "a list of dollars"))
          list.push_back(number_from("flows[" + std::to_string(list.size()) + "]", item));
        const loans::Purse<double> found = loans::purse(std::span<const double>(list));
        return py::make_tuple(found.months_out_of_pocket, found.deepest, found.deepest_month);
      },
      py::arg("flows"));
  room.def(
      "apr",
      [](const py::object& advances, const py::object& payments, const py::object& unit_periods_per_year) {
        const auto out = flows_from("advances", advances);
        const auto back = flows_from("payments", payments);
        return value_of(loans::apr(std::span<const Flow<double>>(out), std::span<const Flow<double>>(back),
                                   number_from("unit_periods_per_year", unit_periods_per_year)));
      },
      py::arg("advances"), py::arg("payments"), py::kw_only(), py::arg("unit_periods_per_year"),
      "Annual percentage rate by the actuarial method of Regulation Z (12 CFR 1026) Appendix J, as a decimal: 0.0975 "
      "is 9.75 %. advances and payments: (amount, whole unit-periods, fraction of one) from the start of the loan. "
      "Raises NotAvailable with the reason when no rate fits, MalformedText for what is no number. Not lending "
      "advice.");
  room.def("level_payment", &loans::level_payment<double>, py::arg("amount_usd"), py::arg("rate_per_period"),
           py::arg("periods"), "Unrounded level payment.");
}

}  // namespace warmledger::bind
