// Price tables of data/: real price indices by region, and what systems cost to keep going. Inside this room only.
#pragma once

#include <filesystem>
#include <map>
#include <vector>

#include "warmledger/catalog/catalog.hpp"

namespace warmledger::catalog {

/// data/escalation.csv: one row a region, fuel and year; years of a region and fuel follow each other without a gap.
/// Throws the error of the first wrong cell with file, line and column.
[[nodiscard]] std::vector<EscalationEntry> read_escalation(const std::filesystem::path& file);

/// data/upkeep.csv: one row a loop and item. Throws the same.
[[nodiscard]] std::map<hotwater::Loop, std::vector<prices::Upkeep>> read_upkeep(const std::filesystem::path& file);

}  // namespace warmledger::catalog
