// Upkeep: what a system or heater costs to keep going, and when.
#pragma once

#include <string>

namespace warmledger::prices {

/// A cost that comes back: at the end of `first_year`, then every `every_years`, in dollars of the install date. It
/// rises with general inflation.
struct Upkeep {
  std::string what;            ///< "antifreeze test and top-up", "pump replaced", ...
  double usd = 0;              ///< each time, zero or more
  int first_year = 1;          ///< 1 is the end of the first year
  int every_years = 1;         ///< 1 or more; a value past the study means once
  bool replaces_part = false;  ///< a part is replaced (pump, tank): counted with the investment, not with yearly upkeep
  std::string source = {};     ///< where the figure is from; empty: the program file
};

}  // namespace warmledger::prices
