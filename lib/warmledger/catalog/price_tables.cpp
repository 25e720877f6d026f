#include "warmledger/catalog/price_tables.hpp"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "warmledger/catalog/data_table.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

std::vector<EscalationEntry> read_escalation(const std::filesystem::path& file) {
  const DataTable table(file, {"region", "fuel", "year", "real_index", "source", "status"});
  std::vector<EscalationEntry> entries;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    const std::string& region = table.text(row, 0);
    const prices::Fuel fuel = table.named(row, 1, prices::fuel_named);
    const int year = table.whole(row, 2, 1970, 2200);
    const double index = table.number(row, 3, 0.01, 100);
    auto found = std::find_if(entries.begin(), entries.end(), [&](const EscalationEntry& entry) {
      return entry.fuel == fuel && entry.table.region == region;
    });
    if (found == entries.end()) {
      entries.push_back({fuel, {region, year, {}, table.source(row, 4, 5)}});
      found = std::prev(entries.end());
    }
    const int next = found->table.first_year + static_cast<int>(found->table.real_indices.size());
    if (year != next) {
      fail<errors::Contradiction>(table.file(), table.line(row), "year", fmt::format("{}", year),
                                  "does not follow the year before it in this region and fuel",
                                  fmt::format("{}", next));
    }
    found->table.real_indices.push_back(index);
  }
  return entries;
}

std::map<hotwater::Loop, std::vector<prices::Upkeep>> read_upkeep(const std::filesystem::path& file) {
  const DataTable table(file,
                        {"loop", "what", "usd", "first_year", "every_years", "replaces_part", "source", "status"});
  std::map<hotwater::Loop, std::vector<prices::Upkeep>> schedules;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    std::vector<prices::Upkeep>& schedule = schedules[table.named(row, 0, hotwater::loop_named)];
    prices::Upkeep item;
    item.what = table.text(row, 1);
    item.usd = table.number(row, 2, 0, 1e6);
    item.first_year = table.whole(row, 3, 1, 100);
    item.every_years = table.whole(row, 4, 1, 100);
    const std::string& replaces = table.text(row, 5);
    if (replaces != "yes" && replaces != "no")
      fail<errors::UnknownName>(table.file(), table.line(row), "replaces_part", shown(replaces), "is not known",
                                "yes, no");
    item.replaces_part = replaces == "yes";
    item.source = table.source(row, 6, 7);
    if (std::any_of(schedule.begin(), schedule.end(), [&](const auto& other) { return other.what == item.what; }))
      table.twice(row, 1, item.what);
    schedule.push_back(std::move(item));
  }
  return schedules;
}

}  // namespace warmledger::catalog
