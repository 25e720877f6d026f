#include "arrays.hpp"
#include "bind.hpp"
#include "warmledger/climate/hourly.hpp"
#include "warmledger/climate/tilted.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/hotwater/sizing.hpp"
#include "warmledger/hotwater/year.hpp"

namespace warmledger::bind {

namespace {

using namespace hotwater;

/// Sets the named members of a plant; an unknown name is an error with the nearest known one.
Plant plant_from(const py::kwargs& members) {
  static const std::vector<std::pair<std::string, double Plant::*>> numbers{
      {"loss_2_w_m2k2", &Plant::loss_2_w_m2k2},
      {"heat_capacity_j_m2k", &Plant::heat_capacity_j_m2k},
      {"on_difference_k", &Plant::on_difference_k},
      {"off_difference_k", &Plant::off_difference_k},
      {"high_limit_c", &Plant::high_limit_c},
      {"high_limit_release_k", &Plant::high_limit_release_k},
      {"exchanger_share_of_tank", &Plant::exchanger_share_of_tank},
      {"tank_room_c", &Plant::tank_room_c},
      {"glycol_mass_share", &Plant::glycol_mass_share},
      {"stagnation_c", &Plant::stagnation_c},
      {"lift_m", &Plant::lift_m},
      {"pump_each_w", &Plant::pump_each_w},
      {"backup_tank_l", &Plant::backup_tank_l},
      {"thermostat_band_k", &Plant::thermostat_band_k},
      {"inlet_most_c", &Plant::inlet_most_c},
      {"element_w", &Plant::element_w},
      {"cop_per_tank_k", &Plant::cop_per_tank_k},
      {"cop_per_air_k", &Plant::cop_per_air_k},
  };
  Plant plant;
  for (const auto& [key, value] : members) {
    const auto name = py::cast<std::string>(key);
    if (name == "thermostat_c") {
      plant.thermostat_c = value.is_none() ? std::nullopt : std::optional(py::cast<double>(value));
      continue;
    }
    const auto found = std::find_if(numbers.begin(), numbers.end(), [&](const auto& n) { return n.first == name; });
    if (found == numbers.end()) {
      std::vector<std::string> names{"thermostat_c"};
      for (const auto& number : numbers) names.push_back(number.first);
      const std::string nearest = errors::nearest_name(name, names);
      throw errors::UnknownName({{"", {}, {}, "plant"},
                                 "\"" + name + "\"",
                                 nearest.empty() ? "is not known" : "is not known (did you mean " + nearest + "?)",
                                 "members of Plant"});
    }
    plant.*(found->second) = py::cast<double>(value);
  }
  check(plant);
  return plant;
}

/// None or "family", "federal-very_small" ... "federal-high", or 24 or 8760 volumes.
DrawProfile profile_from(const py::object& profile) {
  if (profile.is_none()) return DrawProfile::family();
  if (py::isinstance<py::str>(profile)) {
    const auto name = py::cast<std::string>(profile);
    constexpr std::string_view federal = "federal-";
    if (name == "family") return DrawProfile::family();
    if (name.rfind(federal, 0) == 0) return DrawProfile::federal(federal_pattern_named(name.substr(federal.size())));
    throw errors::unknown_name("profile", name,
                               {"family", "federal-very_small", "federal-low", "federal-medium", "federal-high"});
  }
  return DrawProfile::from_hours(py::cast<std::vector<double>>(profile));
}

/// An hourly year on a system's plane, as the simulation takes it.
struct Sky {
  climate::PlaneYear light;
  std::array<double, 365> mains;
  Weather weather;
  Sky(const SolarSystem& system, const climate::HourlyYear& year) : mains(climate::mains_by_day_c(year)) {
    climate::Plane plane;
    plane.tilt_deg = system.tilt_deg;
    plane.azimuth_deg = system.azimuth_deg;
    plane.incidence_b0 = system.collector.incidence_b0;
    light = climate::plane_year(year, plane);
    weather = {light.effective_w_m2, year.dry_bulb_c, mains};
  }
  Sky(const Sky&) = delete;
  Sky& operator=(const Sky&) = delete;
};

SimulatedYear simulate_year(const SolarSystem& system, const Demand& demand, const climate::HourlyYear& year,
                            const Heater& heater, const Plant& plant, const py::object& profile, int step_minutes,
                            int nodes, bool trace) {
  const DrawProfile draws = profile_from(profile);
  const py::gil_scoped_release release;
  const Sky sky(system, year);
  const Case one{system, plant, demand, heater, &draws, nullptr};
  SimulationOptions options;
  options.step_minutes = step_minutes;
  options.nodes = nodes;
  options.trace = trace;
  return simulate(one, sky.weather, options);
}

py::dict recommend_size(const SolarSystem& system, const Demand& demand, const climate::HourlyYear& year,
                        const Heater& heater, int occupants, const Plant& plant, double target_fraction,
                        int most_collectors) {
  SizingRules rules;
  rules.target_fraction = target_fraction;
  rules.most_collectors = most_collectors;
  Sizing sizing;
  {
    const py::gil_scoped_release release;
    const Sky sky(system, year);
    sizing = recommend({system, plant, demand, heater, nullptr, nullptr}, sky.weather, occupants, rules);
  }
  const auto as_dict = [](const SizedSystem& size) {
    py::dict d;
    d["collector_count"] = size.collector_count;
    d["storage_l"] = size.storage_l;
    d["fraction"] = size.fraction;
    d["stagnation_hours"] = size.stagnation_hours;
    d["overheats"] = size.overheats;
    return d;
  };
  py::dict result = as_dict(sizing.chosen);
  result["in_band"] = sizing.in_band;
  result["reason"] = sizing.reason;
  result["rules_of_thumb"] = sizing.rules_of_thumb;
  py::list tried;
  for (const SizedSystem& size : sizing.tried) tried.append(as_dict(size));
  result["tried"] = tried;
  return result;
}

py::object trace_of(const SimulatedYear& year) {
  if (!year.trace) return py::none();
  const HourlyTrace& t = *year.trace;
  py::dict columns;
  columns["tank_top_c"] = array_of(t.tank_top_c);
  columns["tank_bottom_c"] = array_of(t.tank_bottom_c);
  columns["collector_c"] = array_of(t.collector_c);
  columns["backup_c"] = array_of(t.backup_c);
  columns["without_c"] = array_of(t.without_c);
  columns["drawn_l"] = array_of(t.drawn_l);
  columns["backup_w"] = array_of(t.backup_w);
  columns["solar_w"] = array_of(t.solar_w);
  return columns;
}

}  // namespace

void hotwater_room(py::module_& module) {
  py::module_ room = module.def_submodule("hotwater", "Systems, heaters and the energies of a year.");
  const SolarSystem d;
  py::class_<SolarSystem>(room, "SolarSystem", "A solar water heater, in SI units.")
      .def(py::init([](double gross_area_m2, double optical_efficiency, double loss_w_m2k, double mean_incidence_factor,
                       double incidence_b0, int collector_count, double tilt_deg, double azimuth_deg,
                       double shading_share, double storage_l, double backup_share_of_tank,
                       double exchanger_effectiveness, double flow_kg_s_m2, const std::string& loop,
                       const std::string& arrangement, double pump_w, double tank_ua_w_k, double pipe_ua_w_k) {
             SolarSystem s;
             s.collector = {gross_area_m2, optical_efficiency, loss_w_m2k, mean_incidence_factor, incidence_b0};
             s.collector_count = collector_count;
             s.tilt_deg = tilt_deg;
             s.azimuth_deg = azimuth_deg;
             s.shading_share = shading_share;
             s.storage_l = storage_l;
             s.backup_share_of_tank = backup_share_of_tank;
             s.exchanger_effectiveness = exchanger_effectiveness;
             s.flow_kg_s_m2 = flow_kg_s_m2;
             s.loop = loop_named(loop);
             s.arrangement = arrangement_named(arrangement);
             s.pump_w = pump_w;
             s.tank_ua_w_k = tank_ua_w_k;
             s.pipe_ua_w_k = pipe_ua_w_k;
             check(s);
             return s;
           }),
           py::kw_only(), py::arg("gross_area_m2") = d.collector.gross_area_m2,
           py::arg("optical_efficiency") = d.collector.optical_efficiency,
           py::arg("loss_w_m2k") = d.collector.loss_w_m2k,
           py::arg("mean_incidence_factor") = d.collector.mean_incidence_factor,
           py::arg("incidence_b0") = d.collector.incidence_b0, py::arg("collector_count") = d.collector_count,
           py::arg("tilt_deg") = d.tilt_deg, py::arg("azimuth_deg") = d.azimuth_deg,
           py::arg("shading_share") = d.shading_share, py::arg("storage_l") = d.storage_l,
           py::arg("backup_share_of_tank") = d.backup_share_of_tank,
           py::arg("exchanger_effectiveness") = d.exchanger_effectiveness, py::arg("flow_kg_s_m2") = d.flow_kg_s_m2,
           py::arg("loop") = std::string(name_of(d.loop)), py::arg("arrangement") = std::string(name_of(d.arrangement)),
           py::arg("pump_w") = d.pump_w, py::arg("tank_ua_w_k") = d.tank_ua_w_k, py::arg("pipe_ua_w_k") = d.pipe_ua_w_k)
      .def_property_readonly("area_m2", &SolarSystem::area_m2);
  py::class_<Demand>(room, "Demand", "Hot water: litres a day at the set temperature, degC.")
      .def(py::init([](double litre_day, double set_temperature_c) {
             const Demand demand{litre_day, set_temperature_c};
             check(demand);
             return demand;
           }),
           py::arg("litre_day"), py::arg("set_temperature_c") = 50.0)
      .def_readonly("litre_day", &Demand::litre_day)
      .def_readonly("set_temperature_c", &Demand::set_temperature_c);
  py::class_<Heater>(room, "Heater", "A water heater in the terms of the daily energy equation.")
      .def(py::init([](const std::string& kind, const std::string& fuel, double uniform_energy_factor,
                       double recovery_efficiency, double input_w) {
             return heater_from_rating(heater_kind_named(kind), prices::fuel_named(fuel), uniform_energy_factor,
                                       recovery_efficiency, input_w);
           }),
           py::kw_only(), py::arg("kind") = "storage", py::arg("fuel") = "electricity",
           py::arg("uniform_energy_factor") = 0.92, py::arg("recovery_efficiency") = 0.98, py::arg("input_w") = 4500.0)
      .def_readonly("recovery_efficiency", &Heater::recovery_efficiency)
      .def_readonly("standby_ua_w_k", &Heater::standby_ua_w_k)
      .def_readonly("input_w", &Heater::input_w);
  py::class_<Plant>(room, "Plant",
                    "What the simulation knows of a plant beyond system and heater; every member has a default. Names "
                    "and ranges: lib/warmledger/hotwater/simulation.hpp.")
      .def(py::init(&plant_from));
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
  py::class_<SimulatedYear>(room, "SimulatedYear",
                            "A simulated year: the members of Year as `year`, and what the simulation saw besides, "
                            "by month, kWh or hours.")
      .def_readonly("year", &SimulatedYear::year)
      .def_readonly("delivered_kwh", &SimulatedYear::delivered_kwh)
      .def_readonly("absorbed_kwh", &SimulatedYear::absorbed_kwh)
      .def_readonly("collector_loss_kwh", &SimulatedYear::collector_loss_kwh)
      .def_readonly("pipe_loss_kwh", &SimulatedYear::pipe_loss_kwh)
      .def_readonly("into_store_kwh", &SimulatedYear::into_store_kwh)
      .def_readonly("tank_loss_kwh", &SimulatedYear::tank_loss_kwh)
      .def_readonly("from_solar_tank_kwh", &SimulatedYear::from_solar_tank_kwh)
      .def_readonly("backup_heat_kwh", &SimulatedYear::backup_heat_kwh)
      .def_readonly("standby_loss_kwh", &SimulatedYear::standby_loss_kwh)
      .def_readonly("standby_loss_without_kwh", &SimulatedYear::standby_loss_without_kwh)
      .def_readonly("conversion_loss_kwh", &SimulatedYear::conversion_loss_kwh)
      .def_readonly("conversion_loss_without_kwh", &SimulatedYear::conversion_loss_without_kwh)
      .def_readonly("drawn_litre", &SimulatedYear::drawn_litre)
      .def_readonly("pump_hours", &SimulatedYear::pump_hours)
      .def_readonly("high_limit_hours", &SimulatedYear::high_limit_hours)
      .def_readonly("stagnation_hours", &SimulatedYear::stagnation_hours)
      .def_readonly("hot_tap_hours", &SimulatedYear::hot_tap_hours)
      .def_readonly("peak_tank_c", &SimulatedYear::peak_tank_c)
      .def_readonly("peak_collector_c", &SimulatedYear::peak_collector_c)
      .def_readonly("pumps", &SimulatedYear::pumps)
      .def_readonly("yearly_residual", &SimulatedYear::yearly_residual)
      .def_property_readonly("trace", &trace_of, "Hourly columns as NumPy arrays, or None when none were asked for.")
      .def_property_readonly("solar_fraction_by_heat",
                             [](const SimulatedYear& s) { return s.year.solar_fraction_by_heat(); })
      .def_property_readonly("solar_fraction_by_fuel",
                             [](const SimulatedYear& s) { return s.year.solar_fraction_by_fuel(); });
  room.def(
      "correlate",
      [](const SolarSystem& system, const Demand& demand, const climate::Climate& monthly, const Heater& heater) {
        return correlate(system, demand, heater, monthly);
      },
      py::arg("system"), py::arg("demand"), py::arg("monthly"), py::kw_only(), py::arg("heater"),
      "A year by the monthly X-Y correlation.");
  room.def(
      "simulate", &simulate_year, py::arg("system"), py::arg("demand"), py::arg("year"), py::kw_only(),
      py::arg("heater"), py::arg("plant") = Plant{}, py::arg("profile") = py::none(), py::arg("step_minutes") = 15,
      py::arg("nodes") = 10, py::arg("trace") = false,
      "A year in steps of step_minutes (1 to 60, a divisor of 60) with a solar tank of 1 to 50 nodes. profile: None "
      "or 'family', 'federal-very_small', 'federal-low', 'federal-medium', 'federal-high', or 24 or 8760 volumes. "
      "trace: keep hourly values.");
  room.def(
      "recommend", &recommend_size, py::arg("system"), py::arg("demand"), py::arg("year"), py::kw_only(),
      py::arg("heater"), py::arg("occupants"), py::arg("plant") = Plant{}, py::arg("target_fraction") = 0.75,
      py::arg("most_collectors") = 6,
      "Collector count and tank nearest to target_fraction (0.6 to 0.8) of the year's hot water without overheating "
      "glycol; a dict with the choice, its reason, the rules of thumb it agrees or disagrees with, and all sizes "
      "tried. The system gives everything but collector_count and storage_l.");
}

}  // namespace warmledger::bind
