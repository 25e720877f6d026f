#include "warmledger/hotwater/system.hpp"

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::hotwater {

std::string_view name_of(Loop loop) {
  return loop == Loop::drain_back ? "drain_back" : "pressurized_glycol";
}

std::string_view name_of(Arrangement arrangement) {
  return arrangement == Arrangement::two_tank ? "two_tank" : "one_tank";
}

Loop loop_named(std::string_view name) {
  for (const Loop loop : {Loop::drain_back, Loop::pressurized_glycol}) {
    if (name_of(loop) == name) return loop;
  }
  throw errors::unknown_name("loop", name, {"drain_back", "pressurized_glycol"});
}

Arrangement arrangement_named(std::string_view name) {
  for (const Arrangement arrangement : {Arrangement::two_tank, Arrangement::one_tank}) {
    if (name_of(arrangement) == name) return arrangement;
  }
  throw errors::unknown_name("arrangement", name, {"two_tank", "one_tank"});
}

void check(const SolarSystem& system) {
  using errors::require_in_range;
  const Collector& collector = system.collector;
  require_in_range("gross_area_m2", collector.gross_area_m2, 0.1, 50, "m2");
  require_in_range("optical_efficiency", collector.optical_efficiency, 0.05, 1);
  require_in_range("loss_w_m2k", collector.loss_w_m2k, 0.1, 40, "W/(m2 K)");
  require_in_range("mean_incidence_factor", collector.mean_incidence_factor, 0.5, 1.2);
  require_in_range("incidence_b0", collector.incidence_b0, -0.2, 0.5);
  require_in_range("collector_count", system.collector_count, 1, 100, "collectors");
  require_in_range("tilt_deg", system.tilt_deg, 0, 90, "degrees from the horizontal");
  require_in_range("azimuth_deg", system.azimuth_deg, -180, 180, "degrees from south");
  require_in_range("shading_share", system.shading_share, 0, 1);
  require_in_range("storage_l", system.storage_l, 20, 20000, "litres");
  require_in_range("backup_share_of_tank", system.backup_share_of_tank, 0, 0.9);
  require_in_range("exchanger_effectiveness", system.exchanger_effectiveness, 0.05, 1);
  require_in_range("flow_kg_s_m2", system.flow_kg_s_m2, 0.001, 0.1, "kg/(s m2)");
  require_in_range("pump_w", system.pump_w, 0, 2000, "W");
  require_in_range("tank_ua_w_k", system.tank_ua_w_k, 0, 50, "W/K");
  require_in_range("pipe_ua_w_k", system.pipe_ua_w_k, 0, 200, "W/K");
  if (system.arrangement == Arrangement::two_tank && system.backup_share_of_tank > 0) {
    throw errors::Contradiction({{"", {}, {}, "backup_share_of_tank"},
                                 errors::plain_number(system.backup_share_of_tank),
                                 "does not go with arrangement two_tank, whose solar tank has no element",
                                 "0, or arrangement one_tank"});
  }
}

void check(const Demand& demand) {
  errors::require_in_range("litre_day", demand.litre_day, 0, 50000, "litres a day");
  errors::require_in_range("set_temperature_c", demand.set_temperature_c, 30, 95, "degC");
}

double litre_day_from_occupants(double occupants) {
  errors::require_in_range("occupants", occupants, 0, 100, "persons");
  return 20 * units::litre_per_gallon * occupants;
}

FieldLine with_pipes(double optical_efficiency, double loss_w_m2k, double area_m2, double pipe_ua_w_k,
                     double loop_rate_w_k) {
  const double each = pipe_ua_w_k / 2 / loop_rate_w_k;
  return {optical_efficiency / (1 + each), (loss_w_m2k * (1 - each) + pipe_ua_w_k / area_m2) / (1 + each)};
}

// Least-squares polynomials through the IAPWS-IF97 region 1 values at 101.325 kPa (12 temperatures, 5 to 90 degC).
double water_density_kg_m3(double t) {
  return 1000.10582 + t * (0.014481781 + t * (-0.00589888087 + t * 1.60950532e-5));
}

double water_enthalpy_kj_kg(double t) {
  return 0.1274496 + t * (4.20379301 + t * (-5.81308628e-4 + t * 4.4429786e-6));
}

double heat_kwh_per_litre(double set_c, double mains_c) {
  // A litre measured at the set temperature; its mass does not change on the way.
  return water_density_kg_m3(set_c) / 1000 * (water_enthalpy_kj_kg(set_c) - water_enthalpy_kj_kg(mains_c)) / 3600;
}

}  // namespace warmledger::hotwater
