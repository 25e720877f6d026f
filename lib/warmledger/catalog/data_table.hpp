// DataTable: one CSV file of data/, read cell by cell with errors that name file, line and column. Inside this room
// only.
#pragma once

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/catalog/text.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

/// Throws `E` with the file and line of a data row filled in.
template <class E>
[[noreturn]] void fail(const std::string& file, long line, std::string_view column, std::string value, std::string what,
                       std::string allowed) {
  throw E({{file, line, {}, std::string(column)}, std::move(value), std::move(what), std::move(allowed)});
}

/// A file of the catalogue: every column must be known, and every known one there.
class DataTable {
 public:
  DataTable(const std::filesystem::path& file, std::vector<std::string> columns)
      : file_(file.string()), columns_(std::move(columns)), table_(read_csv(file)) {
    for (const std::string& name : table_.header) {
      if (std::find(columns_.begin(), columns_.end(), name) == columns_.end()) {
        const std::string nearest = errors::nearest_name(name, columns_);
        throw errors::UnknownName({{file_, 1, {}, shown(name)},
                                   "",
                                   nearest.empty() ? "is no column of this file"
                                                   : "is no column of this file (did you mean " + nearest + "?)",
                                   fmt::format("{}", fmt::join(columns_, ", "))});
      }
    }
    for (const std::string& name : columns_) {
      const auto found = std::find(table_.header.begin(), table_.header.end(), name);
      if (found == table_.header.end()) {
        throw errors::MissingValue({{file_, 1, {}, name}, "", "is missing from the header", "a column of this name"});
      }
      at_.push_back(static_cast<std::size_t>(found - table_.header.begin()));
    }
    if (table_.rows.empty())
      throw errors::MissingValue({{file_, {}, {}, ""}, "", "has a header but no rows", "one row or more"});
  }

  [[nodiscard]] std::size_t rows() const { return table_.rows.size(); }
  [[nodiscard]] long line(std::size_t row) const { return table_.lines[row]; }
  [[nodiscard]] const std::string& file() const { return file_; }

  /// The cell of the column'th of the constructor's columns.
  [[nodiscard]] const std::string& cell(std::size_t row, std::size_t column) const {
    return table_.rows[row][at_[column]];
  }

  [[nodiscard]] const std::string& text(std::size_t row, std::size_t column) const {
    const std::string& found = cell(row, column);
    if (is_blank(found)) fail<errors::MissingValue>(file_, line(row), columns_[column], "", "is empty", "text");
    if (has_control_character(found))
      fail<errors::MalformedText>(file_, line(row), columns_[column], shown(found), "has a control character",
                                  "text on one line");
    return found;
  }

  [[nodiscard]] std::optional<double> maybe_number(std::size_t row, std::size_t column, double low, double high) const {
    const std::string& found = cell(row, column);
    if (is_blank(found)) return std::nullopt;
    const NumberText number = number_from(found);
    const auto allowed = [&] { return errors::plain_number(low) + " to " + errors::plain_number(high); };
    if (!number.what.empty())
      fail<errors::MalformedText>(file_, line(row), columns_[column], shown(found), std::string(number.what),
                                  "a number, " + allowed());
    if (!(number.value >= low && number.value <= high)) {
      fail<errors::ValueOutOfRange>(file_, line(row), columns_[column], shown(found), "is out of range", allowed());
    }
    return number.value;
  }

  [[nodiscard]] double number(std::size_t row, std::size_t column, double low, double high) const {
    if (const auto found = maybe_number(row, column, low, high)) return *found;
    fail<errors::MissingValue>(file_, line(row), columns_[column], "", "is empty",
                               "a number, " + errors::plain_number(low) + " to " + errors::plain_number(high));
  }

  [[nodiscard]] int whole(std::size_t row, std::size_t column, int low, int high) const {
    const double found = number(row, column, low, high);
    if (found != std::floor(found))
      fail<errors::MalformedText>(file_, line(row), columns_[column], cell(row, column), "is not a whole number",
                                  fmt::format("a whole number, {} to {}", low, high));
    return static_cast<int>(found);
  }

  /// A word through a function such as fuel_named, or a date through parse_date; its error gets the file, line and
  /// column.
  template <class Named>
  [[nodiscard]] auto named(std::size_t row, std::size_t column, Named named_by) const {
    const auto here = [&](errors::Problem problem) {
      problem.where = {file_, line(row), {}, columns_[column]};
      return problem;
    };
    try {
      return named_by(std::string_view(text(row, column)));
    } catch (const errors::UnknownName& error) {
      throw errors::UnknownName(here(error.problem()));
    } catch (const errors::MalformedText& error) {
      throw errors::MalformedText(here(error.problem()));
    } catch (const errors::ValueOutOfRange& error) {
      throw errors::ValueOutOfRange(here(error.problem()));
    }
  }

  /// "yes" or "no".
  [[nodiscard]] bool yes(std::size_t row, std::size_t column) const {
    const std::string& word = text(row, column);
    if (word != "yes" && word != "no")
      fail<errors::UnknownName>(file_, line(row), columns_[column], shown(word), "is not known", "yes, no");
    return word == "yes";
  }

  /// "source (status)", with a status that the catalogue knows.
  [[nodiscard]] std::string source(std::size_t row, std::size_t source_column, std::size_t status_column) const {
    const std::string& status = text(row, status_column);
    static const std::vector<std::string> known{"verified", "secondary account", "from memory", "common practice"};
    if (std::find(known.begin(), known.end(), status) == known.end()) {
      fail<errors::UnknownName>(file_, line(row), columns_[status_column], shown(status), "is not known",
                                fmt::format("{}", fmt::join(known, ", ")));
    }
    return text(row, source_column) + " (" + status + ")";
  }

  [[noreturn]] void twice(std::size_t row, std::size_t column, const std::string& what) const {
    fail<errors::DuplicateName>(file_, line(row), columns_[column], what, "stands twice", "each once");
  }

 private:
  std::string file_;
  std::vector<std::string> columns_;
  std::vector<std::size_t> at_;
  CsvTable table_;
};

}  // namespace warmledger::catalog
