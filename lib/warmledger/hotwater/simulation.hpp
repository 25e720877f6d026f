// Simulation: a year of hot water in steps within the hour, for the solar system and for the heater alone.
//
// The equations of a step (kernel.hpp has the one that runs, tests/support/plain_simulation.hpp the same for reading):
// - Collector: one heat capacity with a linear or quadratic loss, so that in steady sun it gives the test line at the
//   inlet. Pipes lose on both sides of it; the heat exchanger works by its effectiveness.
// - Controller: difference with hysteresis and a high limit; the pump may switch once within a step.
// - Solar tank: N mixed nodes, draws shifted through from the bottom, heat given to the lower nodes and mixed upwards
//   where it makes an inversion, conduction, loss to the room.
// - Tempering valve: hot share (set - cold)/(hot - cold), 1 at most.
// - Backup: a mixed tank with thermostat and limited input, an instantaneous heater behind a mixing valve, a heat pump,
//   or the element of a one-tank system. The heater alone gets the same draws through the same valve.
// Each linear decay is stepped so that its energy balance holds to rounding.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "warmledger/hotwater/demand_profile.hpp"
#include "warmledger/hotwater/heater.hpp"
#include "warmledger/hotwater/system.hpp"
#include "warmledger/hotwater/year.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::hotwater {

/// A year's weather on the collectors. The spans are only looked at during the call.
struct Weather {
  /// On the collector plane after incidence-angle losses and shading of the horizon, W/m2, mean of hour k to k + 1;
  /// 8760 values, 0 to 2000. The system's yearly shading_share is taken off in the simulation; mean_incidence_factor is
  /// not used.
  std::span<const double> irradiance_w_m2;
  std::span<const double> dry_bulb_c;  ///< 8760 values, -70 to 65 degC
  std::span<const double> mains_c;     ///< 365 values, -5 to 60 degC, below the set temperature
};

/// What the simulation knows of a plant beyond SolarSystem and Heater. Defaults are common practice or from memory.
struct Plant {
  double loss_2_w_m2k2 = 0;  ///< collector's second-order loss on gross area, 0 for a line
  double heat_capacity_j_m2k =
      7000;  ///< collector's effective heat capacity; flat plates 5000 to 10000 (ISO 9806 tests)
  double on_difference_k = 16 * units::kelvin_per_fahrenheit_degree;
  double off_difference_k = 4 * units::kelvin_per_fahrenheit_degree;
  double high_limit_c = units::celsius_from_fahrenheit(180);  ///< top of the solar tank that stops the pump
  double high_limit_release_k = 5;                            ///< and how much it has to cool first
  double exchanger_share_of_tank = 0.25;  ///< lower share of the solar tank that the heat exchanger warms
  double tank_room_c = 20;                ///< air around the solar tank
  double glycol_mass_share = 0.5;         ///< pressurized_glycol only
  double stagnation_c = 120;              ///< glycol degrades above 120 to 140 degC; pressurized_glycol only
  double lift_m = 0;       ///< static head a drain-back pump fills; 0: not known, pump_w stands for all pumps
  double pump_each_w = 0;  ///< with lift_m: power of one pump; pumps_for_lift tells how many
  double backup_tank_l = 50 * units::litre_per_gallon;  ///< existing heater's tank
  std::optional<double> thermostat_c;  ///< of the existing heater or element; none: the set temperature at the tap
  double thermostat_band_k = 0;        ///< how far the existing tank cools before it heats; 0: held
  double inlet_most_c = 60;            ///< instantaneous heater: greatest inlet temperature, by the mixing valve ahead
  double element_w = 4500;             ///< one_tank: heat of the element
  double cop_per_tank_k = -0.02;  ///< heat pump: relative change of recovery efficiency per K of tank over 51.7 degC
  double cop_per_air_k = 0.015;   ///< and per K of room over 19.7 degC (125 F and 67.5 F, the rating condition)
  bool operator==(const Plant&) const = default;
};
/// Throws ValueOutOfRange naming the first member outside its physical range, Contradiction for a controller that stops
/// above where it starts.
void check(const Plant& plant);

/// Pumps a drain-back loop needs to fill its collectors: one up to 25 ft (7.62 m) of static lift, two in series above
/// (a lift of 28 ft is a two-pump case); common practice. Throws ValueOutOfRange outside 0 to 15.24 m (50 ft).
[[nodiscard]] int pumps_for_lift(double lift_m);

/// UA of an existing tank's loss, W/K, such that the tank simulated at the rating condition of the uniform energy
/// factor takes in what the daily energy equation says: there the loss is on the input side and is not counted while
/// heating.
[[nodiscard]] double thermal_standby_w_k(const Heater& heater);

/// One system and household. The profile and own weather, where given, have to outlive the call.
struct Case {
  SolarSystem system;
  Plant plant;
  Demand demand;
  Heater existing;
  const DrawProfile* profile = nullptr;  ///< none: DrawProfile::family()
  const Weather* weather = nullptr;      ///< none: the weather common to all cases
};

/// Throws what simulate() throws for a case whose water comes at `mains_c` (365 values), without a step of it.
void check(const Case& one, std::span<const double> mains_c);

/// Which of the processor's instruction sets the step loop uses. The results are the same bits.
enum class InstructionSet { automatic, baseline, avx2, avx512 };
[[nodiscard]] std::string_view name_of(InstructionSet set);
/// Those this build has and this processor runs, baseline first.
[[nodiscard]] std::vector<InstructionSet> available_instruction_sets();

struct SimulationOptions {
  int step_minutes = 15;  ///< 1 to 60, a divisor of 60
  int nodes = 10;         ///< of the solar tank, 1 to 50
  int warm_up_days = 14;  ///< end of the year simulated before it, 0 to 365
  bool trace = false;     ///< keep hourly values
  int lanes = 0;          ///< systems side by side: 1, or 0 for as many as suit the processor
  InstructionSet instruction_set = InstructionSet::automatic;  ///< NotAvailable where this machine lacks it
  bool hours_of_day = false;                                   ///< keep sums by month and hour of the day
};
/// Throws ValueOutOfRange.
void check(const SimulationOptions& options);

/// 8760 values each; states are at the end of the hour.
struct HourlyTrace {
  std::vector<double> tank_top_c, tank_bottom_c, collector_c;
  std::vector<double> backup_c;   ///< existing tank behind the solar tank; mains at the start where there is none
  std::vector<double> without_c;  ///< existing tank alone; the same
  std::vector<double> drawn_l;    ///< at the tap, in the hour
  std::vector<double> hot_l;      ///< hot side of the tempering valve, in the hour
  std::vector<double> backup_w;   ///< mean energy taken in by the backup
  std::vector<double> solar_w;    ///< mean heat into the solar tank
};

/// Energies by month and hour of the day, kWh in the month: [0][0] is January, midnight to one.
struct HoursOfDay {
  using Profile = std::array<std::array<double, 24>, 12>;
  Profile backup_kwh{};
  Profile fuel_without_kwh{};
  Profile pump_kwh{};
};

/// Months January to December, kWh unless the name says otherwise. "without" is the existing heater alone.
struct SimulatedYear {
  /// solar_kwh: two_tank, the heat in the water from the solar tank; one_tank, the heat delivered less that of the
  /// element; held to 0 and the load. tilted_kwh_m2_day: the irradiance given, after shading_share.
  Year year;
  climate::Monthly delivered_kwh{};  ///< heat at the tap; the load less what came too cold
  climate::Monthly delivered_without_kwh{};
  climate::Monthly absorbed_kwh{};  ///< sun absorbed by the collectors
  climate::Monthly collector_loss_kwh{};
  climate::Monthly pipe_loss_kwh{};
  climate::Monthly into_store_kwh{};       ///< heat through the exchanger
  climate::Monthly tank_loss_kwh{};        ///< solar tank to its room
  climate::Monthly from_solar_tank_kwh{};  ///< heat in the water that leaves it, over mains
  climate::Monthly backup_heat_kwh{};      ///< heat from heater or element into water
  climate::Monthly standby_loss_kwh{};     ///< existing tank to its room
  climate::Monthly standby_loss_without_kwh{};
  climate::Monthly conversion_loss_kwh{};  ///< input less heat: the flue; negative for a heat pump: from the room's air
  climate::Monthly conversion_loss_without_kwh{};
  climate::Monthly drawn_litre{};  ///< at the tap
  climate::Monthly pump_hours{};
  climate::Monthly high_limit_hours{};  ///< hours in which the sun would run the pump and the limit does not let it
  climate::Monthly stagnation_hours{};  ///< pressurized_glycol: collector above Plant::stagnation_c, pump off
  climate::Monthly hot_tap_hours{};     ///< hours of draw in which the source is above 49 degC (120 F): scalding
                                        ///< without the tempering valve
  double peak_tank_c = 0;               ///< top of the solar tank
  double peak_collector_c = 0;
  double peak_backup_c = 0;  ///< existing tank behind the solar tank; -273.15 where there is none
  int pumps = 1;
  double storage_change_kwh = 0;  ///< heat content at the end of the year less that at its start
  double storage_change_without_kwh = 0;
  double worst_step_residual = 0;  ///< greatest |imbalance| of a step over the heat that moved in it, at least 1 kJ
  double yearly_residual = 0;      ///< |imbalance| of the year over the heat that moved in it
  std::optional<HourlyTrace> trace;
  std::shared_ptr<const HoursOfDay> hours_of_day;  ///< where SimulationOptions asks for it
};

/// Simulates every case, in the order given; the results do not depend on which cases stand side by side. All input is
/// checked before any step: ValueOutOfRange, Contradiction, MissingValue; an error names the key, and the case by its
/// row (from 1) where there are several.
[[nodiscard]] std::vector<SimulatedYear> simulate(std::span<const Case> cases, const Weather& weather,
                                                  const SimulationOptions& options = {});
[[nodiscard]] SimulatedYear simulate(const Case& one, const Weather& weather, const SimulationOptions& options = {});

}  // namespace warmledger::hotwater
