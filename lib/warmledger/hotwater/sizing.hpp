// Sizing: how many collectors and how large a tank bring a wanted share of a year's hot water.
#pragma once

#include <string>
#include <vector>

#include "warmledger/hotwater/simulation.hpp"

namespace warmledger::hotwater {

struct SizingRules {
  double target_fraction = 0.75;  ///< of the year's load, by heat; lowest to highest
  double lowest_fraction = 0.60;  ///< the band that is good practice (common practice)
  double highest_fraction = 0.80;
  int most_collectors = 6;  ///< 1 to 20
  /// Hours a year in which glycol may stand still above Plant::stagnation_c. A drain-back loop has no such limit: its
  /// collectors stand empty.
  double most_stagnation_hours = 40;
};
/// Throws ValueOutOfRange naming the member.
void check(const SizingRules& rules);

/// One size that was simulated.
struct SizedSystem {
  int collector_count = 0;
  double storage_l = 0;
  double fraction = 0;  ///< of the year's load, by heat
  double stagnation_hours = 0;
  bool overheats = false;  ///< above SizingRules::most_stagnation_hours, with glycol
};

struct Sizing {
  SizedSystem chosen;
  bool in_band = false;                     ///< chosen.fraction lies in the band
  std::string reason;                       ///< why this size, in a sentence
  std::vector<std::string> rules_of_thumb;  ///< each with "agrees" or "disagrees" and both numbers
  std::vector<SizedSystem> tried;           ///< by collectors, then tank
};

/// Simulates every count of collectors up to the most with the trade's tank sizes of 1.25 to 2.25 gallons a ft2, and
/// takes, of those that do not overheat, the fraction nearest to the target, in the band before outside it, and of
/// equals the smaller. When all overheat it takes the one with the fewest hours and says so. `base` gives everything
/// but collector_count and storage_l; `occupants` only serves the rules of thumb. Throws as simulate() does.
[[nodiscard]] Sizing recommend(const Case& base, const Weather& weather, int occupants, const SizingRules& rules = {});

}  // namespace warmledger::hotwater
