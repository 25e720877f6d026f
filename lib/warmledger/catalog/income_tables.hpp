// Income tables of data/: poverty guidelines and the definitions of income tiers. Inside this room only.
#pragma once

#include <filesystem>
#include <vector>

#include "warmledger/incentives/income_tiers.hpp"
#include "warmledger/incentives/poverty.hpp"

namespace warmledger::catalog {

/// data/poverty.csv. Throws the error of the first wrong cell with file, line and column: a guideline that does not
/// rise with the household, a table that stands twice.
[[nodiscard]] incentives::PovertyTables read_poverty(const std::filesystem::path& file);

/// data/income_tiers.csv, in its order. Throws the same: a line whose ends cross, two titles for one definition, a
/// measure that is not known.
[[nodiscard]] std::vector<incentives::TierLine> read_income_tiers(const std::filesystem::path& file);

}  // namespace warmledger::catalog
