#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "support/synthetic_weather.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/hotwater/sizing.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using namespace warmledger::hotwater;

namespace {

Case family(double people) {
  Case one;
  one.demand = {people * 20 * units::litre_per_gallon, 50};
  one.existing = heater_from_rating(HeaterKind::storage, prices::Fuel::electricity, 0.92, 0.98, 4500);
  return one;
}

}  // namespace

TEST_CASE("the chosen size is the one nearest to the target among those tried") {
  const support::WeatherYear sky = support::invented_year();
  const Sizing sizing = recommend(family(4), sky.view(), 4);
  REQUIRE(sizing.tried.size() > 6);
  CHECK(sizing.in_band);
  for (const SizedSystem& size : sizing.tried) {
    CHECK(std::fabs(sizing.chosen.fraction - 0.75) <= std::fabs(size.fraction - 0.75));
  }
  CHECK(sizing.rules_of_thumb.size() == 3);
  CHECK(sizing.rules_of_thumb[2].rfind("Agrees with the rule of hot water by people: 20 gallons", 0) == 0);
}

TEST_CASE("more people need more, and a higher target too") {
  const support::WeatherYear sky = support::invented_year();
  CHECK(recommend(family(6), sky.view(), 6).chosen.collector_count >
        recommend(family(2), sky.view(), 2).chosen.collector_count);
  SizingRules modest;
  modest.target_fraction = 0.60;
  CHECK(recommend(family(4), sky.view(), 4, modest).chosen.fraction <
        recommend(family(4), sky.view(), 4).chosen.fraction);
}

TEST_CASE("glycol that overheats is passed over; when every size does, the least is taken and it says so") {
  const support::WeatherYear sky = support::invented_year(1, 14, 1100);
  Case one = family(2);
  one.system.loop = Loop::pressurized_glycol;
  const Sizing sizing = recommend(one, sky.view(), 2);
  const bool some_overheat =
      std::any_of(sizing.tried.begin(), sizing.tried.end(), [](const SizedSystem& s) { return s.overheats; });
  CHECK(some_overheat);
  CHECK_FALSE(sizing.chosen.overheats);
  one.demand.litre_day = 10;
  SizingRules strict;
  strict.most_stagnation_hours = 0;
  const Sizing hopeless = recommend(one, sky.view(), 2, strict);
  CHECK(std::all_of(hopeless.tried.begin(), hopeless.tried.end(), [](const SizedSystem& s) { return s.overheats; }));
  CHECK(hopeless.reason.find("every size overheats the glycol") != std::string::npos);
  for (const SizedSystem& size : hopeless.tried) CHECK(hopeless.chosen.stagnation_hours <= size.stagnation_hours);
  one.system.loop = Loop::drain_back;
  const Sizing drained = recommend(one, sky.view(), 2, strict);
  CHECK(std::none_of(drained.tried.begin(), drained.tried.end(), [](const SizedSystem& s) { return s.overheats; }));
}

TEST_CASE("little sun: no size reaches the band, and it says so") {
  const support::WeatherYear dark = support::invented_year(1, 5, 350);
  SizingRules one_only;
  one_only.most_collectors = 1;
  const Sizing sizing = recommend(family(6), dark.view(), 6, one_only);
  CHECK_FALSE(sizing.in_band);
  CHECK(sizing.reason.find("no size tried lies within 60 to 80 %") != std::string::npos);
  CHECK(sizing.rules_of_thumb[0].rfind("Disagrees", 0) == 0);
}

TEST_CASE("rules out of range are refused by name") {
  const support::WeatherYear sky = support::invented_year();
  SizingRules rules;
  rules.target_fraction = 0.9;
  CHECK_THROWS_WITH_AS((void)recommend(family(4), sky.view(), 4, rules),
                       "target_fraction: 0.9 is out of range; allowed: 0.6 to 0.8", errors::ValueOutOfRange);
  rules = {};
  rules.most_collectors = 0;
  CHECK_THROWS_AS((void)recommend(family(4), sky.view(), 4, rules), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)recommend(family(4), sky.view(), 0), errors::ValueOutOfRange);
}
