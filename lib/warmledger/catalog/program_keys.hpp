// The keys of a program file: one table validates, gives defaults and documents. Inside this room only.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace warmledger::catalog {

/// What a key's value is.
enum class KeyType { text, number, whole, date, flag, list, numbers };

/// One key: the single source of validation, defaults and documentation.
struct Spec {
  std::string_view table;
  std::string_view name;
  KeyType type;
  double low, high;       ///< of numbers, both ends included; of dates: the years, or 0 and 0 for the usual ones
  std::string_view unit;  ///< of numbers, in words; of text and lists: the words allowed, or what they are
  std::string_view default_text;
  std::string_view meaning;
};

inline constexpr std::string_view required = "required";
inline constexpr std::string_view share = "(0.06 is 6 %)";
inline constexpr std::string_view date_allowed =
    "a date from 2000-01-01 to 2100-12-31, written without quotes: 2026-09-01";
inline constexpr int first_year = 2000;
inline constexpr int last_year = 2100;
inline constexpr std::size_t most_text = 2000;
inline constexpr std::size_t most_id = 100;

/// Stands for the top of a jurisdiction's file, which knows no key of a program file but [[incentive]].
inline constexpr std::string_view rules_file = "(rules)";

/// Every key, table by table, in the order of the documentation.
[[nodiscard]] std::span<const Spec> specs();
/// Throws std::logic_error for a key that is not in the table.
[[nodiscard]] const Spec& spec_named(std::string_view table, std::string_view name);
/// What a key's value may be, in words.
[[nodiscard]] std::string allowed_of(const Spec& spec);
/// "package.storage_gal": how a key is named in errors.
[[nodiscard]] std::string path_of(std::string_view table, std::string_view name);

}  // namespace warmledger::catalog
