#include "warmledger/screening/texts.hpp"

#include <algorithm>

namespace warmledger::screening {

namespace {

/// So many texts show whether those of a column repeat: identifiers and sentences with figures do not.
constexpr std::size_t trial_texts = 128;

}  // namespace

std::string_view TextStore::copied(std::string_view text) {
  auto* place = static_cast<char*>(memory_.allocate(text.size(), 1));
  std::copy(text.begin(), text.end(), place);
  return {place, text.size()};
}

std::string_view TextStore::keep(std::size_t column, std::string_view text) {
  if (text.empty()) return {};
  Known& known = known_[column];
  if (known.asked >= trial_texts && known.found * 4 < known.asked) return copied(text);
  ++known.asked;
  if (const auto found = known.texts.find(text); found != known.texts.end()) {
    ++known.found;
    return *found;
  }
  return *known.texts.insert(copied(text)).first;
}

}  // namespace warmledger::screening
