#include "warmledger/catalog/program_reader.hpp"

#include <array>
#include <optional>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

namespace {

/// The guideline that holds for the program; empty where none does: a territory, or a date before the first one.
std::optional<incentives::PovertyGuideline> poverty_of(const Section& income, const Catalog& catalog,
                                                       const Program& program) {
  std::optional<incentives::PovertyRegion> region =
      program.state.empty() ? incentives::PovertyRegion::contiguous : incentives::poverty_region_of(program.state);
  if (income.has("poverty_region")) {
    region = std::array{incentives::PovertyRegion::contiguous, incentives::PovertyRegion::alaska,
                        incentives::PovertyRegion::hawaii}
                 .at(income.choice_of("poverty_region"));
  }
  if (!region) return std::nullopt;
  const incentives::PovertyGuideline* found = catalog.poverty.find(program.install_date, *region);
  return found == nullptr ? std::nullopt : std::optional(*found);
}

}  // namespace

void read_income(const Section& top, const Catalog& catalog, Program& program) {
  if (!top.has("income"))
    throw errors::MissingValue(
        {{top.file(), {}, {}, "income"}, "", "is missing", "a table [income] with area_median_income_usd and source"});
  const Section income(top.table("income"), "income", top.file(), {"tier"});
  program.income.area_median_income_usd = income.number_of("area_median_income_usd");
  program.income.round_to_usd = income.whole_of("round_to_usd");
  program.income.rounding =
      std::array{incentives::LimitRounding::nearest, incentives::LimitRounding::up}.at(income.choice_of("rounding"));
  program.income.source = income.text_of("source");
  program.income.state_median_income_usd = income.maybe_number("state_median_income_usd");
  program.income.poverty = poverty_of(income, catalog, program);
  for (const toml::table* table : income.tables("tier")) {
    const Section section(table, "[[income.tier]]", top.file(), {}, income.line());
    incentives::IncomeTier tier{section.text_of("name"), section.number_of("most_share"),
                                section.flag_of("includes_edge")};
    refuse_twin(section, "name", program.income.tiers, tier.name, [](const auto& other) { return other.name; });
    if (!program.income.tiers.empty() && tier.most_share <= program.income.tiers.back().most_share) {
      section.fail<errors::Contradiction>("most_share", errors::plain_number(tier.most_share),
                                          fmt::format("does not rise above {} of the tier before it",
                                                      errors::plain_number(program.income.tiers.back().most_share)),
                                          "shares that rise from tier to tier");
    }
    program.income.tiers.push_back(std::move(tier));
  }
}

}  // namespace warmledger::catalog
