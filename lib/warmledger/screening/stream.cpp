#include "warmledger/screening/stream.hpp"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "warmledger/catalog/text.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/screening/crew.hpp"

namespace warmledger::screening {

namespace {

/// Rows a thread reads at a time.
constexpr std::size_t rows_at_a_time = 256;

/// Without the blanks at its end, a no-break space among them.
std::string_view right_trimmed(std::string_view text) {
  for (;;) {
    if (text.ends_with("\xC2\xA0")) {
      text.remove_suffix(2);
    } else if (!text.empty() && (text.back() == ' ' || (text.back() >= '\t' && text.back() <= '\r'))) {
      text.remove_suffix(1);
    } else {
      return text;
    }
  }
}

std::string_view without_percent_sign(std::string_view cell) {
  const std::string_view trimmed = right_trimmed(cell);
  return trimmed.ends_with('%') ? right_trimmed(trimmed.substr(0, trimmed.size() - 1)) : cell;
}

/// The appraiser, if it can appraise a sheet of which it sees a part at a time.
std::shared_ptr<const appraisal::Appraiser> streamable(std::shared_ptr<const appraisal::Appraiser> appraiser,
                                                       const std::string& file) {
  const auto& pools = appraiser->program().pools;
  if (!pools.empty()) {
    throw errors::NotAvailable({{file, {}, {}, "pool"},
                                pools.front().id,
                                "cannot be spent on a sheet that is screened part by part: who is funded depends on "
                                "every household",
                                "screening the whole sheet at once, or a program without pools"});
  }
  return appraiser;
}

}  // namespace

CellRows cells_of(const catalog::TextRows& rows) {
  CellRows out;
  out.ends.reserve(rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    rows.append_row(i, out.cells);
    out.ends.push_back(out.cells.size());
  }
  return out;
}

std::vector<catalog::SheetRow> read_rows(catalog::SheetReader& reader, const CellRows& rows, long first_row,
                                         unsigned threads,
                                         const std::function<void(std::vector<std::string_view>& cells)>& adapt) {
  std::vector<catalog::SheetRow> out(rows.size());
  const auto number_of = [&](std::size_t i) { return first_row + static_cast<long>(i); };
  share_out(rows.size(), rows_at_a_time, thread_count(threads), {},
            [&](std::size_t, std::size_t first, std::size_t last) {
              std::vector<std::string_view> adapted;
              for (std::size_t i = first; i < last; ++i) {
                std::span<const std::string_view> cells = rows.row(i);
                if (adapt) {
                  adapted.assign(cells.begin(), cells.end());
                  adapt(adapted);
                  cells = adapted;
                }
                out[i] = reader.parse(number_of(i), cells);
              }
            });
  for (std::size_t i = 0; i < out.size(); ++i) reader.claim_id(number_of(i), out[i]);
  return out;
}

Stream::Stream(std::shared_ptr<const appraisal::Appraiser> appraiser, std::vector<std::string> header,
               const std::string& file, Options options)
    : header_(std::move(header)),
      reader_(header_, file),
      screener_(streamable(std::move(appraiser), file), file, std::move(options)) {
  const auto known = catalog::household_columns();
  for (const std::string& heading : header_) {
    const std::string_view name = catalog::trimmed(heading);
    in_percent_.push_back(name.ends_with("_pct"));
    known_.push_back(std::any_of(known.begin(), known.end(), [&](const auto& column) { return column.name == name; }));
  }
}

std::string_view Stream::kept_cell(const CellRows& rows, std::size_t row, std::size_t column) const {
  const auto cells = rows.row(row);
  if (column >= cells.size()) return {};
  return in_percent_[column] && known_[column] ? without_percent_sign(cells[column]) : cells[column];
}

std::vector<catalog::SheetRow> Stream::read(const CellRows& rows) {
  return read_rows(
      reader_, rows, rows_done_ + 1, screener_.options().threads, [&](std::vector<std::string_view>& cells) {
        const auto filled = [](std::string_view cell) { return !cell.empty(); };
        // A row without any text has what it should have, though nothing in it; blank cells beyond the
        // header say nothing.
        if (std::none_of(cells.begin(), cells.end(), filled) ||
            (cells.size() > header_.size() &&
             std::none_of(cells.begin() + static_cast<std::ptrdiff_t>(header_.size()), cells.end(), filled)))
          cells.resize(header_.size());
        for (std::size_t c = 0; c < std::min(cells.size(), header_.size()); ++c) {
          if (in_percent_[c]) cells[c] = without_percent_sign(cells[c]);
        }
      });
}

Screened Stream::next(const CellRows& rows) {
  Screened screened = screener_.screen(read(rows), rows_done_ + 1);
  rows_done_ += static_cast<long>(rows.size());
  return screened;
}

void Stream::skip(const CellRows& rows) {
  (void)read(rows);
  rows_done_ += static_cast<long>(rows.size());
}

}  // namespace warmledger::screening
