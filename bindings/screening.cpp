#include "warmledger/screening/screening.hpp"
#include "bind.hpp"
#include "columns.hpp"
#include "sheet.hpp"

#include <algorithm>
#include <map>
#include <set>

namespace warmledger::bind {

namespace {

/// Rows of a file that hold another number of cells than the header: index of the row, number of its cells.
using Ragged = std::map<std::size_t, std::size_t>;

/// The cells of a row as they stood in the file: fewer than the header's, or more (those beyond it are left blank).
std::vector<std::string_view> ragged_row(std::span<const std::string_view> row, std::size_t count) {
  std::vector<std::string_view> cells(row.begin(),
                                      row.begin() + static_cast<std::ptrdiff_t>(std::min(count, row.size())));
  cells.resize(count);
  return cells;
}

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

/// Views into the strings of the columns, row by row.
std::vector<std::string_view> views_of(const std::vector<py::list>& columns, std::size_t count) {
  std::vector<std::string_view> cells(count * columns.size());
  for (std::size_t c = 0; c < columns.size(); ++c) {
    for (std::size_t r = 0; r < count; ++r) cells[r * columns.size() + c] = Sheet::view(columns[c][r]);
  }
  return cells;
}

std::vector<catalog::SheetRow> read_rows(Sheet& sheet, std::span<const std::string_view> cells, std::size_t count,
                                         std::size_t width, const Ragged& ragged) {
  std::vector<catalog::SheetRow> rows;
  rows.reserve(count);
  for (std::size_t r = 0; r < count; ++r) {
    const auto row = cells.subspan(r * width, width);
    const auto other = ragged.find(r);
    const long number = static_cast<long>(r) + 1;
    rows.push_back(other == ragged.end() ? sheet.reader().read(number, row)
                                         : sheet.reader().read(number, ragged_row(row, other->second)));
  }
  return rows;
}

py::dict check_columns(const std::vector<std::string>& header, const std::vector<py::list>& columns,
                       const std::string& file, const Ragged& ragged,
                       const std::shared_ptr<appraisal::Appraiser>& appraiser) {
  const std::size_t count = row_count(header, columns);
  Sheet sheet(header, file);
  const std::vector<std::string_view> cells = views_of(columns, count);
  std::vector<errors::Problem> found;
  {
    const py::gil_scoped_release release;
    const std::vector<catalog::SheetRow> rows = read_rows(sheet, cells, count, columns.size(), ragged);
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
  const std::vector<std::string_view> cells = views_of(columns, count);
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
    std::vector<catalog::SheetRow> rows = read_rows(sheet, cells, count, columns.size(), ragged);
    screened = screening::screen(*appraiser, std::move(rows), file, options);
  }
  if (in_callback) std::rethrow_exception(in_callback);

  py::dict result;
  result["columns"] = columns_to_python(screened.columns);
  result["problems"] = problems_to_python(screened.problems);
  result["unknown_columns"] = unknown_columns(sheet);
  result["bad_rows"] = screened.bad_rows;
  return result;
}

}  // namespace

void screening_room(py::module_& module) {
  py::module_ room = module.def_submodule("screening", "Whole sheets.");
  room.def("screen", &screen_columns, py::arg("appraiser"), py::arg("header"), py::arg("columns"), py::arg("file"),
           py::arg("detail"), py::arg("threads"), py::arg("progress"), py::arg("ragged") = Ragged{},
           "Screens columns of cells (str or None). Returns columns (text lists, float arrays with NaN for none), "
           "problems, unknown_columns, bad_rows.");
  room.def(
      "check", &check_columns, py::arg("header"), py::arg("columns"), py::arg("file"), py::arg("ragged") = Ragged{},
      py::arg("appraiser") = py::none(),
      "Problems of a sheet, without simulating: problems, unknown_columns, bad_rows. Without an appraiser only those "
      "of its cells.");
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
