// Stream: a household sheet of any length, screened as its rows come, in bounded memory.
#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/catalog/csv_rows.hpp"
#include "warmledger/catalog/household.hpp"
#include "warmledger/screening/screening.hpp"

namespace warmledger::screening {

/// Cells of some rows, row after row.
struct CellRows {
  std::vector<std::string_view> cells;
  std::vector<std::size_t> ends;  ///< end of each row in `cells`

  [[nodiscard]] std::size_t size() const noexcept { return ends.size(); }
  [[nodiscard]] std::span<const std::string_view> row(std::size_t i) const {
    const std::size_t begin = i == 0 ? 0 : ends[i - 1];
    return std::span(cells).subspan(begin, ends[i] - begin);
  }
};
[[nodiscard]] CellRows cells_of(const catalog::TextRows& rows);

/// Reads rows on threads (0: one for each core). The first is data row `first_row` of the sheet, from 1. `adapt`, where
/// there is one, may change the cells of a row before they are read, from any thread.
[[nodiscard]] std::vector<catalog::SheetRow> read_rows(
    catalog::SheetReader& reader, const CellRows& rows, long first_row, unsigned threads,
    const std::function<void(std::vector<std::string_view>& cells)>& adapt = {});

/// Screens a sheet batch after batch. Together the batches give what screen() gives for the whole sheet, row for row:
/// rows are counted and identifiers remembered from batch to batch.
class Stream {
 public:
  /// Throws what SheetReader throws for a header, and NotAvailable for a program with pools: who is funded from a pool
  /// depends on every row of the sheet.
  Stream(std::shared_ptr<const appraisal::Appraiser> appraiser, std::vector<std::string> header,
         const std::string& file, Options options);

  /// Appraises the next rows. Cells are text, "" for an empty one; a column in percent may have percent signs. After
  /// `stopped` the stream is spent.
  [[nodiscard]] Screened next(const CellRows& rows);
  /// Passes over rows that were screened by an earlier stream of the same sheet.
  void skip(const CellRows& rows);

  [[nodiscard]] long rows_done() const noexcept { return rows_done_; }
  [[nodiscard]] const std::vector<std::string>& header() const noexcept { return header_; }
  [[nodiscard]] const std::vector<catalog::SheetReader::Unknown>& unknown_columns() const noexcept {
    return reader_.unknown_columns();
  }
  /// A cell as it is kept beside results: without its percent sign in a column of the household sheet in percent.
  [[nodiscard]] std::string_view kept_cell(const CellRows& rows, std::size_t row, std::size_t column) const;

 private:
  [[nodiscard]] std::vector<catalog::SheetRow> read(const CellRows& rows);

  std::vector<std::string> header_;
  catalog::SheetReader reader_;
  Screener screener_;
  std::vector<bool> in_percent_;
  std::vector<bool> known_;
  long rows_done_ = 0;
};

/// Texts that stand beside the results of a batch, a column each.
struct KeptColumn {
  std::string name;
  std::vector<std::string_view> cells;
};

/// Results as lines of CSV in UTF-8, some lines a part, without header: line feeds, quotes where they are needed,
/// numbers with every digit they need to be read back as they were, an empty cell for no value.
[[nodiscard]] std::vector<std::string> csv_lines(const Screened& screened, std::span<const KeptColumn> kept,
                                                 unsigned threads);
/// The header line.
[[nodiscard]] std::string csv_header(std::span<const std::string> kept_names);
/// The shortest decimal digits that give the number back, in the form in which the results hold them: 0.1, 12.0, 1e-05.
[[nodiscard]] std::string number_text(double value);

}  // namespace warmledger::screening
