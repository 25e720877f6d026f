#include "warmledger/incentives/assistance.hpp"

#include <vector>

#include "warmledger/errors/errors.hpp"

namespace warmledger::incentives {

namespace {

/// In the order of the enumeration.
constexpr std::array<std::string_view, assistance_count> names{"food",     "heating",      "weatherization",
                                                               "medicaid", "cash",         "supplemental_security",
                                                               "housing",  "school_meals", "women_infants_children"};
constexpr std::string_view all_words =
    "food, heating, weatherization, medicaid, cash, supplemental_security, housing, school_meals, "
    "women_infants_children";

std::string_view without_blanks(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

}  // namespace

std::string_view name_of(Assistance assistance) {
  return names.at(static_cast<std::size_t>(assistance));
}

Assistance assistance_named(std::string_view name) {
  for (const Assistance one : all_assistance) {
    if (name_of(one) == name) return one;
  }
  const std::vector<std::string> known(names.begin(), names.end());
  const std::string nearest = errors::nearest_name(name.substr(0, 100), known);
  throw errors::UnknownName({{"", {}, {}, "assistance"},
                             std::string(name),
                             nearest.empty() ? "is not known" : "is not known (did you mean " + nearest + "?)",
                             std::string(all_words) + "; parted by semicolons"});
}

std::string_view assistance_words() {
  return all_words;
}

AssistanceSet assistance_from(std::string_view words) {
  AssistanceSet set;
  if (without_blanks(words).empty()) return set;
  for (;;) {
    const std::size_t end = words.find(';');
    const auto slot = static_cast<std::size_t>(assistance_named(without_blanks(words.substr(0, end))));
    if (set[slot]) {
      throw errors::DuplicateName(
          {{"", {}, {}, "assistance"}, std::string(names.at(slot)), "stands twice", "each once"});
    }
    set.set(slot);
    if (end == std::string_view::npos) return set;
    words.remove_prefix(end + 1);
  }
}

std::string words_of(const AssistanceSet& set) {
  std::string text;
  for (const Assistance one : all_assistance) {
    if (!set[static_cast<std::size_t>(one)]) continue;
    text += (text.empty() ? "" : "; ") + std::string(name_of(one));
  }
  return text;
}

}  // namespace warmledger::incentives
