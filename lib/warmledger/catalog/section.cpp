#include "warmledger/catalog/section.hpp"

#include <cctype>

namespace warmledger::catalog {

toml::table parse_toml(std::string_view content, const std::string& file) {
  if (const auto bad = first_bad_utf8(content)) {
    const std::string_view before = content.substr(0, *bad);
    throw errors::MalformedText({{file, 1 + std::count(before.begin(), before.end(), '\n'), {}, ""},
                                 "",
                                 fmt::format("is not TOML (byte 0x{:02X} is not UTF-8)",
                                             static_cast<unsigned>(static_cast<unsigned char>(content[*bad]))),
                                 "text saved as UTF-8"});
  }
  try {
    return toml::parse(content, std::string_view(file));
  } catch (const toml::parse_error& error) {
    const auto line = static_cast<long>(error.source().begin.line);
    std::string_view rest = content;
    for (long skipped = 1; skipped < line && !rest.empty(); ++skipped) {
      const std::size_t end = rest.find('\n');
      rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
    }
    const std::string_view found = trimmed(rest.substr(0, rest.find('\n')));
    const std::size_t equals = found.find('=');
    const std::string_view key =
        equals == std::string_view::npos ? std::string_view() : trimmed(found.substr(0, equals));
    const bool plain_key = !key.empty() && std::all_of(key.begin(), key.end(), [](char c) {
      return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_' || c == '-' || c == '.';
    });
    const std::string_view value = plain_key ? trimmed(found.substr(equals + 1)) : found;
    const errors::Where where{file, known_line(line), {}, plain_key ? std::string(key) : ""};
    const std::string_view reason = error.description();
    const bool like_date =
        value.size() >= 8 &&
        std::all_of(value.begin(), value.begin() + 8, [](char c) { return (c >= '0' && c <= '9') || c == '-'; }) &&
        value.find('-') != std::string_view::npos;
    if (like_date)
      throw errors::ValueOutOfRange({where, shown(value), "is not a day of the calendar", std::string(date_allowed)});
    throw errors::MalformedText({where, found.empty() ? "" : fmt::format("\"{}\"", shown(value)),
                                 fmt::format("is not TOML ({})", shown(reason)),
                                 "TOML 1.0: key = value lines under [table] lines, text in quotes"});
  } catch (const TomlGaveUp& error) {
    throw errors::MalformedText({{file, {}, {}, ""},
                                 "",
                                 fmt::format("is not TOML ({})", error.what()),
                                 "TOML 1.0: key = value lines under [table] lines, text in quotes"});
  }
}

}  // namespace warmledger::catalog
