// Heater: the household's own water heater, described by its rating, and the energy it takes in.
#pragma once

#include <string_view>

#include "warmledger/prices/fuels.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::hotwater {

/// storage: a tank with an element or burner; instantaneous: no store ("tankless"); heat_pump: a tank heated by a heat
/// pump that takes heat from the air around it.
enum class HeaterKind { storage, instantaneous, heat_pump };
[[nodiscard]] std::string_view name_of(HeaterKind kind);
/// Throws UnknownName with the nearest kind.
[[nodiscard]] HeaterKind heater_kind_named(std::string_view name);

/// A heater in the terms of the daily energy equation.
struct Heater {
  HeaterKind kind = HeaterKind::storage;
  prices::Fuel fuel = prices::Fuel::electricity;
  double recovery_efficiency =
      0.98;                   ///< heat into the water over energy taken in while heating; a heat pump's is above 1
  double standby_ua_w_k = 0;  ///< loss of the tank to its room, W/K; 0 without a store
  double input_w = 4500;      ///< rated input; a heat pump's is the electric input
  double room_c = units::celsius_from_fahrenheit(67.5);  ///< air around the tank, degC; default the rating condition
  bool operator==(const Heater&) const = default;
};

/// Throws ValueOutOfRange naming the first member outside its physical range, Contradiction for a heat pump that burns
/// fuel or an instantaneous heater with a standby loss.
void check(const Heater& heater);

/// A heater from its uniform energy factor (energy out over energy in over the federal test day).
///
/// Standby is found by solving the daily energy equation for UA at the rating condition (10 CFR 430 subpart B
/// appendix E: 58 F inlet, 125 F delivered, 67.5 F air; daily volume of the medium draw pattern, 55 gal). The recovery
/// efficiency and input come from the arguments. A uniform energy factor at or above the recovery efficiency leaves no
/// standby and is refused for heaters with a store (ValueOutOfRange), as is one at or below 0. An instantaneous heater
/// has no standby: its uniform energy factor is taken as its recovery efficiency and `recovery_efficiency` is not read.
[[nodiscard]] Heater heater_from_rating(HeaterKind kind, prices::Fuel fuel, double uniform_energy_factor,
                                        double recovery_efficiency, double input_w);

/// UA of the standby loss, Btu/(h F), from the older energy factor at the older rating condition (41 094 Btu a day at
/// 135 F, 67.5 F above its room): UA = (1/EF - 1/RE) / (67.5 (24/41094 - 1/(RE Pon))). Throws ValueOutOfRange unless
/// 0 < EF < RE and the input can make the day's heat.
[[nodiscard]] double standby_ua_btu_hf_from_energy_factor(double energy_factor, double recovery_efficiency,
                                                          double input_btu_h);

/// Daily energy equation (Lutz, Whitehead, Lekov, Winiarski & Rosenquist 1998): energy taken in over a day in which
/// `heat_to_water_kwh` is put into the water drawn, with the tank at `tank_c`, kWh. The tank's loss is made up also
/// when no heat is asked of it; a tank no warmer than its room loses nothing. Throws ValueOutOfRange for negative or
/// non-finite heat, for a tank outside -20 to 120 degC, and for a standby loss that the rated input cannot make up.
[[nodiscard]] double energy_in_kwh_day(const Heater& heater, double heat_to_water_kwh, double tank_c);

}  // namespace warmledger::hotwater
