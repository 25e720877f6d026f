#include "warmledger/catalog/program_reader.hpp"

#include <array>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

void read_income(const Section& top, Program& program) {
  if (!top.has("income"))
    throw errors::MissingValue(
        {{top.file(), {}, {}, "income"}, "", "is missing", "a table [income] with area_median_income_usd and source"});
  const Section income(top.table("income"), "income", top.file(), {"tier"});
  program.income.area_median_income_usd = income.number_of("area_median_income_usd");
  program.income.round_to_usd = income.whole_of("round_to_usd");
  program.income.rounding =
      std::array{incentives::LimitRounding::nearest, incentives::LimitRounding::up}.at(income.choice_of("rounding"));
  program.income.source = income.text_of("source");
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
