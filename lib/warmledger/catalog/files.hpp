// Files: reading text files whole, and rules from TOML, shared by the readers of this room.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/incentives/rule.hpp"

namespace warmledger::catalog {

/// The whole file, without a byte-order mark. Throws FileUnreadable (missing, a folder, not readable, not UTF-8 with
/// the line and byte offset).
[[nodiscard]] std::string read_utf8(const std::filesystem::path& file);

/// The rules of a jurisdiction's file: [[incentive]] tables as in a program file, and nothing else. Throws like
/// parse_program.
[[nodiscard]] std::vector<incentives::Rule> parse_rules(std::string_view content, std::string_view name);

}  // namespace warmledger::catalog
