// Text: checks on text that comes from outside, shared by the readers of this room.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace warmledger::catalog {

/// Offset of the first byte that does not belong to well-formed UTF-8 (RFC 3629: no overlong forms, no surrogates,
/// nothing above U+10FFFF); empty if all of it is well formed.
[[nodiscard]] std::optional<std::size_t> first_bad_utf8(std::string_view text);

/// Whether a control character stands in it: U+0000 to U+001F, U+007F to U+009F. The text is well-formed UTF-8.
[[nodiscard]] bool has_control_character(std::string_view text);

/// Whether nothing but blanks stands in it (ASCII blanks, no-break space, the spaces of U+2000 to U+200B, U+3000, and
/// the byte-order mark U+FEFF).
[[nodiscard]] bool is_blank(std::string_view text);

/// Without the ASCII blanks (space, tab, carriage return, line feed) at both ends.
[[nodiscard]] std::string_view trimmed(std::string_view text);

/// Characters (code points) of well-formed UTF-8.
[[nodiscard]] std::size_t character_count(std::string_view text);

/// The text as it can stand in a one-line sentence: control characters and bytes that are no UTF-8 as \xNN, cut after
/// 60 characters.
[[nodiscard]] std::string shown(std::string_view text);

/// Why a text is no number, or the number. What is taken: digits with an optional minus sign, decimal point and
/// exponent; a leading $; commas between groups of three digits; ASCII blanks around it. Nothing else is guessed.
struct NumberText {
  double value = 0;
  std::string_view what;  ///< empty if `value` holds the number; else what is wrong, for example "is not a number"
};
[[nodiscard]] NumberText number_from(std::string_view text);

}  // namespace warmledger::catalog
