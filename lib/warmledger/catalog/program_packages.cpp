#include "warmledger/catalog/program_reader.hpp"

#include <array>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::catalog {

Package read_package(const Section& section, const Catalog& catalog) {
  Package package;
  package.id = section.text_of("id");
  package.title = section.text_of("title");
  hotwater::SolarSystem& system = package.system;
  const std::string collector = section.text_of("collector");
  try {
    const CollectorEntry& entry = catalog.collector(collector);
    system.collector = entry.collector;
    package.plant.loss_2_w_m2k2 = entry.loss_2_w_m2k2;
  } catch (const errors::UnknownName& error) {
    errors::Problem problem = error.located(section.file(), known_line(section.line_of_key("collector")));
    problem.where.key = "package.collector";
    throw errors::UnknownName(problem);
  }
  system.collector_count = section.whole_of("collector_count");
  const std::string_view storage = section.only_one({"storage_gal", "storage_l"});
  system.storage_l = section.number_of(storage) * (storage == "storage_gal" ? units::litre_per_gallon : 1.0);
  system.loop =
      std::array{hotwater::Loop::drain_back, hotwater::Loop::pressurized_glycol}.at(section.choice_of("loop"));
  system.arrangement =
      std::array{hotwater::Arrangement::two_tank, hotwater::Arrangement::one_tank}.at(section.choice_of("arrangement"));
  system.backup_share_of_tank = section.number_of("backup_share_of_tank");
  if (system.arrangement == hotwater::Arrangement::two_tank && system.backup_share_of_tank > 0) {
    section.fail<errors::Contradiction>("backup_share_of_tank", errors::plain_number(system.backup_share_of_tank),
                                        "belongs to arrangement one_tank", "0, or arrangement = \"one_tank\"");
  }
  system.exchanger_effectiveness = section.number_of("exchanger_effectiveness");
  system.flow_kg_s_m2 = section.number_of("flow_kg_s_m2");
  system.pump_w = section.number_of("pump_w");
  system.tank_ua_w_k = section.number_of("tank_ua_w_k");
  system.pipe_ua_w_k = section.number_of("pipe_ua_w_k");
  const bool glycol = system.loop == hotwater::Loop::pressurized_glycol;
  for (const std::string_view key : {"pump_each_w", "lift_ft"}) {
    if (glycol && section.number_of(key) > 0) {
      section.fail<errors::Contradiction>(key, errors::plain_number(section.number_of(key)),
                                          "belongs to loop drain_back", "0, or loop = \"drain_back\"");
    }
  }
  if (section.number_of("off_difference_f") >= section.number_of("on_difference_f")) {
    section.fail<errors::Contradiction>("off_difference_f", errors::plain_number(section.number_of("off_difference_f")),
                                        "would stop the pump where on_difference_f has not started it",
                                        "less than on_difference_f");
  }
  hotwater::Plant& plant = package.plant;
  plant.pump_each_w = section.number_of("pump_each_w");
  plant.lift_m = section.number_of("lift_ft") * units::m_per_ft;
  plant.on_difference_k = section.number_of("on_difference_f") * units::kelvin_per_fahrenheit_degree;
  plant.off_difference_k = section.number_of("off_difference_f") * units::kelvin_per_fahrenheit_degree;
  plant.high_limit_c = units::celsius_from_fahrenheit(section.number_of("high_limit_f"));
  plant.glycol_mass_share = section.number_of("glycol_share");
  package.material_usd = section.number_of("material_usd");
  package.labor_usd = section.number_of("labor_usd");
  package.least_occupants = section.whole_of("least_occupants");
  package.most_occupants = section.whole_of("most_occupants");
  if (package.most_occupants < package.least_occupants) {
    section.fail<errors::Contradiction>("most_occupants", fmt::format("{}", package.most_occupants),
                                        fmt::format("is below least_occupants {}", package.least_occupants),
                                        "at least least_occupants");
  }
  package.life_years = section.whole_of("life_years");
  package.certification = section.text_of("certification");
  for (const toml::table* table : section.tables("upkeep")) {
    const Section upkeep(table, "[[package.upkeep]]", section.file(), {}, section.line());
    package.upkeep.push_back({upkeep.text_of("what"), upkeep.number_of("usd"), upkeep.whole_of("first_year"),
                              upkeep.whole_of("every_years"), upkeep.flag_of("replaces")});
  }
  if (package.upkeep.empty() && section.flag_of("standard_upkeep")) {
    const auto standard = catalog.upkeep.find(system.loop);
    if (standard != catalog.upkeep.end()) package.upkeep = standard->second;
  }
  located(section.file(), section.line(), [&] {
    hotwater::check(system);
    hotwater::check(plant);
  });
  return package;
}

}  // namespace warmledger::catalog
