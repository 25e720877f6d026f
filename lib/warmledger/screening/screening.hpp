// Screening: a whole sheet of households, on threads, in order, with nothing dropped.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/screening/texts.hpp"

namespace warmledger::screening {

/// One row of a screened sheet. A row with problems has no appraisal; both keep their place in the order.
struct Row {
  std::string_view household_id;
  const appraisal::Appraisal<double>* appraisal = nullptr;
  std::vector<errors::Problem> problems;
};

enum class ColumnKind { text, number, whole_number, yes_no };

/// One column of the results: the single source of its name, unit, meaning and value.
struct ResultColumn {
  std::string_view name;
  ColumnKind kind;
  std::string_view unit;  ///< in words; empty for text
  int decimals;           ///< for display
  std::string_view meaning;
  /// Value of a number, whole number or yes_no (1 or 0); none when there is no such value.
  std::optional<double> (*number)(const appraisal::Appraiser&, const Row&);
  /// Writes a text to an empty string; nothing when there is none.
  void (*text)(const appraisal::Appraiser&, const Row&, std::string&);
};
[[nodiscard]] std::span<const ResultColumn> result_columns();
[[nodiscard]] std::string result_columns_markdown();

/// The values of a column for all rows of a sheet, ready for a table. Texts look into a TextStore; where they are the
/// same memory they are equal.
struct Values {
  std::vector<double> numbers;          ///< NaN where there is none; empty for text columns
  std::vector<std::string_view> texts;  ///< empty for other columns
};

/// Columns for so many rows, one for each of result_columns(), with no values yet.
[[nodiscard]] std::vector<Values> empty_columns(std::size_t rows);
/// Writes the values of rows of one appraiser, each at its place of every column; their texts lie in `texts`, which is
/// made for so many columns.
void enter(const appraisal::Appraiser& appraiser, std::span<const Row> rows, std::span<const std::size_t> places,
           std::span<Values> columns, TextStore& texts);

struct Options {
  hotwater::Detail detail = hotwater::Detail::hourly;
  unsigned threads = 0;  ///< 0: one for each core
  /// Called now and then, from the calling thread only, with the number of rows done; returning false stops the run.
  std::function<bool(std::size_t)> progress;
};

/// Result of a sheet: one element per column of result_columns(), each as long as the input; and all problems found.
struct Screened {
  std::vector<Values> columns;
  std::vector<std::unique_ptr<TextStore>> texts;  ///< of the columns
  std::vector<errors::Problem> problems;          ///< in row order
  std::size_t bad_rows = 0;
  bool stopped = false;  ///< progress asked to stop: nothing else is filled in
};

/// Appraises rows that come in batches: each thread keeps what households share, above all the weather of places, from
/// batch to batch. Within a batch households are taken by place and roof, so that those which share weather are
/// simulated side by side; the results stand in the order of the rows. They depend neither on the number of threads nor
/// on how a sheet is cut into batches.
class Screener {
 public:
  /// `file` names the sheet in problems that the appraisal finds.
  Screener(std::shared_ptr<const appraisal::Appraiser> appraiser, std::string file, Options options);
  Screener(const Screener&) = delete;
  Screener& operator=(const Screener&) = delete;
  Screener(Screener&&) noexcept;
  Screener& operator=(Screener&&) noexcept;
  ~Screener();

  /// Appraises the rows; the first is data row `first_row` of the sheet, from 1. A pool of the program is spent among
  /// these rows alone: a program with pools wants the whole sheet at once.
  [[nodiscard]] Screened screen(std::vector<catalog::SheetRow> rows, long first_row = 1);

  [[nodiscard]] const appraisal::Appraiser& appraiser() const noexcept;
  [[nodiscard]] const Options& options() const noexcept;
  [[nodiscard]] const std::string& file() const noexcept;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// Appraises every row. A household that cannot be appraised gets its reason as a problem. The result does not depend
/// on the number of threads. `file` names the sheet in problems that the appraisal finds.
[[nodiscard]] Screened screen(const appraisal::Appraiser& appraiser, std::vector<catalog::SheetRow> rows,
                              const std::string& file, const Options& options = {});

/// Every problem that screen() by the hourly method would find, in row order, without simulating anything.
[[nodiscard]] std::vector<errors::Problem> check(const appraisal::Appraiser& appraiser,
                                                 std::span<const catalog::SheetRow> rows, const std::string& file);

}  // namespace warmledger::screening
