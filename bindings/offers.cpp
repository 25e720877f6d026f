#include <pybind11/numpy.h>

#include <array>
#include <cmath>
#include <cstring>
#include <functional>
#include <string>
#include <vector>

#include "bind.hpp"
#include "warmledger/ledger/offers.hpp"

namespace warmledger::bind {

namespace {

using ledger::Offer;
using Column = py::array_t<double, py::array::c_style | py::array::forcecast>;

/// How a column's numbers are put into an offer: `width` numbers a row.
struct Member {
  const char* name;
  std::size_t width;
  std::function<void(Offer&, const double*)> put;
};

template <class T>
Member one(const char* name, T Offer::*member) {
  return {name, 1, [member](Offer& offer, const double* value) { offer.*member = static_cast<T>(*value); }};
}

Member twelve(const char* name, std::array<double, 12> Offer::*member) {
  return {name, 12,
          [member](Offer& offer, const double* values) { std::copy(values, values + 12, (offer.*member).begin()); }};
}

template <std::size_t Count>
std::array<Member, 2> dated(const char* usd, const char* month, std::array<ledger::DatedAmount, Count> Offer::*member) {
  return {Member{usd, Count,
                 [member](Offer& offer, const double* values) {
                   for (std::size_t k = 0; k < Count; ++k) (offer.*member)[k].usd = values[k];
                 }},
          Member{month, Count, [member](Offer& offer, const double* values) {
                   for (std::size_t k = 0; k < Count; ++k) (offer.*member)[k].month = static_cast<int>(values[k]);
                 }}};
}

const std::vector<Member>& members() {
  static const std::vector<Member> all = [] {
    std::vector<Member> list{one("installed_cost_usd", &Offer::installed_cost_usd),
                             twelve("bills_without_usd", &Offer::bills_without_usd),
                             twelve("bills_with_usd", &Offer::bills_with_usd),
                             twelve("pump_usd", &Offer::pump_usd),
                             one("fuel_escalation", &Offer::fuel_escalation),
                             one("electricity_escalation", &Offer::electricity_escalation),
                             one("inflation_rate", &Offer::inflation_rate),
                             one("nominal_discount_rate", &Offer::nominal_discount_rate),
                             one("upkeep_usd_year", &Offer::upkeep_usd_year),
                             one("system_life_years", &Offer::system_life_years),
                             one("heat_saved_kwh_year", &Offer::heat_saved_kwh_year),
                             one("fuel_price_usd", &Offer::fuel_price_usd),
                             one("loan_usd", &Offer::loan_usd),
                             one("loan_yearly_rate", &Offer::loan_yearly_rate),
                             one("loan_term_months", &Offer::loan_term_months)};
    for (Member& m : dated("incentive_usd", "incentive_month", &Offer::incentives)) list.push_back(std::move(m));
    for (Member& m : dated("replacement_usd", "replacement_month", &Offer::replacements)) list.push_back(std::move(m));
    return list;
  }();
  return all;
}

/// Values, codes of reasons and the reasons; `columns` holds arrays of `rows` or 1 rows and the member's width.
py::tuple offer_measures(std::size_t rows, const py::dict& columns, int study_years, unsigned threads) {
  std::vector<Offer> offers(rows);
  for (const Member& member : members()) {
    if (!columns.contains(member.name)) continue;
    const auto column = py::cast<Column>(columns[member.name]);
    if (column.ndim() != 2 || static_cast<std::size_t>(column.shape(1)) != member.width ||
        (column.shape(0) != 1 && static_cast<std::size_t>(column.shape(0)) != rows)) {
      throw py::value_error(std::string(member.name) + " has the wrong shape");
    }
    const double* values = column.data();
    const std::size_t step = column.shape(0) == 1 ? 0 : member.width;
    const py::gil_scoped_release free;
    for (std::size_t row = 0; row < rows; ++row) member.put(offers[row], values + row * step);
  }
  ledger::OfferTable table;
  {
    const py::gil_scoped_release free;
    table = ledger::measures_of(offers, study_years, threads);
  }
  const std::size_t count = ledger::offer_measure_count;
  py::array_t<double> values({count, rows});
  py::array_t<std::uint8_t> codes({count, rows});
  for (std::size_t c = 0; c < count && rows > 0; ++c) {
    std::memcpy(values.mutable_data(static_cast<py::ssize_t>(c), 0), table.columns[c].data(), rows * sizeof(double));
    std::memcpy(codes.mutable_data(static_cast<py::ssize_t>(c), 0), table.why_none[c].data(), rows);
  }
  return py::make_tuple(values, codes, table.reasons);
}

}  // namespace

void offers_room(py::module_& module) {
  py::module_ room = module.def_submodule("offers", "Measures of many offers at once.");
  room.def("measures", &offer_measures, py::arg("rows"), py::arg("columns"), py::arg("study_years"), py::arg("threads"),
           "See warmledger.evaluate_offers.");
  std::vector<std::pair<std::string, std::size_t>> inputs;
  for (const Member& member : members()) inputs.emplace_back(member.name, member.width);
  room.attr("inputs") = inputs;
  std::vector<std::string> names;
  for (const std::string_view name : ledger::offer_measure_names()) names.emplace_back(name);
  room.attr("measure_names") = names;
}

}  // namespace warmledger::bind
