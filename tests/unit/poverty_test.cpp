// Poverty guidelines and assistance programs: what we promise beside the published numbers.
#include <doctest/doctest.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/assistance.hpp"
#include "warmledger/incentives/poverty.hpp"

using namespace warmledger;
using namespace warmledger::incentives;

namespace {

PovertyGuideline guideline(int year, unsigned month, unsigned day, PovertyRegion region, double first, double step) {
  PovertyGuideline made{dates::make_date(year, month, day), region, {}, step, "a test"};
  for (std::size_t i = 0; i < 8; ++i) made.usd[i] = first + step * static_cast<double>(i);
  return made;
}

}  // namespace

TEST_CASE("a guideline for more than eight persons goes on by its step") {
  const PovertyGuideline one = guideline(2026, 1, 13, PovertyRegion::contiguous, 10000, 1000);
  CHECK(poverty_guideline_usd(one, 1) == 10000);
  CHECK(poverty_guideline_usd(one, 8) == 17000);
  CHECK(poverty_guideline_usd(one, 11) == 20000);
  CHECK(poverty_limit_usd(one, 1.38, 1) == 13800);  // binary fractions leave no crumbs
  CHECK(poverty_multiple(one, 15000, 1) == 1.5);
  CHECK_THROWS_AS((void)poverty_guideline_usd(one, 0), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)poverty_limit_usd(one, -1, 1), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)poverty_multiple(one, -1, 1), errors::ValueOutOfRange);
}

TEST_CASE("the latest guideline that holds on the day, never a later one") {
  const PovertyTables tables({guideline(2025, 1, 15, PovertyRegion::contiguous, 2, 1),
                              guideline(2024, 1, 11, PovertyRegion::contiguous, 1, 1),
                              guideline(2025, 1, 15, PovertyRegion::alaska, 3, 1)});
  const auto found = [&](int year, unsigned month, unsigned day, PovertyRegion region) {
    const PovertyGuideline* table = tables.find(dates::make_date(year, month, day), region);
    return table == nullptr ? 0.0 : table->usd.front();
  };
  using enum PovertyRegion;
  CHECK(found(2024, 1, 10, contiguous) == 0);
  CHECK(found(2024, 1, 11, contiguous) == 1);
  CHECK(found(2025, 1, 14, contiguous) == 1);
  CHECK(found(2025, 1, 15, contiguous) == 2);
  CHECK(found(2030, 1, 1, contiguous) == 2);
  CHECK(found(2025, 1, 15, alaska) == 3);
  CHECK(found(2025, 1, 15, hawaii) == 0);
  CHECK_THROWS_AS(PovertyTables({guideline(2025, 1, 15, hawaii, 0, 1)}), errors::ValueOutOfRange);
}

TEST_CASE("regions: 50 states and the District of Columbia, no territory") {
  CHECK(poverty_region_of("AK") == PovertyRegion::alaska);
  CHECK(poverty_region_of("HI") == PovertyRegion::hawaii);
  CHECK(poverty_region_of("DC") == PovertyRegion::contiguous);
  int states = 0;
  for (char a = 'A'; a <= 'Z'; ++a) {
    for (char b = 'A'; b <= 'Z'; ++b) states += poverty_region_of(std::string{a, b}).has_value() ? 1 : 0;
  }
  CHECK(states == 51);
  for (const char* none : {"PR", "GU", "VI", "AS", "MP", "", "ak", "XX"}) CHECK_FALSE(poverty_region_of(none));
  for (const PovertyRegion region : {PovertyRegion::contiguous, PovertyRegion::alaska, PovertyRegion::hawaii})
    CHECK(poverty_region_named(name_of(region)) == region);
  CHECK_THROWS_AS((void)poverty_region_named("Alaska"), errors::UnknownName);
}

TEST_CASE("assistance: words of a cell, each once") {
  CHECK(assistance_from("").none());
  CHECK(assistance_from("  ").none());
  const AssistanceSet two = assistance_from(" heating;food ");
  CHECK(two.count() == 2);
  CHECK(words_of(two) == "food; heating");
  AssistanceSet all;
  for (const Assistance one : all_assistance) {
    CHECK(assistance_named(name_of(one)) == one);
    CHECK(assistance_words().find(name_of(one)) != std::string_view::npos);
    all.set(static_cast<std::size_t>(one));
  }
  CHECK(all.all());
  CHECK(assistance_from(words_of(all)) == all);
  CHECK_THROWS_AS((void)assistance_from("food; food"), errors::DuplicateName);
  CHECK_THROWS_AS((void)assistance_from("food;"), errors::UnknownName);
  CHECK_THROWS_AS((void)assistance_from("food, heating"), errors::UnknownName);
  try {
    (void)assistance_from("heeting");
    FAIL("accepted");
  } catch (const errors::UnknownName& error) {
    CHECK(error.problem().what == "is not known (did you mean heating?)");
  }
}
