// System: what stands on the roof and in the basement, in SI units.
#pragma once

#include <string>
#include <string_view>

namespace warmledger::hotwater {

/// A collector by its standard test line (efficiency on gross area): eta = optical - loss (Ti - Ta)/G.
struct Collector {
  double gross_area_m2 = 2.97;          ///< of one collector
  double optical_efficiency = 0.72;     ///< FR(tau alpha) at normal incidence, 0 to 1
  double loss_w_m2k = 4.0;              ///< FR UL
  double mean_incidence_factor = 0.94;  ///< monthly mean (tau alpha) over the value at normal incidence
  double incidence_b0 = 0.1;            ///< hourly method: K = 1 - b0 (1/cos - 1) for beam light; -0.2 to 0.5
  bool operator==(const Collector&) const = default;
};

/// drain_back: water that drains into a reservoir when the pump stops; pressurized_glycol: antifreeze that stays up.
enum class Loop { drain_back, pressurized_glycol };
/// two_tank: solar preheat tank ahead of the existing heater; one_tank: one solar tank with an electric element in its
/// upper part, which replaces the existing heater.
enum class Arrangement { two_tank, one_tank };
[[nodiscard]] std::string_view name_of(Loop loop);
[[nodiscard]] std::string_view name_of(Arrangement arrangement);
[[nodiscard]] Loop loop_named(std::string_view name);                ///< throws UnknownName
[[nodiscard]] Arrangement arrangement_named(std::string_view name);  ///< throws UnknownName

struct SolarSystem {
  Collector collector;
  int collector_count = 2;
  double tilt_deg = 40;      ///< from the horizontal, 0 to 90
  double azimuth_deg = 0;    ///< 0 south, west positive, east negative
  double shading_share = 0;  ///< share of the yearly sun on the collectors that trees and buildings take, 0 to 1
  double storage_l = 300;
  double backup_share_of_tank = 0;       ///< one_tank: upper share of the store kept hot by the element, 0 to 0.9
  double exchanger_effectiveness = 0.6;  ///< 0 to 1; 1 where the collector fluid is the stored water
  double flow_kg_s_m2 = 0.015;           ///< collector loop, per m2 of collector
  Loop loop = Loop::drain_back;
  Arrangement arrangement = Arrangement::two_tank;
  double pump_w = 60;        ///< electric power of all pumps while running
  double tank_ua_w_k = 2.5;  ///< loss of the solar tank to its room, W/K
  double pipe_ua_w_k = 8;    ///< loss of the collector loop's pipes to the air, W/K, half before and half after the
                             ///< collectors; EN 15316-4-3 takes 5 + 0.5 per m2 of collector (from memory)

  [[nodiscard]] double area_m2() const { return collector.gross_area_m2 * collector_count; }
  bool operator==(const SolarSystem&) const = default;
};

/// The test line of a collector field as the store sees it, with the loss of the pipes between.
struct FieldLine {
  double optical_efficiency = 0;  ///< FR(tau alpha) of the field with its pipes
  double loss_w_m2k = 0;          ///< FR UL of the field with its pipes
};
/// First-order heat balance of the pipes on both sides of the collectors (the form of Duffie & Beckman chapter
/// 10, from memory; the unit test balances it afresh): with i and o the pipe loss before and after the collectors over
/// the loop's heat capacity rate, optical' = optical/(1 + o) and loss' = (loss (1 - i) + pipe loss/area)/(1 + o).
[[nodiscard]] FieldLine with_pipes(double optical_efficiency, double loss_w_m2k, double area_m2, double pipe_ua_w_k,
                                   double loop_rate_w_k);

/// Throws ValueOutOfRange naming the first member outside its physical range, Contradiction for a backup share in a
/// two-tank system.
void check(const SolarSystem& system);

/// A day's hot water: volume at the set temperature.
struct Demand {
  double litre_day = 0;
  double set_temperature_c = 0;
  bool operator==(const Demand&) const = default;
};
/// Throws ValueOutOfRange: 0 to 50 000 litres a day, set temperature 30 to 95 degC.
void check(const Demand& demand);

/// Hot water a household draws, litres a day at the set temperature: 20 US gallons a person (common practice).
/// Throws ValueOutOfRange outside 0 to 100 persons.
[[nodiscard]] double litre_day_from_occupants(double occupants);

/// Density of liquid water at 101.325 kPa, kg/m3, and its enthalpy, kJ/kg (0 at the triple point): polynomials through
/// the values of IAPWS-IF97 at 5 to 90 degC, within 0.07 kg/m3 and 0.014 kJ/kg of them.
[[nodiscard]] double water_density_kg_m3(double temperature_c);
[[nodiscard]] double water_enthalpy_kj_kg(double temperature_c);
/// Heat that one litre, measured at the set temperature, took up on its way from mains to set temperature, kWh.
/// Negative where the mains are warmer.
[[nodiscard]] double heat_kwh_per_litre(double set_c, double mains_c);

}  // namespace warmledger::hotwater
