// CsvRows: CSV of any length, row by row, as its bytes come.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace warmledger::catalog {

/// Rows of cells. Views live as long as the rows they were taken from and until those are moved or changed.
class TextRows {
 public:
  [[nodiscard]] std::size_t size() const noexcept { return rows_.size(); }
  [[nodiscard]] bool empty() const noexcept { return rows_.empty(); }
  /// Cells of a row, appended to `cells`.
  void append_row(std::size_t row, std::vector<std::string_view>& cells) const;
  /// Bytes of text held.
  [[nodiscard]] std::size_t bytes() const noexcept { return text_.size(); }

 private:
  friend class CsvRows;
  [[nodiscard]] TextRows taken(std::size_t most);
  std::string text_;
  std::vector<std::size_t> cells_;  ///< end of each cell in text_
  std::vector<std::size_t> rows_;   ///< end of each row in cells_
};

/// A reader of CSV (RFC 4180: commas, double quotes; UTF-8 without byte-order mark) that is fed bytes and gives rows.
/// An inner quote of a cell without quotes around it stands for itself; a line end is CR, LF or both; an empty line is
/// a row without cells. Rows without any text are held back until one with text follows: those at the end of a sheet
/// are no rows.
class CsvRows {
 public:
  static constexpr std::size_t most_characters = 131072;  ///< in a cell

  /// `file` is named in errors.
  explicit CsvRows(std::string file) : file_(std::move(file)) {}

  /// Takes the next bytes. Throws FileUnreadable for what is no UTF-8 or holds a NUL byte, and MalformedText for text
  /// after a closing quote or a cell longer than most_characters, naming the line.
  void push(std::string_view bytes);
  /// Says that no bytes follow. Throws MalformedText for a quote that was never closed.
  void finish();

  /// Whole rows that wait to be taken.
  [[nodiscard]] const TextRows& ready() const noexcept { return ready_; }
  /// Takes the next rows, `most` or fewer.
  [[nodiscard]] TextRows take(std::size_t most) {
    TextRows rows = ready_.taken(most);
    row_begin_ -= rows.bytes();
    return rows;
  }

 private:
  enum class State { row_start, cell_start, in_cell, in_quotes, after_quote };
  void end_cell();
  void end_row();
  void take_char(char c);

  std::string file_;
  TextRows ready_;
  State state_ = State::row_start;
  bool after_return_ = false;   ///< the last byte was a CR that ended a line
  long line_ = 1;               ///< of the next byte
  long row_line_ = 1;           ///< in which the row began
  std::size_t row_begin_ = 0;   ///< of the row in ready_.text_
  std::size_t empty_rows_ = 0;  ///< held back
};

}  // namespace warmledger::catalog
