// TextStore: where the texts of result columns lie, each text that comes often only once.
#pragma once

#include <cstddef>
#include <memory_resource>
#include <string_view>
#include <unordered_set>
#include <vector>

namespace warmledger::screening {

/// Keeps texts as long as it lives. Most columns hold few texts over and over: those are kept once, and the views of
/// equal ones are the same. For one thread.
class TextStore {
 public:
  explicit TextStore(std::size_t columns) : known_(columns) {}

  /// The text as it is kept; `column` is where texts equal to it are looked for.
  [[nodiscard]] std::string_view keep(std::size_t column, std::string_view text);

 private:
  struct Known {
    std::unordered_set<std::string_view> texts;
    std::size_t asked = 0;
    std::size_t found = 0;
  };
  [[nodiscard]] std::string_view copied(std::string_view text);

  std::pmr::monotonic_buffer_resource memory_;
  std::vector<Known> known_;
};

}  // namespace warmledger::screening
