// Result columns as Python holds them, and the cells of a sheet as the reader wants them.
#pragma once

#include <array>
#include <cmath>
#include <span>
#include <string_view>

#include "arrays.hpp"
#include "bind.hpp"
#include "warmledger/screening/screening.hpp"

namespace warmledger::bind {

/// Makes one str of equal texts that lie in the same memory; as long as another text has not taken their place.
class SharedText {
 public:
  /// A new reference to the text, to None if it is empty.
  PyObject* operator()(std::string_view text) {
    if (text.empty()) return py::none().release().ptr();
    Held& held = held_[(reinterpret_cast<std::uintptr_t>(text.data()) / 16) % held_.size()];
    if (held.text.data() != text.data() || held.text.size() != text.size()) held = {text, py::str(text)};
    return py::object(held.made).release().ptr();
  }

 private:
  struct Held {
    std::string_view text;
    py::object made;
  };
  std::vector<Held> held_{4096};
};

/// An array of str, None for an empty text.
inline py::array texts_to_python(std::span<const std::string_view> texts) {
  py::array out(py::dtype("O"), {texts.size()}, {sizeof(PyObject*)});
  auto** place = static_cast<PyObject**>(out.mutable_data());
  SharedText shared;
  for (std::size_t i = 0; i < texts.size(); ++i) place[i] = shared(texts[i]);
  return out;
}

/// Two arrays: the numbers, 0 for none, and whether there is none.
inline py::tuple numbers_to_python(std::span<const double> numbers) {
  py::array_t<double> values({numbers.size()}, {sizeof(double)});
  py::array_t<bool> none({numbers.size()}, {sizeof(bool)});
  double* value = values.mutable_data();
  bool* empty = none.mutable_data();
  for (std::size_t i = 0; i < numbers.size(); ++i) {
    // Infinite numbers never leave the library; if one did, it would have no value here either.
    empty[i] = !std::isfinite(numbers[i]);
    value[i] = empty[i] ? 0.0 : numbers[i];
  }
  return py::make_tuple(values, none);
}

/// Column name to an array of texts, or to two arrays of a column of numbers.
inline py::dict columns_to_python(std::span<const screening::Values> columns) {
  py::dict table;
  const auto specs = screening::result_columns();
  for (std::size_t c = 0; c < specs.size(); ++c) {
    const py::str name(specs[c].name.data(), specs[c].name.size());
    if (specs[c].kind == screening::ColumnKind::text) {
      table[name] = texts_to_python(columns[c].texts);
    } else {
      table[name] = numbers_to_python(columns[c].numbers);
    }
  }
  return table;
}

inline py::list problems_to_python(std::span<const errors::Problem> found) {
  py::list problems;
  for (const errors::Problem& problem : found) problems.append(to_python(problem));
  return problems;
}

}  // namespace warmledger::bind
