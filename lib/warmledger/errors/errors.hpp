// Errors: one exception type for each cause, each saying what was wrong, where, and what is allowed.
//
// A caller's mistake or an unreadable file throws one of the types below. A bad row in a household sheet does not
// throw out of the sheet: its Problem is collected and stays with the row (see catalog/household.hpp).
#pragma once

#include <initializer_list>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>

namespace warmledger::errors {

/// Where a wrong value stands. Parts that are empty are unknown and are left out of the sentence.
struct Where {
  std::string file;          ///< file path as the user gave it
  std::optional<long> line;  ///< line of a text file, from 1
  std::optional<long> row;   ///< data row of a sheet, from 1 (the header is not counted)
  std::string key;           ///< column of a sheet, key of a program file, or argument of a function
};

/// One thing that is wrong: where, the value found, what is wrong with it, and what is allowed.
struct Problem {
  Where where;
  std::string value;    ///< the value as found; empty when there is none to show
  std::string what;     ///< what is wrong, for example "is below the least allowed value"
  std::string allowed;  ///< what is allowed, for example "1 to 20 persons"
};

/// The whole problem as one sentence, for example
/// "county.csv, row 12, occupants: -2 is out of range; allowed: 1 to 20 persons".
[[nodiscard]] std::string sentence(const Problem& problem);

/// Base of everything this library throws on purpose.
class Error : public std::runtime_error {
 public:
  explicit Error(Problem problem);
  [[nodiscard]] const Problem& problem() const noexcept { return problem_; }
  /// The same error with a file (and line) filled in where they were unknown.
  [[nodiscard]] Problem located(const std::string& file, std::optional<long> line = std::nullopt) const;

 private:
  Problem problem_;
};

class ValueOutOfRange : public Error {
  using Error::Error;
};  ///< a number outside its allowed range, NaN or infinite
class MissingValue : public Error {
  using Error::Error;
};  ///< something required is not there
class MalformedText : public Error {
  using Error::Error;
};  ///< text that is not the number, date or format expected
class UnknownName : public Error {
  using Error::Error;
};  ///< a key, fuel, place or choice that does not exist
class DuplicateName : public Error {
  using Error::Error;
};  ///< a name that must be unique stands twice
class Contradiction : public Error {
  using Error::Error;
};  ///< values that are allowed alone but not together
class FileUnreadable : public Error {
  using Error::Error;
};  ///< a file that cannot be opened, read or decoded
class NotAvailable : public Error {
  using Error::Error;
};  ///< something this version does not do

/// Throws ValueOutOfRange unless low <= value <= high (so NaN and infinities are refused). `unit` ends the sentence.
void require_in_range(std::string_view key, double value, double low, double high, std::string_view unit = {});

/// A number as a person writes it: up to `digits` significant digits, no exponent from 0.0001 to 1e15.
[[nodiscard]] std::string plain_number(double value, int digits = 10);

/// The candidate nearest to `name` by edit distance, or empty if none is near enough to be a likely slip.
[[nodiscard]] std::string nearest_name(std::string_view name, std::span<const std::string> candidates);

/// UnknownName for a choice: the sentence lists the choices and, if one is near, asks "did you mean ...".
[[nodiscard]] UnknownName unknown_name(std::string_view key, std::string_view value,
                                       std::initializer_list<std::string_view> choices);

}  // namespace warmledger::errors
