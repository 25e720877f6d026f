// Assumptions: everything a run rests on, listed for the people who read its results.
#pragma once

#include <string>
#include <vector>

#include "warmledger/catalog/program.hpp"

namespace warmledger::catalog {

struct Assumption {
  std::string what;
  std::string value;
  std::string source;
};

/// The program's dates, rates, prices, packages, incentives, loans and thresholds, and the methods of the library, each
/// with where it is from.
[[nodiscard]] std::vector<Assumption> assumptions(const Program& program, const Catalog& catalog);

}  // namespace warmledger::catalog
