// Cells of a Python column as text.
#pragma once

#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

#include "arrays.hpp"
#include "bind.hpp"
#include "warmledger/screening/stream.hpp"

namespace warmledger::bind {

/// What sheet.text_of makes of a value, by itself for the kinds that cells mostly are, by `text_of` for all others.
class CellText {
 public:
  explicit CellText(py::function text_of) : text_of_(std::move(text_of)) {}

  py::object operator()(py::handle value) {
    if (value.is_none()) return py::none();
    if (PyUnicode_Check(value.ptr()))
      return PyUnicode_GET_LENGTH(value.ptr()) == 0 ? py::object(py::none())
                                                    : py::reinterpret_borrow<py::object>(value);
    if (PyFloat_Check(value.ptr())) return (*this)(PyFloat_AS_DOUBLE(value.ptr()));
    // The marks of an empty cell, such as pandas.NA, are one object that stands in many rows.
    if (!value.is(last_)) {
      last_text_ = text_of_(value);
      last_ = py::reinterpret_borrow<py::object>(value);
    }
    return last_text_;
  }

  py::object operator()(double value) {
    if (std::isnan(value)) return py::none();
    if (std::isinf(value)) return text_of_(value);
    if (value == std::floor(value) && std::abs(value) < 1e15) return (*this)(static_cast<std::int64_t>(value));
    return py::str(screening::number_text(value));
  }

  py::object operator()(std::int64_t value) {
    std::array<char, 24> digits{};
    const auto [end, error] = std::to_chars(digits.begin(), digits.end(), value);
    static_cast<void>(error);  // the longest number fits
    return py::str(digits.data(), static_cast<std::size_t>(end - digits.data()));
  }

 private:
  py::function text_of_;
  py::object last_, last_text_;
};

/// The cells of a column as a list of str, None for an empty one: of an array of float64, int64 or objects, or of any
/// sequence.
inline py::list cell_texts(const py::object& cells, py::function text_of) {
  CellText text(std::move(text_of));
  const auto listed = [&](py::ssize_t count, const auto& at) {
    py::list out(count);
    for (py::ssize_t i = 0; i < count; ++i) PyList_SET_ITEM(out.ptr(), i, text(at(i)).release().ptr());
    return out;
  };
  if (py::isinstance<py::array_t<double>>(cells)) {
    const auto numbers = py::reinterpret_borrow<py::array_t<double>>(cells).unchecked<1>();
    return listed(numbers.shape(0), [&](py::ssize_t i) { return numbers(i); });
  }
  if (py::isinstance<py::array_t<std::int64_t>>(cells)) {
    const auto numbers = py::reinterpret_borrow<py::array_t<std::int64_t>>(cells).unchecked<1>();
    return listed(numbers.shape(0), [&](py::ssize_t i) { return numbers(i); });
  }
  const auto values =
      py::reinterpret_steal<py::object>(PySequence_Fast(cells.ptr(), "cells of a column are a sequence"));
  if (!values) throw py::error_already_set();
  return listed(PySequence_Fast_GET_SIZE(values.ptr()),
                [&](py::ssize_t i) { return py::handle(PySequence_Fast_GET_ITEM(values.ptr(), i)); });
}

}  // namespace warmledger::bind
