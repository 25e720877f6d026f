// Cases: many households under many programs, with what they share worked out once. What sweeps, goal seek and
// tornados rest on.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/catalog/household.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/screening/screening.hpp"

namespace warmledger::whatif {

/// A household under a program. The appraiser has to outlive the call.
struct Case {
  const appraisal::Appraiser* appraiser = nullptr;
  catalog::SheetRow row;
};

/// Columns as screening::result_columns(), one row a case, in their order; pools have money for every case.
struct Answers {
  std::vector<screening::Values> columns;
  std::vector<std::unique_ptr<screening::TextStore>> texts;  ///< what the columns look into
  std::vector<errors::Problem> problems;                     ///< in case order; `row` counts cases from 1
  std::size_t bad_rows = 0;
  std::size_t simulations = 0;  ///< distinct years of hot water worked out
  std::size_t irradiances = 0;  ///< distinct years of sun on a roof worked out
};

/// Appraises every case. Equal systems under equal weather are worked out once, whatever else differs. The answers are
/// those of Appraiser::appraise, the same for any `threads` (0: one for each core). `file` names the sheet in problems.
[[nodiscard]] Answers appraise_cases(std::span<const Case> cases, hotwater::Detail detail, unsigned threads,
                                     const std::string& file = {});

}  // namespace warmledger::whatif
