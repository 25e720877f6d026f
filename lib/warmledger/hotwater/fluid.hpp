// Fluid: what circulates in the collector loop.
#pragma once

namespace warmledger::hotwater {

/// Heat capacity of liquid water at 101.325 kPa, J/(kg K): polynomial through the values of IAPWS-IF97 at 5 to 95 degC,
/// within 1 J/(kg K) of them. Throws ValueOutOfRange outside 0 to 100 degC.
[[nodiscard]] double water_heat_capacity_j_kgk(double temperature_c);

/// Propylene glycol and water by mass share of glycol (0 to 0.6) and temperature (freezing point to 100 degC).
struct GlycolMix {
  double mass_share = 0.5;

  /// Throws ValueOutOfRange for a share outside 0 to 0.6.
  explicit GlycolMix(double glycol_mass_share);
  /// Fit of Melinder (2010). Each throws ValueOutOfRange for a temperature below freezing_c() or above 100 degC.
  [[nodiscard]] double density_kg_m3(double temperature_c) const;
  [[nodiscard]] double heat_capacity_j_kgk(double temperature_c) const;
  /// Dynamic viscosity, mPa s. The published coefficients are read as the logarithm in units of 1000; only this reading
  /// gives the handbook's values (from memory, see the reference test).
  [[nodiscard]] double viscosity_mpa_s(double temperature_c) const;
  [[nodiscard]] double freezing_c() const;
};

/// Least mass share that does not freeze at `lowest_c`, 0 where that is not below 0 degC. Throws NotAvailable where 0.6
/// does not suffice (-50 degC), ValueOutOfRange for a temperature outside -90 to 60 degC.
[[nodiscard]] double glycol_share_for(double lowest_c);

/// Heat capacity of the loop's fluid at 50 degC, about the mean of a running loop, J/(kg K). `glycol_mass_share` 0 is
/// water.
[[nodiscard]] double loop_fluid_j_kgk(double glycol_mass_share);

}  // namespace warmledger::hotwater
