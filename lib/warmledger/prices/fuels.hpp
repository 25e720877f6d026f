// Prices: fuels, what a unit of each holds and emits, what it costs, and how its price moves over the years.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/prices/escalation.hpp"

namespace warmledger::prices {

/// The fuels a household water heater burns or draws.
enum class Fuel { electricity, natural_gas, propane, heating_oil };
inline constexpr std::array<Fuel, 4> all_fuels{Fuel::electricity, Fuel::natural_gas, Fuel::propane, Fuel::heating_oil};
inline constexpr std::size_t fuel_count = all_fuels.size();

/// "electricity", "natural_gas", "propane", "heating_oil": the words of sheets and program files.
[[nodiscard]] std::string_view name_of(Fuel fuel);
/// Inverse of name_of; throws UnknownName with the nearest fuel.
[[nodiscard]] Fuel fuel_named(std::string_view name);
/// The unit the trade sells it in: "kWh", "therm", "gal".
[[nodiscard]] std::string_view unit_of(Fuel fuel);

/// Heat content and emission of one sold unit, with their source (data/fuels.csv).
struct FuelFacts {
  double kwh_per_unit = 0;     ///< heat content on the higher heating value, kWh per sold unit
  double co2_kg_per_unit = 0;  ///< carbon dioxide released where it is burned, or at the power plants, kg per unit
  std::string source;
};
using FuelTable = std::array<FuelFacts, fuel_count>;  ///< indexed by Fuel

/// How a price is named that a what-if puts in the place of the one that holds.
inline constexpr std::string_view not_the_price = "what-if, not the price that holds";

/// A price of one sold unit, with where it is from.
struct Price {
  double usd_per_unit = 0;
  std::string source;
};

}  // namespace warmledger::prices
