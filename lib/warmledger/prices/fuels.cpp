#include "warmledger/prices/fuels.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"

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

template <class N>
std::vector<N> price_indices(const Escalation& escalation, int years) {
  std::vector<N> indices(static_cast<std::size_t>(std::max(years, 0)));
  const N growth = N(1) + N(escalation.yearly_rate);
  N index(1);
  for (N& slot : indices) {
    slot = index;
    index *= growth;
  }
  return indices;
}

template std::vector<double> price_indices<double>(const Escalation&, int);
template std::vector<money::Decimal> price_indices<money::Decimal>(const Escalation&, int);

}  // namespace warmledger::prices
