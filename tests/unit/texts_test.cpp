#include "warmledger/screening/texts.hpp"

#include <string>
#include <string_view>
#include <vector>

#include <doctest/doctest.h>

using warmledger::screening::TextStore;

TEST_SUITE("texts") {
  TEST_CASE("a text that comes often is kept once, in each column for itself") {
    TextStore store(2);
    std::vector<std::string_view> kept;
    for (int i = 0; i < 1000; ++i) kept.push_back(store.keep(0, std::string(i % 2 == 0 ? "owner" : "renter")));
    for (std::size_t i = 0; i < kept.size(); ++i) {
      CHECK(kept[i] == (i % 2 == 0 ? "owner" : "renter"));
      CHECK(kept[i].data() == kept[i % 2].data());
    }
    CHECK(store.keep(1, "owner") == "owner");
    CHECK(store.keep(1, "owner").data() != kept[0].data());
  }

  TEST_CASE("texts that never repeat are kept too, and stay where they are") {
    TextStore store(1);
    std::vector<std::string_view> kept;
    for (int i = 0; i < 20000; ++i) kept.push_back(store.keep(0, "household " + std::to_string(i)));
    for (int i = 0; i < 20000; ++i) CHECK(kept[static_cast<std::size_t>(i)] == "household " + std::to_string(i));
    // The column has shown that it does not repeat: an equal text is kept again, and is equal all the same.
    CHECK(store.keep(0, "household 7") == "household 7");
  }

  TEST_CASE("an empty text takes no room") {
    TextStore store(1);
    CHECK(store.keep(0, "").empty());
    CHECK(store.keep(0, std::string()).data() == nullptr);
  }
}
