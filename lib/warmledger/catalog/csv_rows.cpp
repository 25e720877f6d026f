#include "warmledger/catalog/csv_rows.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "warmledger/catalog/text.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

namespace {

constexpr std::string_view form = R"(cells parted by commas, quoted by ")";

}  // namespace

void TextRows::append_row(std::size_t row, std::vector<std::string_view>& cells) const {
  for (std::size_t cell = row == 0 ? 0 : rows_[row - 1]; cell < rows_[row]; ++cell) {
    const std::size_t begin = cell == 0 ? 0 : cells_[cell - 1];
    cells.push_back(std::string_view(text_).substr(begin, cells_[cell] - begin));
  }
}

TextRows TextRows::taken(std::size_t most) {
  const std::size_t count = std::min(most, rows_.size());
  if (count == 0) return {};
  const std::size_t cells = rows_[count - 1];
  const std::size_t bytes = cells == 0 ? 0 : cells_[cells - 1];
  TextRows out;
  out.rows_.assign(rows_.begin(), rows_.begin() + static_cast<std::ptrdiff_t>(count));
  out.cells_.assign(cells_.begin(), cells_.begin() + static_cast<std::ptrdiff_t>(cells));
  out.text_ = text_.substr(0, bytes);
  rows_.erase(rows_.begin(), rows_.begin() + static_cast<std::ptrdiff_t>(count));
  cells_.erase(cells_.begin(), cells_.begin() + static_cast<std::ptrdiff_t>(cells));
  text_.erase(0, bytes);
  for (std::size_t& end : rows_) end -= cells;
  for (std::size_t& end : cells_) end -= bytes;
  return out;
}

void CsvRows::end_cell() {
  const std::size_t begin = ready_.cells_.empty() ? 0 : ready_.cells_.back();
  const std::string_view cell = std::string_view(ready_.text_).substr(begin);
  if (cell.size() > most_characters && character_count(cell) > most_characters) {
    throw errors::MalformedText({{file_, line_, {}, ""},
                                 "",
                                 fmt::format("is no CSV: field larger than field limit ({})", most_characters),
                                 std::string(form)});
  }
  ready_.cells_.push_back(ready_.text_.size());
}

void CsvRows::end_row() {
  state_ = State::row_start;
  const std::string_view text = std::string_view(ready_.text_).substr(row_begin_);
  if (const auto bad = first_bad_utf8(text)) {
    const auto inner = std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(*bad), '\n');
    throw errors::FileUnreadable({{file_, row_line_ + inner, {}, ""},
                                  "",
                                  fmt::format("is not UTF-8 (byte 0x{:02X})", static_cast<unsigned char>(text[*bad])),
                                  R"(text in UTF-8; save it again as "CSV UTF-8")"});
  }
  const std::size_t first_cell = ready_.rows_.empty() ? 0 : ready_.rows_.back();
  if (text.empty()) {
    ready_.cells_.resize(first_cell);
    ++empty_rows_;
  } else {
    for (; empty_rows_ > 0; --empty_rows_) ready_.rows_.push_back(first_cell);
    ready_.rows_.push_back(ready_.cells_.size());
  }
  row_begin_ = ready_.text_.size();
}

void CsvRows::take_char(char c) {
  const bool line_end = c == '\n' || c == '\r';
  switch (state_) {
    case State::row_start:
      row_line_ = line_;
      row_begin_ = ready_.text_.size();
      if (line_end) {
        end_row();
        return;
      }
      [[fallthrough]];
    case State::cell_start:
      if (c == '"') {
        state_ = State::in_quotes;
        return;
      }
      state_ = State::in_cell;
      [[fallthrough]];
    case State::in_cell:
      if (line_end) {
        end_cell();
        end_row();
      } else if (c == ',') {
        end_cell();
        state_ = State::cell_start;
      } else {
        ready_.text_ += c;
      }
      return;
    case State::in_quotes:
      if (c == '"') {
        state_ = State::after_quote;
        return;
      }
      ready_.text_ += c;
      // A quote that is never closed must not gather the rest of the file.
      if (ready_.text_.size() - (ready_.cells_.empty() ? 0 : ready_.cells_.back()) > 4 * most_characters) end_cell();
      return;
    case State::after_quote:
      if (c == '"') {
        ready_.text_ += c;
        state_ = State::in_quotes;
      } else if (c == ',') {
        end_cell();
        state_ = State::cell_start;
      } else if (line_end) {
        end_cell();
        end_row();
      } else {
        throw errors::MalformedText(
            {{file_, line_, {}, ""}, "", R"(is no CSV: ',' expected after '"')", std::string(form)});
      }
      return;
  }
}

void CsvRows::push(std::string_view bytes) {
  for (const char c : bytes) {
    if (after_return_) {
      after_return_ = false;
      if (c == '\n' && state_ != State::in_quotes) continue;  // the other half of a line end
      if (c == '\n') {
        ready_.text_ += c;
        continue;
      }
    }
    if (c == '\0') {
      throw errors::FileUnreadable(
          {{file_, line_, {}, ""}, "", "holds a NUL byte, so it is no text in UTF-8", "text in UTF-8"});
    }
    take_char(c);
    if (c == '\r' || c == '\n') {
      ++line_;
      after_return_ = c == '\r';
    }
  }
}

void CsvRows::finish() {
  if (state_ == State::in_quotes) {
    throw errors::MalformedText(
        {{file_, line_, {}, ""}, "", "has a quoted cell that is never closed", std::string(form)});
  }
  if (state_ == State::row_start) return;
  end_cell();
  end_row();
}

}  // namespace warmledger::catalog
