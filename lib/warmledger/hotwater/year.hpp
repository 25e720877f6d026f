// Year: the energies of twelve months, with the solar system and without.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "warmledger/climate/climate.hpp"
#include "warmledger/hotwater/heater.hpp"
#include "warmledger/hotwater/system.hpp"

namespace warmledger::hotwater {

/// hourly: simulation in steps within the hour. monthly: the X-Y correlation.
enum class Detail { hourly, monthly };
[[nodiscard]] std::string_view name_of(Detail detail);
[[nodiscard]] Detail detail_named(std::string_view name);  ///< throws UnknownName

/// Months January to December, all in kWh of the month unless the name says otherwise.
struct Year {
  climate::Monthly mains_c{};            ///< mean cold water temperature
  climate::Monthly tilted_kwh_m2_day{};  ///< on the collector plane, after shading
  climate::Monthly load_kwh{};           ///< heat to bring the drawn water from mains to set temperature
  climate::Monthly solar_kwh{};          ///< part of the load that the sun brings
  climate::Monthly fuel_without_kwh{};  ///< energy content of the fuel (or electricity) the existing heater takes alone
  climate::Monthly backup_with_kwh{};   ///< energy content the backup takes beside the solar system
  climate::Monthly pump_kwh{};          ///< electricity of the collector pumps
  climate::Monthly solar_fraction{};    ///< solar_kwh over load_kwh, 0 to 1; 0 where there is no load
  prices::Fuel fuel_without = prices::Fuel::electricity;
  prices::Fuel backup_fuel = prices::Fuel::electricity;  ///< of the system with solar (one_tank: electricity)
  std::vector<std::string> notes;                        ///< bounds of the method that were met, in words

  [[nodiscard]] double yearly(const climate::Monthly& months) const;
  /// Share of the year's load that the sun brings.
  [[nodiscard]] double solar_fraction_by_heat() const;
  /// 1 - backup / fuel without: share of the purchased energy that is saved, pumps left out.
  [[nodiscard]] double solar_fraction_by_fuel() const;
};

/// Monthly X-Y correlation for liquid systems (Klein, Beckman & Duffie 1976; the same polynomial and corrections as
/// EN 15316-4-3 method B), before it is held to 0..1.
[[nodiscard]] double correlation_fraction(double x, double y);
/// Storage-size factor on X: (litres per m2 / 75)^-0.25, held to the fitted range 37.5 to 300 l/m2. One-tank systems
/// enter the volume below the part that the element keeps hot.
[[nodiscard]] double storage_size_factor(double litre_per_m2);
/// Water-heating factor on X: (11.6 + 1.18 set + 3.86 mains - 2.32 air)/(100 - air); temperatures in degC.
[[nodiscard]] double water_heating_factor(double set_c, double mains_c, double air_c);
/// F'R/FR: what the heat exchanger between collectors and store costs. `capacity_rate_w_k` of the collector loop and of
/// the weaker side.
[[nodiscard]] double exchanger_factor(double area_m2, double loss_w_m2k, double collector_rate_w_k,
                                      double weaker_rate_w_k, double effectiveness);

/// What one month of the correlation needs.
struct CorrelationInput {
  double area_m2 = 0;                ///< gross collector area
  double optical_efficiency = 0;     ///< FR(tau alpha) at normal incidence
  double loss_w_m2k = 0;             ///< FR UL
  double mean_incidence_factor = 1;  ///< monthly mean (tau alpha) over that at normal incidence
  double exchanger_factor = 1;       ///< F'R/FR
  double storage_factor = 1;         ///< storage_size_factor of the litres per m2
  double set_c = 0;
  double mains_c = 0;
  double air_c = 0;
  double tilted_kwh_m2_day = 0;  ///< on the collector plane
  double days = 0;               ///< in the month
  double load_kwh = 0;           ///< heat asked for in the month
};
/// The steps of one month, all kept so that a check can look at each.
struct CorrelationMonth {
  double x_reference = 0;           ///< collector loss over load, before the storage and water-heating factors
  double water_heating_factor = 0;  ///< on x_reference
  double x = 0;                     ///< with both factors
  double y = 0;                     ///< absorbed sun over load
  double fraction = 0;              ///< of the load, held to 0..1; 0 where there is no load
};
/// One month. The polynomial in X turns upward beyond X = 18 (the end of its fitted range), which is against physics:
/// there the value at 18 is used. Above Y = 3 it is computed as it stands; it rises steadily.
[[nodiscard]] CorrelationMonth correlate_month(const CorrelationInput& month);

/// Efficiency of the electric element of a one-tank system: heat into the tank over electricity; 0.98 is the recovery
/// efficiency in use for electric storage heaters in public models.
inline constexpr double element_efficiency = 0.98;
/// Running hours of the collector pumps in a year: EN 15316-4-3 default, from memory.
inline constexpr double pump_hours_per_year = 2000;

/// A year by the monthly correlation. Throws ValueOutOfRange for input outside its physical range, also for a set
/// temperature that is not above the mains water of every month; values outside the correlation's fitted range are
/// computed and noted in `notes`, as is a heater too weak for the day's heat.
[[nodiscard]] Year correlate(const SolarSystem& system, const Demand& demand, const Heater& existing,
                             const climate::Climate& climate);
/// The same with the tilted irradiation and mains temperature already at hand (many households share them).
/// `tilted_kwh_m2_day` is before shading.
[[nodiscard]] Year correlate(const SolarSystem& system, const Demand& demand, const Heater& existing,
                             const climate::Climate& climate, const climate::Monthly& tilted_kwh_m2_day,
                             const climate::Monthly& mains_c);

}  // namespace warmledger::hotwater
