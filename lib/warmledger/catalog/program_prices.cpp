#include "warmledger/catalog/program_reader.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

namespace {

/// A list of months 1 to 12 as a season; every month if absent.
prices::Months read_months(const Section& section) {
  const std::vector<double> numbers = section.numbers_of("months");
  if (numbers.empty()) return prices::every_month;
  prices::Months months{};
  for (const double number : numbers) {
    if (number != std::floor(number))
      section.fail<errors::MalformedText>("months", errors::plain_number(number), "is not a whole number",
                                          "whole numbers from 1 (January) to 12");
    bool& month = months.at(static_cast<std::size_t>(number) - 1);
    if (month)
      section.fail<errors::DuplicateName>("months", errors::plain_number(number), "stands twice in the list",
                                          "each month once");
    month = true;
  }
  return months;
}

void read_tariffs(const Section& top, Program& program) {
  for (const toml::table* table : top.tables("tariff")) {
    const Section section(table, "[[tariff]]", top.file(), {"rate", "block"});
    const prices::Fuel fuel = prices::all_fuels.at(section.choice_of("fuel"));
    auto& slot = program.tariffs.at(static_cast<std::size_t>(fuel));
    if (slot != nullptr)
      section.fail<errors::DuplicateName>("fuel", std::string(prices::name_of(fuel)), "has a tariff already",
                                          "one tariff a fuel");
    prices::Tariff tariff;
    tariff.title = section.text_of("title");
    tariff.source = section.text_of("source");
    tariff.fixed_usd_month = section.number_of("fixed_usd_month");
    for (const toml::table* part : section.tables("rate")) {
      const Section rate(part, "[[tariff.rate]]", top.file(), {}, section.line());
      tariff.rates.push_back(
          {rate.text_of("name"), rate.number_of("usd_per_unit"), read_months(rate),
           std::array{prices::Days::all, prices::Days::weekdays, prices::Days::weekends}.at(rate.choice_of("days")),
           rate.whole_of("from_hour"), rate.whole_of("to_hour")});
    }
    for (const toml::table* part : section.tables("block")) {
      const Section block(part, "[[tariff.block]]", top.file(), {}, section.line());
      tariff.blocks.push_back(
          {block.maybe_number("up_to_units_month"), block.number_of("usd_per_unit"), read_months(block)});
    }
    const std::optional<double> other = section.maybe_number("other_units_month");
    if (!tariff.blocks.empty() && !other)
      section.fail<errors::MissingValue>("other_units_month", "", "is missing beside blocks",
                                         "what a home uses besides its hot water, units a month");
    tariff.other_units_month = other.value_or(0);
    slot = located(top.file(), section.line(), [&] { return prices::table_of(tariff); });
  }
}

prices::Escalation read_escalation(const Section& section, prices::Fuel fuel, const Catalog& catalog,
                                   const Program& program) {
  const double inflation = program.inflation_rate;
  const std::string_view key =
      section.only_one({"nominal_escalation", "real_escalation", "nominal_escalation_by_year",
                        "real_escalation_by_year", "real_price_index_by_year", "escalation_region"},
                       false);
  if (key.empty()) return {inflation};
  if (key == "nominal_escalation") return {section.number_of(key)};
  if (key == "real_escalation") return {nominal_from_real(section.number_of(key), inflation)};
  if (key == "escalation_region") {
    const std::string region = section.text_of(key);
    std::vector<std::string> regions;
    for (const EscalationEntry& entry : catalog.escalation) {
      if (entry.fuel != fuel) continue;
      if (entry.table.region == region)
        return prices::escalation_from(entry.table, dates::year_of(program.install_date), inflation);
      regions.push_back(entry.table.region);
    }
    const std::string nearest = errors::nearest_name(region, regions);
    section.fail<errors::UnknownName>(
        key, fmt::format("\"{}\"", shown(region)),
        nearest.empty() ? "has no price indices of this fuel" : fmt::format("is not known (did you mean {}?)", nearest),
        regions.empty() ? "a region that data/escalation.csv has for this fuel; it has none"
                        : fmt::format("{}", fmt::join(regions, ", ")));
  }
  std::vector<double> given = section.numbers_of(key);
  std::vector<double> indices;
  if (key == "real_price_index_by_year") {
    indices = prices::nominal_indices(given, inflation);
  } else {
    if (key == "real_escalation_by_year") {
      for (double& rise : given) rise = nominal_from_real(rise, inflation);
    }
    indices = prices::indices_from_rises(given);
  }
  return {inflation, std::make_shared<const std::vector<double>>(std::move(indices))};
}

}  // namespace

void read_prices(const Section& top, const Catalog& catalog, Program& program) {
  static constexpr std::array<std::string_view, prices::fuel_count> price_tables{
      "prices.electricity", "prices.natural_gas", "prices.propane", "prices.heating_oil"};
  const Section prices_section(top.table("prices"), "prices", top.file(),
                               {"electricity", "natural_gas", "propane", "heating_oil"});
  read_tariffs(top, program);
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const Section section(prices_section.table(prices::name_of(fuel)), price_tables.at(slot), top.file());
    if (const auto usd = section.maybe_number("usd_per_unit")) {
      if (program.tariffs.at(slot) != nullptr)
        section.fail<errors::Contradiction>("usd_per_unit", errors::plain_number(*usd),
                                            "stands beside a [[tariff]] of this fuel", "one of the two");
      program.prices[slot] = prices::Price{*usd, section.text_of("source")};
      if (program.prices[slot]->source.empty())
        section.fail<errors::MissingValue>("source", "", "is missing", "where the price is from");
    } else if (section.has("source")) {
      section.fail<errors::Contradiction>("source", "", "is given without usd_per_unit", "both or neither");
    }
    program.escalation[slot] = read_escalation(section, fuel, catalog, program);
    located(top.file(), section.line(), [&] { prices::check(program.escalation[slot]); });
  }

  static constexpr std::array<std::string_view, prices::fuel_count> as_if_keys{
      "electricity_usd_per_kwh", "natural_gas_usd_per_therm", "propane_usd_per_gal", "heating_oil_usd_per_gal"};
  const Section as_if(top.table("as_if_prices"), "as_if_prices", top.file());
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    program.as_if_prices.at(slot) = as_if.maybe_number(as_if_keys.at(slot));
    if (!program.as_if_prices.at(slot)) continue;
    program.as_if.push_back(fmt::format("price of {}: {}: ${} a {}", prices::name_of(fuel), prices::not_the_price,
                                        errors::plain_number(*program.as_if_prices.at(slot), 6),
                                        prices::unit_of(fuel)));
    if (!program.note.empty()) program.note += ' ';
    program.note += fmt::format("What is {}.", program.as_if.back());
  }

  const Section own_bills(top.table("own_bills"), "own_bills", top.file());
  program.least_own_bill_scale = own_bills.number_of("least_scale");
  program.most_own_bill_scale = own_bills.number_of("most_scale");
}

}  // namespace warmledger::catalog
