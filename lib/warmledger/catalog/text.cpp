#include "warmledger/catalog/text.hpp"

#include <array>
#include <charconv>

#include <fmt/format.h>

namespace warmledger::catalog {

namespace {

constexpr unsigned byte_at(std::string_view text, std::size_t i) {
  return static_cast<unsigned char>(text[i]);
}

/// Length of the well-formed UTF-8 sequence at `i`, 0 if there is none (RFC 3629, section 4).
std::size_t sequence_length(std::string_view text, std::size_t i) {
  const unsigned lead = byte_at(text, i);
  if (lead < 0x80) return 1;
  const std::size_t length = lead >= 0xC2 && lead <= 0xDF   ? 2
                             : lead >= 0xE0 && lead <= 0xEF ? 3
                             : lead >= 0xF0 && lead <= 0xF4 ? 4
                                                            : 0;
  if (length == 0 || i + length > text.size()) return 0;
  const unsigned second = byte_at(text, i + 1);
  const unsigned low = lead == 0xE0 ? 0xA0 : lead == 0xF0 ? 0x90 : 0x80;
  const unsigned high = lead == 0xED ? 0x9F : lead == 0xF4 ? 0x8F : 0xBF;
  if (second < low || second > high) return 0;
  for (std::size_t k = 2; k < length; ++k) {
    if ((byte_at(text, i + k) & 0xC0U) != 0x80U) return 0;
  }
  return length;
}

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

}  // namespace

std::optional<std::size_t> first_bad_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = sequence_length(text, i);
    if (length == 0) return i;
    i += length;
  }
  return std::nullopt;
}

bool has_control_character(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    const unsigned byte = byte_at(text, i);
    if (byte < 0x20 || byte == 0x7F) return true;
    if (byte == 0xC2 && i + 1 < text.size() && byte_at(text, i + 1) < 0xA0) return true;
  }
  return false;
}

bool is_blank(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const unsigned byte = byte_at(text, i);
    if (byte == ' ' || (byte >= 0x09 && byte <= 0x0D)) {
      i += 1;
    } else if (text.substr(i, 2) == "\xC2\xA0") {
      i += 2;
    } else if (text.substr(i, 2) == "\xE2\x80" && i + 2 < text.size() && byte_at(text, i + 2) >= 0x80 &&
               byte_at(text, i + 2) <= 0x8B) {
      i += 3;
    } else if (text.substr(i, 3) == "\xE3\x80\x80" || text.substr(i, 3) == "\xEF\xBB\xBF") {
      i += 3;
    } else {
      return false;
    }
  }
  return true;
}

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view blanks = " \t\r\n";
  const std::size_t first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

std::size_t character_count(std::string_view text) {
  std::size_t count = 0;
  for (const char c : text) count += (static_cast<unsigned char>(c) & 0xC0U) != 0x80U ? 1U : 0U;
  return count;
}

std::string shown(std::string_view text) {
  std::string line;
  std::size_t characters = 0;
  for (std::size_t i = 0; i < text.size(); ++characters) {
    if (characters == 60) return line + "...";
    const std::size_t length = sequence_length(text, i);
    const std::string_view character = text.substr(i, length == 0 ? 1 : length);
    if (length == 0 || has_control_character(character)) {
      for (const char c : character) line += fmt::format("\\x{:02X}", static_cast<unsigned char>(c));
    } else {
      line += character;
    }
    i += character.size();
  }
  return line;
}

NumberText number_from(std::string_view text) {
  constexpr std::string_view not_a_number = "is not a number";
  std::string_view rest = trimmed(text);
  if (!rest.empty() && rest.front() == '$') rest.remove_prefix(1);
  const std::size_t sign = !rest.empty() && rest.front() == '-' ? 1 : 0;
  // from_chars would take "nan" and "inf".
  if (rest.size() == sign || (!is_digit(rest[sign]) && rest[sign] != '.')) return {0, not_a_number};

  std::array<char, 64> plain{};
  if (rest.find(',') != std::string_view::npos) {
    // Commas part groups of three digits, the first group has one to three: "12,5" is not guessed to be 12.5.
    if (rest.size() > plain.size()) return {0, not_a_number};
    std::size_t used = 0;
    std::size_t group = 0;
    bool grouped = false;
    bool whole = true;
    for (const char c : rest) {
      if (c == ',' || (whole && c != '-' && !is_digit(c))) {
        if (!whole || (grouped ? group != 3 : group < 1 || group > 3))
          return {0, "has a comma that does not part groups of three digits"};
        if (c == ',') {
          grouped = true;
          group = 0;
          continue;
        }
        whole = false;
      }
      if (is_digit(c)) ++group;
      plain[used++] = c;
    }
    if (whole && group != 3) return {0, "has a comma that does not part groups of three digits"};
    rest = std::string_view(plain.data(), used);
  }
  double value = 0;
  const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), value);
  if (error == std::errc::result_out_of_range) return {0, "is too large or too small to be held as a number"};
  if (error != std::errc{} || end != rest.data() + rest.size()) return {0, not_a_number};
  return {value, {}};
}

}  // namespace warmledger::catalog
