#include "warmledger/errors/errors.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numeric>
#include <vector>

#include <fmt/format.h>

namespace warmledger::errors {

std::string sentence(const Problem& problem) {
  std::string text;
  const auto add = [&text](const std::string& part) {
    if (part.empty()) return;
    if (!text.empty()) text += ", ";
    text += part;
  };
  add(problem.where.file);
  if (problem.where.line) add(fmt::format("line {}", *problem.where.line));
  if (problem.where.row) add(fmt::format("row {}", *problem.where.row));
  add(problem.where.key);
  if (!text.empty()) text += ": ";
  if (!problem.value.empty()) text += problem.value + " ";
  text += problem.what;
  if (!problem.allowed.empty()) text += "; allowed: " + problem.allowed;
  return text;
}

Error::Error(Problem problem) : std::runtime_error(sentence(problem)), problem_(std::move(problem)) {}

Problem Error::located(const std::string& file, std::optional<long> line) const {
  Problem copy = problem_;
  if (copy.where.file.empty()) copy.where.file = file;
  if (!copy.where.line) copy.where.line = line;
  return copy;
}

std::string plain_number(double value, int digits) {
  if (std::isnan(value)) return "NaN";
  if (std::isinf(value)) return value > 0 ? "infinity" : "-infinity";
  const double size = std::fabs(value);
  std::array<char, 128> text{};
  const auto [end, error] =
      std::to_chars(text.begin(), text.end(), value, std::chars_format::general, std::min(digits, 100));
  static_cast<void>(error);  // so many digits fit
  const std::string_view general(text.data(), static_cast<std::size_t>(end - text.data()));
  if (size >= 1 && size < 1e15 && general.find('e') != std::string_view::npos) return fmt::format("{:.0f}", value);
  return std::string(general);
}

void require_in_range(std::string_view key, double value, double low, double high, std::string_view unit) {
  if (value >= low && value <= high) return;
  throw ValueOutOfRange(
      {{"", {}, {}, std::string(key)},
       plain_number(value),
       "is out of range",
       fmt::format("{} to {}{}{}", plain_number(low), plain_number(high), unit.empty() ? "" : " ", unit)});
}

namespace {

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t above = row[j];
      row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (a[i - 1] == b[j - 1] ? 0U : 1U)});
      diagonal = above;
    }
  }
  return row[b.size()];
}

}  // namespace

std::string nearest_name(std::string_view name, std::span<const std::string> candidates) {
  std::string best;
  std::size_t least = std::max<std::size_t>(2, name.size() / 2) + 1;
  for (const std::string& candidate : candidates) {
    const std::size_t distance = edit_distance(name, candidate);
    if (distance < least) {
      least = distance;
      best = candidate;
    }
  }
  return best;
}

UnknownName unknown_name(std::string_view key, std::string_view value,
                         std::initializer_list<std::string_view> choices) {
  const std::vector<std::string> names(choices.begin(), choices.end());
  const std::string nearest = nearest_name(value, names);
  return UnknownName({{"", {}, {}, std::string(key)},
                      fmt::format("\"{}\"", value),
                      nearest.empty() ? "is not known" : fmt::format("is not known (did you mean {}?)", nearest),
                      fmt::format("{}", fmt::join(names, ", "))});
}

}  // namespace warmledger::errors
