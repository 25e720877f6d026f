#include <algorithm>
#include <fstream>
#include <iterator>
#include <system_error>

#include <fmt/format.h>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/catalog/files.hpp"
#include "warmledger/catalog/text.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

std::string read_utf8(const std::filesystem::path& file) {
  const std::string name = file.string();
  std::error_code error;
  const auto status = std::filesystem::status(file, error);
  if (!std::filesystem::exists(status)) {
    throw errors::FileUnreadable({{name, {}, {}, ""}, "", "does not exist", "a file that is there"});
  }
  if (std::filesystem::is_directory(status)) {
    throw errors::FileUnreadable({{name, {}, {}, ""}, "", "is a folder", "a file"});
  }
  std::ifstream stream(file, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(stream), std::istreambuf_iterator<char>()};
  if (!stream.is_open() || stream.bad()) {
    throw errors::FileUnreadable({{name, {}, {}, ""}, "", "cannot be read", "a file that this user may read"});
  }
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    throw errors::FileUnreadable({{name, {}, {}, ""}, "", "is in UTF-16", "UTF-8; save it again as UTF-8"});
  }
  if (const auto bad = first_bad_utf8(text)) {
    const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(*bad), '\n');
    throw errors::FileUnreadable(
        {{name, line, {}, ""},
         fmt::format("byte 0x{:02X} at offset {}", static_cast<unsigned char>(text[*bad]), *bad),
         "is not UTF-8",
         "UTF-8; save it again as UTF-8"});
  }
  if (text.starts_with("\xEF\xBB\xBF")) text.erase(0, 3);
  return text;
}

CsvTable read_csv(const std::filesystem::path& file) {
  const std::string text = read_utf8(file);
  const std::string name = file.string();
  CsvTable table;
  long line = 1;
  bool header_read = false;
  std::vector<std::string> record;
  std::string cell;
  const std::size_t size = text.size();

  // Ends a line at a carriage return, a line feed or both; counts it.
  const auto skip_line_end = [&](std::size_t& i) {
    if (text[i] == '\r' && i + 1 < size && text[i + 1] == '\n') ++i;
    ++i;
    ++line;
  };
  const auto finish_record = [&](long first_line) {
    // A line with nothing on it is no row, unless a row is a single cell.
    if (record.size() == 1 && record[0].empty() && (!header_read || table.header.size() > 1)) {
      record.clear();
      return;
    }
    if (!header_read) {
      header_read = true;
      table.header = std::move(record);
      for (std::size_t i = 0; i < table.header.size(); ++i) {
        const auto twin =
            std::find(table.header.begin(), table.header.begin() + static_cast<std::ptrdiff_t>(i), table.header[i]);
        if (twin == table.header.begin() + static_cast<std::ptrdiff_t>(i)) continue;
        throw errors::DuplicateName(
            {{name, first_line, {}, shown(table.header[i])},
             "",
             fmt::format("stands twice in the header, in columns {} and {}{}", twin - table.header.begin() + 1, i + 1,
                         is_blank(table.header[i]) ? " (both without a name)" : ""),
             "each column name once"});
      }
    } else {
      if (record.size() != table.header.size()) {
        throw errors::MalformedText(
            {{name, first_line, {}, ""},
             fmt::format("{} cells", record.size()),
             "do not fit the header",
             fmt::format("{} cells, as in the header; a comma inside a cell needs quotes around it",
                         table.header.size())});
      }
      table.rows.push_back(std::move(record));
      table.lines.push_back(first_line);
    }
    record.clear();
    record.reserve(table.header.size());
  };

  std::size_t i = 0;
  while (i < size) {
    const long first_line = line;
    bool line_open = true;
    while (line_open) {
      cell.clear();
      if (i < size && text[i] == '"') {
        const long quote_line = line;
        ++i;
        for (;;) {
          if (i >= size) {
            throw errors::MalformedText({{name, quote_line, {}, ""},
                                         "",
                                         "a quote that opens here is never closed",
                                         "a closing quote; a quote inside a quoted cell is written twice"});
          }
          if (text[i] == '"') {
            if (i + 1 < size && text[i + 1] == '"') {
              cell += '"';
              i += 2;
              continue;
            }
            ++i;
            break;
          }
          if (text[i] == '\n' || (text[i] == '\r' && (i + 1 >= size || text[i + 1] != '\n'))) ++line;
          cell += text[i++];
        }
        if (i < size && text[i] != ',' && text[i] != '\r' && text[i] != '\n') {
          throw errors::MalformedText(
              {{name, line, {}, ""},
               fmt::format("\"{}\"", shown(cell)),
               "is followed by more text after its closing quote",
               "a comma or the end of the line; a quote inside a quoted cell is written twice"});
        }
      } else {
        const std::size_t end = std::min(text.find_first_of(",\r\n\"", i), size);
        if (end < size && text[end] == '"') {
          throw errors::MalformedText({{name, line, {}, ""},
                                       shown(std::string_view(text).substr(i, end - i + 1)),
                                       "has a quote inside a cell that does not begin with one",
                                       "quotes around the whole cell and the inner quote written twice"});
        }
        cell.assign(text, i, end - i);
        i = end;
      }
      record.push_back(cell);
      if (i < size && text[i] == ',') {
        ++i;
        continue;  // at the end of the file this leaves one more, empty, cell
      }
      line_open = false;
      if (i < size) skip_line_end(i);
    }
    finish_record(first_line);
  }
  if (!header_read) {
    throw errors::MissingValue(
        {{name, {}, {}, ""}, "", "is empty", "a header line with column names, then one line for each row"});
  }
  return table;
}

}  // namespace warmledger::catalog
