// Results as CSV.
#include <array>
#include <charconv>
#include <cmath>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/screening/crew.hpp"
#include "warmledger/screening/stream.hpp"

namespace warmledger::screening {

namespace {

constexpr std::size_t chunk_rows = 256;

void append_text(std::string& line, std::string_view text) {
  const auto has = [text](char c) { return text.find(c) != std::string_view::npos; };
  if (!has(',') && !has('"') && !has('\n') && !has('\r')) {
    line += text;
    return;
  }
  line += '"';
  for (std::size_t quote = text.find('"'); quote != std::string_view::npos; quote = text.find('"')) {
    line.append(text.substr(0, quote + 1)).append(1, '"');
    text.remove_prefix(quote + 1);
  }
  line.append(text).append(1, '"');
}

void append_number(std::string& line, double value) {
  std::array<char, 32> buffer{};
  const double size = std::fabs(value);
  const bool fixed = size == 0 || (size >= 1e-4 && size < 1e16);
  const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value,
                                          fixed ? std::chars_format::fixed : std::chars_format::scientific);
  static_cast<void>(error);  // the longest double fits
  const std::string_view text(buffer.data(), static_cast<std::size_t>(end - buffer.data()));
  line += text;
  if (fixed && text.find('.') == std::string_view::npos) line += ".0";
}

void append_cell(std::string& line, ColumnKind kind, const Values& values, std::size_t row) {
  if (kind == ColumnKind::text) {
    append_text(line, values.texts[row]);
    return;
  }
  const double value = values.numbers[row];
  if (!std::isfinite(value)) return;
  if (kind == ColumnKind::yes_no) {
    line += value != 0 ? "True" : "False";
  } else if (kind == ColumnKind::whole_number) {
    line += std::to_string(static_cast<long long>(value));
  } else {
    append_number(line, value);
  }
}

}  // namespace

std::string number_text(double value) {
  std::string text;
  append_number(text, value);
  return text;
}

std::string csv_header(std::span<const std::string> kept_names) {
  std::string line;
  for (const ResultColumn& column : result_columns()) {
    if (!line.empty()) line += ',';
    append_text(line, column.name);
  }
  for (const std::string& name : kept_names) {
    line += ',';
    append_text(line, name);
  }
  return line + '\n';
}

std::vector<std::string> csv_lines(const Screened& screened, std::span<const KeptColumn> kept, unsigned threads) {
  const std::span<const ResultColumn> columns = result_columns();
  const std::size_t count = screened.columns.front().texts.size();  // household_id is a text
  std::vector<std::string> parts((count + chunk_rows - 1) / chunk_rows);
  share_out(count, chunk_rows, thread_count(threads), {}, [&](std::size_t, std::size_t first, std::size_t last) {
    std::string& part = parts[first / chunk_rows];
    for (std::size_t row = first; row < last; ++row) {
      for (std::size_t c = 0; c < columns.size(); ++c) {
        if (c > 0) part += ',';
        append_cell(part, columns[c].kind, screened.columns[c], row);
      }
      for (const KeptColumn& column : kept) {
        part += ',';
        append_text(part, column.cells[row]);
      }
      part += '\n';
    }
  });
  return parts;
}

}  // namespace warmledger::screening
