// Results as CSV.
#include <array>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/screening/crew.hpp"
#include "warmledger/screening/stream.hpp"

namespace warmledger::screening {

namespace {

constexpr std::size_t chunk_rows = 256;

void append_text(std::string& line, std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) {
    line += text;
    return;
  }
  line += '"';
  for (const char c : text) {
    if (c == '"') line += '"';
    line += c;
  }
  line += '"';
}

void append_number(std::string& line, double value) {
  std::array<char, 32> buffer{};
  const auto [end, error] =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::scientific);
  static_cast<void>(error);  // the longest double fits
  const std::string_view text(buffer.data(), static_cast<std::size_t>(end - buffer.data()));
  const std::size_t e = text.find('e');
  const int exponent = std::atoi(text.data() + e + 1);
  std::string digits;
  if (text.front() == '-') line += '-';
  for (const char c : text.substr(0, e)) {
    if (c != '-' && c != '.') digits += c;
  }
  if (exponent < -4 || exponent >= 16) {
    line += digits[0];
    if (digits.size() > 1) line.append(1, '.').append(digits, 1);
    line += exponent < 0 ? "e-" : "e+";
    const std::string power = std::to_string(std::abs(exponent));
    if (power.size() < 2) line += '0';
    line += power;
  } else if (exponent < 0) {
    line.append("0.").append(static_cast<std::size_t>(-exponent - 1), '0').append(digits);
  } else {
    const auto whole = static_cast<std::size_t>(exponent) + 1;
    if (digits.size() <= whole) {
      line.append(digits).append(whole - digits.size(), '0').append(".0");
    } else {
      line.append(digits, 0, whole).append(1, '.').append(digits, whole);
    }
  }
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

std::string csv_lines(const Screened& screened, std::span<const KeptColumn> kept, unsigned threads) {
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
  std::size_t bytes = 0;
  for (const std::string& part : parts) bytes += part.size();
  std::string lines;
  lines.reserve(bytes);
  for (const std::string& part : parts) lines += part;
  return lines;
}

}  // namespace warmledger::screening
