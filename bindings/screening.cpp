#include "warmledger/screening/screening.hpp"
#include "bind.hpp"
#include "cells.hpp"
#include "columns.hpp"
#include "sheet.hpp"
#include "warmledger/screening/stream.hpp"

#include <algorithm>
#include <map>
#include <set>

namespace warmledger::bind {

namespace {

/// Rows of a file that hold another number of cells than the header: index of the row, number of its cells.
using Ragged = std::map<std::size_t, std::size_t>;

py::list unknown_columns(Sheet& sheet) {
  py::list unknown;
  for (const auto& column : sheet.reader().unknown_columns())
    unknown.append(py::make_tuple(column.name, column.nearest));
  return unknown;
}

std::size_t row_count(const std::vector<std::string>& header, const std::vector<py::list>& columns) {
  if (columns.size() != header.size()) throw py::value_error("one list of cells for each name in the header");
  const std::size_t count = columns.empty() ? 0 : columns.front().size();
  for (const py::list& column : columns) {
    if (column.size() != count) throw py::value_error("all columns of a sheet have the same length");
  }
  return count;
}

/// Views into the strings of the columns, row by row; as many in a row as stood in the file, those beyond the header
/// blank.
screening::CellRows views_of(const std::vector<py::list>& columns, std::size_t count, const Ragged& ragged) {
  constexpr std::size_t block = 64;  // of rows: what is written stays near
  const std::size_t width = columns.size();
  screening::CellRows rows;
  rows.ends.reserve(count);
  for (std::size_t r = 0; r < count; ++r) {
    const auto other = ragged.find(r);
    rows.ends.push_back((rows.ends.empty() ? 0 : rows.ends.back()) + (other == ragged.end() ? width : other->second));
  }
  rows.cells.resize(rows.ends.empty() ? 0 : rows.ends.back());
  for (std::size_t first = 0; first < count; first += block) {
    for (std::size_t c = 0; c < width; ++c) {
      for (std::size_t r = first; r < std::min(first + block, count); ++r) {
        const std::size_t begin = r == 0 ? 0 : rows.ends[r - 1];
        if (begin + c < rows.ends[r])
          rows.cells[begin + c] = Sheet::view(PyList_GET_ITEM(columns[c].ptr(), static_cast<Py_ssize_t>(r)));
      }
    }
  }
  return rows;
}

py::dict check_columns(const std::vector<std::string>& header, const std::vector<py::list>& columns,
                       const std::string& file, const Ragged& ragged,
                       const std::shared_ptr<appraisal::Appraiser>& appraiser) {
  const std::size_t count = row_count(header, columns);
  Sheet sheet(header, file);
  const screening::CellRows cells = views_of(columns, count, ragged);
  std::vector<errors::Problem> found;
  {
    const py::gil_scoped_release release;
    const std::vector<catalog::SheetRow> rows = screening::read_rows(sheet.reader(), cells, 1, 0);
    if (appraiser) {
      found = screening::check(*appraiser, rows, file);
    } else {
      for (const catalog::SheetRow& row : rows) found.insert(found.end(), row.problems.begin(), row.problems.end());
    }
  }
  py::list problems;
  std::set<long> bad_rows;
  for (const errors::Problem& problem : found) {
    problems.append(to_python(problem));
    if (problem.where.row) bad_rows.insert(*problem.where.row);
  }
  py::dict result;
  result["problems"] = problems;
  result["unknown_columns"] = unknown_columns(sheet);
  result["bad_rows"] = bad_rows.size();
  return result;
}

py::dict screen_columns(const std::shared_ptr<appraisal::Appraiser>& appraiser, const std::vector<std::string>& header,
                        const std::vector<py::list>& columns, const std::string& file, const std::string& detail,
                        unsigned threads, const py::object& progress, const Ragged& ragged) {
  const std::size_t count = row_count(header, columns);
  Sheet sheet(header, file);
  screening::Options options;
  options.detail = hotwater::detail_named(detail);
  options.threads = threads;

  // Views need the interpreter; reading and appraising do not. The lists keep the strings alive meanwhile.
  const screening::CellRows cells = views_of(columns, count, ragged);
  std::exception_ptr in_callback;
  options.progress = [&](std::size_t done) {
    const py::gil_scoped_acquire acquire;
    if (PyErr_CheckSignals() != 0) {
      in_callback = std::make_exception_ptr(py::error_already_set());
      return false;
    }
    if (progress.is_none()) return true;
    try {
      progress(done);
      return true;
    } catch (...) {
      in_callback = std::current_exception();
      return false;
    }
  };
  screening::Screened screened;
  {
    const py::gil_scoped_release release;
    std::vector<catalog::SheetRow> rows = screening::read_rows(sheet.reader(), cells, 1, threads);
    screened = screening::screen(*appraiser, std::move(rows), file, options);
  }
  if (in_callback) std::rethrow_exception(in_callback);

  py::dict result;
  result["problems"] = problems_to_python(screened.problems);
  result["unknown_columns"] = unknown_columns(sheet);
  result["bad_rows"] = screened.bad_rows;
  result["columns"] = columns_to_python(std::move(screened));
  return result;
}

}  // namespace

void screening_room(py::module_& module) {
  py::module_ room = module.def_submodule("screening", "Whole sheets.");
  py::class_<TextColumn>(room, "TextColumn", "A column of text in the results.")
      .def(
          "objects", [](const TextColumn& column) { return texts_to_python(column.texts); },
          "An array of str, None for an empty text; texts that come often are one object.")
      .def(
          "arrow",
          [](const TextColumn& column) {
            return arrow_text<std::int64_t>(column.texts.size(), [&](std::size_t i) { return column.texts[i]; });
          },
          "As Arrow lays it out: (bits of those that are there, wide ends, bytes, how many are empty).");
  room.def("screen", &screen_columns, py::arg("appraiser"), py::arg("header"), py::arg("columns"), py::arg("file"),
           py::arg("detail"), py::arg("threads"), py::arg("progress"), py::arg("ragged") = Ragged{},
           "Screens columns of cells (str or None). Returns columns (of text, or arrays of numbers and whether there "
           "is none), "
           "problems, unknown_columns, bad_rows.");
  room.def(
      "check", &check_columns, py::arg("header"), py::arg("columns"), py::arg("file"), py::arg("ragged") = Ragged{},
      py::arg("appraiser") = py::none(),
      "Problems of a sheet, without simulating: problems, unknown_columns, bad_rows. Without an appraiser only those "
      "of its cells.");
  room.def("cell_texts", &cell_texts, py::arg("cells"), py::arg("text_of"),
           "The cells of a column as text, what text_of makes of each; float64 and int64 arrays are read as they lie.");
  room.def(
      "result_columns",
      [] {
        py::list rows;
        for (const screening::ResultColumn& column : screening::result_columns()) {
          py::dict row;
          row["name"] = column.name;
          static constexpr std::array<const char*, 4> kinds{"text", "number", "whole number", "yes or no"};
          row["kind"] = kinds.at(static_cast<std::size_t>(column.kind));
          row["unit"] = column.unit;
          row["decimals"] = column.decimals;
          row["meaning"] = column.meaning;
          rows.append(row);
        }
        return rows;
      },
      "The columns of a screened sheet: name, kind, unit, decimals, meaning.");
  room.def("result_columns_markdown", &screening::result_columns_markdown);
}

}  // namespace warmledger::bind
