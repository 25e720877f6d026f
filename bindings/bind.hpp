// Shared by the binding files: one function for each room, and the casts that more than one of them needs.
#pragma once

#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <optional>
#include <string_view>

#include "warmledger/dates/dates.hpp"
#include "warmledger/economics/measures.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::bind {

namespace py = pybind11;

void errors_room(py::module_& module);
void loans_room(py::module_& module);
void economics_room(py::module_& module);
void offers_room(py::module_& module);
void climate_room(py::module_& module);
void hotwater_room(py::module_& module);
void catalog_room(py::module_& module);
void appraisal_room(py::module_& module);
void screening_room(py::module_& module);
void streaming_room(py::module_& module);
void whatif_room(py::module_& module);

/// datetime.date from a Date and back.
py::object to_python(dates::Date date);
dates::Date date_from(const py::handle& date);

/// A number as Python holds it: float, or decimal.Decimal with all its digits.
inline py::object to_python(double value) {
  return py::float_(value);
}
py::object to_python(const money::Decimal& value);

/// The value, or None.
template <class N>
py::object to_python(const economics::Measure<N>& measure) {
  return measure.value ? to_python(*measure.value) : py::object(py::none());
}

/// A problem as a dict: file, line, row, key, value, what, allowed, sentence.
py::dict to_python(const errors::Problem& problem);

template <class T>
py::object to_python(const std::optional<T>& value) {
  return value ? to_python(*value) : py::object(py::none());
}

/// The UTF-8 of a Python str, valid while the object lives; throws MalformedText for lone surrogates.
std::string_view utf8_of(PyObject* text);

}  // namespace warmledger::bind
