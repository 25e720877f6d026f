#include "bind.hpp"
#include "warmledger/hotwater/year.hpp"

namespace warmledger::bind {

void hotwater_room(py::module_& module) {
  using namespace hotwater;
  py::module_ room = module.def_submodule("hotwater", "Systems, heaters and the energies of a year.");
  const SolarSystem d;
  py::class_<SolarSystem>(room, "SolarSystem", "A solar water heater, in SI units.")
      .def(py::init([](double gross_area_m2, double optical_efficiency, double loss_w_m2k, double mean_incidence_factor,
                       int collector_count, double tilt_deg, double azimuth_deg, double shading_share, double storage_l,
                       double backup_share_of_tank, double exchanger_effectiveness, double flow_kg_s_m2,
                       const std::string& loop, const std::string& arrangement, double pump_w, double tank_ua_w_k) {
             SolarSystem s{{gross_area_m2, optical_efficiency, loss_w_m2k, mean_incidence_factor},
                           collector_count,
                           tilt_deg,
                           azimuth_deg,
                           shading_share,
                           storage_l,
                           backup_share_of_tank,
                           exchanger_effectiveness,
                           flow_kg_s_m2,
                           loop_named(loop),
                           arrangement_named(arrangement),
                           pump_w,
                           tank_ua_w_k};
             check(s);
             return s;
           }),
           py::kw_only(), py::arg("gross_area_m2") = d.collector.gross_area_m2,
           py::arg("optical_efficiency") = d.collector.optical_efficiency,
           py::arg("loss_w_m2k") = d.collector.loss_w_m2k,
           py::arg("mean_incidence_factor") = d.collector.mean_incidence_factor,
           py::arg("collector_count") = d.collector_count, py::arg("tilt_deg") = d.tilt_deg,
           py::arg("azimuth_deg") = d.azimuth_deg, py::arg("shading_share") = d.shading_share,
           py::arg("storage_l") = d.storage_l, py::arg("backup_share_of_tank") = d.backup_share_of_tank,
           py::arg("exchanger_effectiveness") = d.exchanger_effectiveness, py::arg("flow_kg_s_m2") = d.flow_kg_s_m2,
           py::arg("loop") = std::string(name_of(d.loop)), py::arg("arrangement") = std::string(name_of(d.arrangement)),
           py::arg("pump_w") = d.pump_w, py::arg("tank_ua_w_k") = d.tank_ua_w_k)
      .def_property_readonly("area_m2", &SolarSystem::area_m2);
  py::class_<Heater>(room, "Heater", "A water heater in the terms of the daily energy equation.")
      .def(py::init([](const std::string& kind, const std::string& fuel, double uniform_energy_factor,
                       double recovery_efficiency, double input_w) {
             return heater_from_rating(heater_kind_named(kind), prices::fuel_named(fuel), uniform_energy_factor,
                                       recovery_efficiency, input_w);
           }),
           py::kw_only(), py::arg("kind"), py::arg("fuel"), py::arg("uniform_energy_factor"),
           py::arg("recovery_efficiency"), py::arg("input_w"))
      .def_readonly("recovery_efficiency", &Heater::recovery_efficiency)
      .def_readonly("standby_ua_w_k", &Heater::standby_ua_w_k)
      .def_readonly("input_w", &Heater::input_w);
  py::class_<Year>(room, "Year", "Energies of twelve months, kWh of the month.")
      .def_readonly("mains_c", &Year::mains_c)
      .def_readonly("tilted_kwh_m2_day", &Year::tilted_kwh_m2_day)
      .def_readonly("load_kwh", &Year::load_kwh)
      .def_readonly("solar_kwh", &Year::solar_kwh)
      .def_readonly("fuel_without_kwh", &Year::fuel_without_kwh)
      .def_readonly("backup_with_kwh", &Year::backup_with_kwh)
      .def_readonly("pump_kwh", &Year::pump_kwh)
      .def_readonly("solar_fraction", &Year::solar_fraction)
      .def_readonly("notes", &Year::notes)
      .def_property_readonly("solar_fraction_by_heat", &Year::solar_fraction_by_heat)
      .def_property_readonly("solar_fraction_by_fuel", &Year::solar_fraction_by_fuel);
  room.def(
      "correlate",
      [](const SolarSystem& system, double litre_day, double set_temperature_c, const Heater& heater,
         const climate::Climate& place) {
        return correlate(system, Demand{litre_day, set_temperature_c}, heater, place);
      },
      py::arg("system"), py::kw_only(), py::arg("litre_day"), py::arg("set_temperature_c"), py::arg("heater"),
      py::arg("climate"), "A year by the monthly X-Y correlation.");
}

}  // namespace warmledger::bind
