#include "warmledger/catalog/income_tables.hpp"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "warmledger/catalog/data_table.hpp"
#include "warmledger/dates/dates.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

incentives::PovertyTables read_poverty(const std::filesystem::path& file) {
  const DataTable table(
      file, {"valid_from", "region", "persons_1_usd", "persons_2_usd", "persons_3_usd", "persons_4_usd",
             "persons_5_usd", "persons_6_usd", "persons_7_usd", "persons_8_usd", "each_more_usd", "source", "status"});
  std::vector<incentives::PovertyGuideline> tables;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    incentives::PovertyGuideline one;
    one.valid_from = table.named(row, 0, [](std::string_view text) { return dates::parse_date(text); });
    one.region = table.named(row, 1, incentives::poverty_region_named);
    for (std::size_t i = 0; i < one.usd.size(); ++i) {
      one.usd.at(i) = table.number(row, 2 + i, 100, 1e6);
      if (i == 0 || one.usd.at(i) > one.usd.at(i - 1)) continue;
      fail<errors::Contradiction>(table.file(), table.line(row), fmt::format("persons_{}_usd", i + 1),
                                  table.cell(row, 2 + i), "does not rise above the guideline for one person fewer",
                                  "guidelines that rise with the household");
    }
    one.each_more_usd = table.number(row, 10, 10, 1e5);
    one.source = table.source(row, 11, 12);
    const bool twin = std::any_of(tables.begin(), tables.end(), [&](const auto& other) {
      return other.valid_from == one.valid_from && other.region == one.region;
    });
    if (twin)
      table.twice(row, 1, fmt::format("{} from {}", incentives::name_of(one.region), dates::iso(one.valid_from)));
    tables.push_back(std::move(one));
  }
  return incentives::PovertyTables(std::move(tables));
}

std::vector<incentives::TierLine> read_income_tiers(const std::filesystem::path& file) {
  const DataTable table(file, {"definition", "title", "tier", "measure", "least_share", "least_included", "most_share",
                               "most_included", "at_least_poverty", "source", "status"});
  std::vector<incentives::TierLine> lines;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    incentives::TierLine line;
    line.definition = table.text(row, 0);
    line.title = table.text(row, 1);
    line.tier = table.text(row, 2);
    line.measure = table.named(row, 3, incentives::income_measure_named);
    line.least_share = table.maybe_number(row, 4, 0.01, 10);
    line.least_included = table.yes(row, 5);
    line.most_share = table.maybe_number(row, 6, 0.01, 10);
    line.most_included = table.yes(row, 7);
    line.at_least_poverty = table.yes(row, 8);
    line.source = table.source(row, 9, 10);
    if (line.least_share && line.most_share && *line.most_share < *line.least_share) {
      fail<errors::Contradiction>(table.file(), table.line(row), "most_share", table.cell(row, 6),
                                  "is below least_share " + errors::plain_number(*line.least_share),
                                  "a share at or above least_share");
    }
    if (!line.least_share && !line.most_share) {
      fail<errors::MissingValue>(table.file(), table.line(row), "most_share", "", "and least_share are both empty",
                                 "one of the two or both");
    }
    for (const incentives::TierLine& other : lines) {
      if (other.definition != line.definition || other.title == line.title) continue;
      fail<errors::Contradiction>(table.file(), table.line(row), "title", shown(line.title),
                                  "differs from the title of this definition above", other.title);
    }
    lines.push_back(std::move(line));
  }
  return lines;
}

}  // namespace warmledger::catalog
