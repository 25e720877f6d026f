#include "warmledger/prices/fuels.hpp"

#include "warmledger/errors/errors.hpp"

namespace warmledger::prices {

std::string_view name_of(Fuel fuel) {
  static constexpr std::array<std::string_view, fuel_count> names{"electricity", "natural_gas", "propane",
                                                                  "heating_oil"};
  return names.at(static_cast<std::size_t>(fuel));
}

Fuel fuel_named(std::string_view name) {
  for (const Fuel fuel : all_fuels) {
    if (name_of(fuel) == name) return fuel;
  }
  throw errors::unknown_name("fuel", name, {"electricity", "natural_gas", "propane", "heating_oil"});
}

std::string_view unit_of(Fuel fuel) {
  static constexpr std::array<std::string_view, fuel_count> units{"kWh", "therm", "gal", "gal"};
  return units.at(static_cast<std::size_t>(fuel));
}

}  // namespace warmledger::prices
