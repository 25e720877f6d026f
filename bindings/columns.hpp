// Result columns as Python holds them, and the cells of a sheet as the reader wants them.
#pragma once

#include <span>

#include "arrays.hpp"
#include "bind.hpp"
#include "warmledger/screening/screening.hpp"

namespace warmledger::bind {

/// Column name to a list of texts, or an array of floats with NaN for none.
inline py::dict columns_to_python(std::span<const screening::Values> columns) {
  py::dict table;
  const auto specs = screening::result_columns();
  for (std::size_t c = 0; c < specs.size(); ++c) {
    const py::str name(specs[c].name.data(), specs[c].name.size());
    if (specs[c].kind == screening::ColumnKind::text) {
      table[name] = py::cast(columns[c].texts);
    } else {
      table[name] = array_of(columns[c].numbers);
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
