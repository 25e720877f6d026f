#include "warmledger/catalog/assumptions.hpp"

#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::catalog {

namespace {

std::string percent(double share) {
  return fmt::format("{} %", errors::plain_number(std::round(share * 1e6) / 1e4));
}

std::string amount_of(const incentives::Rule& rule) {
  std::string text;
  switch (rule.basis) {
    case incentives::Basis::flat_usd:
      text = money::dollars(rule.amount);
      break;
    case incentives::Basis::share_of_cost:
      text = percent(rule.amount) + " of the cost";
      break;
    case incentives::Basis::usd_per_m2:
      text = money::dollars(rule.amount * units::m2_per_ft2) + " a ft2 of collector";
      break;
    case incentives::Basis::usd_per_first_year_kwh:
      text = money::dollars(rule.amount) + " a kWh saved in the first year";
      break;
    case incentives::Basis::usd_per_first_year_therm:
      text = money::dollars(rule.amount) + " a therm saved in the first year";
      break;
    case incentives::Basis::share_of_tax:
      text = percent(rule.amount) + " of the tax";
      break;
    case incentives::Basis::rate:
      text = "the loan at " + percent(rule.amount) + " a year";
      break;
  }
  if (rule.cap_usd) text += ", at most " + money::dollars(*rule.cap_usd);
  if (rule.valid_from) text += ", from " + dates::iso(*rule.valid_from);
  if (rule.valid_to) text += ", to " + dates::iso(*rule.valid_to);
  return text;
}

}  // namespace

std::vector<Assumption> assumptions(const Program& program, const Catalog& catalog) {
  std::vector<Assumption> list;
  const std::string file = "program file";
  const auto add = [&list](std::string what, std::string value, std::string source) {
    list.push_back({std::move(what), std::move(value), std::move(source)});
  };
  add("Program", program.title, program.note.empty() ? file : program.note);
  add("Install date", dates::iso(program.install_date), file);
  add("Study period", fmt::format("{} years", program.study_years), file);
  add("Discount rate, nominal", percent(program.nominal_discount_rate), file);
  add("Inflation rate", percent(program.inflation_rate), file);
  for (const prices::Fuel fuel : prices::all_fuels) {
    const auto slot = static_cast<std::size_t>(fuel);
    const std::string name(prices::name_of(fuel));
    const PriceEntry* entry = catalog.price(program.state, fuel);
    if (program.as_if_prices[slot]) {
      add("Price of " + name,
          fmt::format("${} a {}", errors::plain_number(*program.as_if_prices[slot], 6), prices::unit_of(fuel)),
          std::string(prices::not_the_price));
    } else if (program.tariffs[slot] != nullptr) {
      const prices::Tariff& tariff = program.tariffs[slot]->tariff;
      add("Price of " + name,
          fmt::format("tariff {}: {} rates, {} blocks, {} a month fixed", tariff.title, tariff.rates.size(),
                      tariff.blocks.size(), money::dollars(tariff.fixed_usd_month)),
          tariff.source);
    } else if (program.prices[slot]) {
      add("Price of " + name,
          fmt::format("${} a {}", errors::plain_number(program.prices[slot]->usd_per_unit, 6), prices::unit_of(fuel)),
          program.prices[slot]->source);
    } else if (entry != nullptr) {
      add("Price of " + name,
          fmt::format("${} a {} ({}, {})", errors::plain_number(entry->price.usd_per_unit, 6), prices::unit_of(fuel),
                      entry->state, entry->period),
          entry->price.source);
    }
    add("Price rise of " + name + ", nominal",
        program.escalation[slot].by_year != nullptr
            ? prices::in_words(program.escalation[slot])
            : percent(program.escalation[slot].yearly_rate) + " a year from year 2",
        file);
    add("Heat content of " + name,
        fmt::format("{} kWh a {}", errors::plain_number(catalog.fuels[slot].kwh_per_unit, 6), prices::unit_of(fuel)),
        catalog.fuels[slot].source);
    add("Carbon dioxide of " + name,
        fmt::format("{} kg a {}", errors::plain_number(catalog.fuels[slot].co2_kg_per_unit, 5), prices::unit_of(fuel)),
        catalog.fuels[slot].source);
  }
  add("Area median income, four persons", money::dollars(program.income.area_median_income_usd), program.income.source);
  if (program.income.state_median_income_usd)
    add("State median income, four persons", money::dollars(*program.income.state_median_income_usd), file);
  if (const auto& poverty = program.income.poverty) {
    add("Poverty guideline, four persons",
        fmt::format("{} ({}, from {})", money::dollars(poverty->usd[3]), incentives::name_of(poverty->region),
                    dates::iso(poverty->valid_from)),
        poverty->source);
  }
  for (const auto& tier : program.income.tiers)
    add("Income tier " + tier.name, fmt::format("up to {} of area median income", percent(tier.most_share)), file);
  for (const Package& package : program.packages) {
    add("Package " + package.id,
        fmt::format("{}: {} collectors, {:.0f} ft2, {:.0f} gal, {}; {} material and {} labor; {} years", package.title,
                    package.system.collector_count, package.system.area_m2() / units::m2_per_ft2,
                    package.system.storage_l / units::litre_per_gallon, hotwater::name_of(package.system.loop),
                    money::dollars(package.material_usd), money::dollars(package.labor_usd), package.life_years),
        file);
    for (const prices::Upkeep& item : package.upkeep) {
      add("Package " + package.id + ", " + item.what,
          fmt::format("{} after {} years, then every {}", money::dollars(item.usd), item.first_year, item.every_years),
          file);
    }
  }
  for (const incentives::Rule& rule : program.rules)
    add("Incentive " + rule.id,
        fmt::format("{}: {}{}", rule.title, amount_of(rule), rule.as_if.empty() ? "" : "; " + rule.as_if),
        fmt::format("{} ({})", rule.citation, incentives::name_of(rule.standing)));
  for (const loans::LoanTerms& loan : program.loans) {
    add("Loan " + loan.id,
        fmt::format("{}: {} nominal, {} months, up to {}", loan.title, percent(loan.yearly_rate), loan.term_months,
                    money::whole_dollars(loan.largest_usd)),
        file);
  }
  const DecisionRules& d = program.decision;
  if (d.longest_simple_payback_years)
    add("Threshold, simple payback",
        fmt::format("{} years or less", errors::plain_number(*d.longest_simple_payback_years)), file);
  if (d.longest_discounted_payback_years)
    add("Threshold, discounted payback",
        fmt::format("{} years or less", errors::plain_number(*d.longest_discounted_payback_years)), file);
  if (d.least_net_savings_usd)
    add("Threshold, net savings", fmt::format("{} or more", money::dollars(*d.least_net_savings_usd)), file);
  if (d.least_savings_to_investment)
    add("Threshold, savings-to-investment ratio",
        fmt::format("{} or more", errors::plain_number(*d.least_savings_to_investment)), file);
  add("Most extra help at install", money::dollars(d.largest_extra_help_usd), file);
  add("Existing heater, life and replacement",
      fmt::format("{} years, {}", errors::plain_number(program.heater_life_years),
                  money::dollars(program.heater_replacement_usd)),
      file);
  add("Weather", "monthly means of the nearest station",
      "TMY3 typical years (NREL for the US Department of Energy, 1991-2005 update); means computed by this project; no "
      "endorsement");
  add("Tilted irradiation", "monthly mean, isotropic sky, any azimuth",
      "Liu & Jordan 1962; Klein 1977; Erbs, Klein & Duffie 1982");
  add("Solar heat", "monthly X-Y correlation for liquid systems",
      "Klein, Beckman & Duffie 1976; EN 15316-4-3 method B");
  add("Cold water temperature", "by day of the year from air temperature", "Burch & Christensen 2007");
  add("Heater energy", "daily energy equation with recovery efficiency and standby loss",
      "Lutz, Whitehead, Lekov, Winiarski & Rosenquist 1998; rating: 10 CFR 430 subpart B appendix E");
  add("Hot water", "20 gallons a person and day where the sheet does not say", "common practice");
  add("Measures", "monthly flows discounted at the monthly rate that compounds to the yearly one",
      "ASTM E917, E964, E1057, E1074, E1121; 10 CFR 436 subpart A");
  return list;
}

}  // namespace warmledger::catalog
