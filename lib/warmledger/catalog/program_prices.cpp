#include "warmledger/catalog/program_reader.hpp"

#include <array>

#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

void read_prices(const Section& top, Program& program) {
  static constexpr std::array<std::string_view, prices::fuel_count> price_tables{
      "prices.electricity", "prices.natural_gas", "prices.propane", "prices.heating_oil"};
  const Section prices_section(top.table("prices"), "prices", top.file(),
                               {"electricity", "natural_gas", "propane", "heating_oil"});
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const Section section(prices_section.table(prices::name_of(fuel)), price_tables.at(slot), top.file());
    if (const auto usd = section.maybe_number("usd_per_unit")) {
      program.prices[slot] = prices::Price{*usd, section.text_of("source")};
      if (program.prices[slot]->source.empty())
        section.fail<errors::MissingValue>("source", "", "is missing", "where the price is from");
    } else if (section.has("source")) {
      section.fail<errors::Contradiction>("source", "", "is given without usd_per_unit", "both or neither");
    }
    const std::string_view escalation = section.only_one({"nominal_escalation", "real_escalation"}, false);
    const double yearly = escalation.empty() ? 0 : section.number_of(escalation);
    program.escalation[slot].yearly_rate =
        escalation == "nominal_escalation" ? yearly : nominal_from_real(yearly, program.inflation_rate);
  }
}

}  // namespace warmledger::catalog
