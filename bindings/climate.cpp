#include "bind.hpp"
#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"

namespace warmledger::bind {

void climate_room(py::module_& module) {
  using namespace climate;
  py::module_ room = module.def_submodule("climate", "Places, sun and mains water by month.");
  py::class_<Climate>(room, "Climate", "A place and its twelve monthly means.")
      .def_property_readonly("station_id", [](const Climate& c) { return c.place.station_id; })
      .def_property_readonly("name", [](const Climate& c) { return c.place.name; })
      .def_property_readonly("state", [](const Climate& c) { return c.place.state; })
      .def_property_readonly("latitude_deg", [](const Climate& c) { return c.place.latitude_deg; })
      .def_property_readonly("longitude_deg", [](const Climate& c) { return c.place.longitude_deg; })
      .def_property_readonly("elevation_m", [](const Climate& c) { return c.place.elevation_m; })
      .def_property_readonly("utc_offset_h", [](const Climate& c) { return c.place.utc_offset_h; })
      .def_property_readonly("record", [](const Climate& c) { return c.place.record; })
      .def_property_readonly("horizontal_kwh_m2_day", [](const Climate& c) { return c.months.horizontal_kwh_m2_day; })
      .def_property_readonly("dry_bulb_c", [](const Climate& c) { return c.months.dry_bulb_c; })
      .def_property_readonly("dry_bulb_range_k", [](const Climate& c) { return c.months.dry_bulb_range_k; })
      .def_property_readonly("wind_m_s", [](const Climate& c) { return c.months.wind_m_s; })
      .def_property_readonly("ground_albedo", [](const Climate& c) { return c.months.ground_albedo; })
      .def("tilted_kwh_m2_day", &tilted_irradiation, py::arg("tilt_deg"), py::arg("azimuth_deg") = 0.0,
           "Monthly mean daily irradiation on a tilted plane; azimuth 0 faces south, west is positive.")
      .def("mains_c", &mains_by_month_c, "Mean cold water temperature of each month, degC.")
      .def("__repr__", [](const Climate& c) {
        return "<Climate " + c.place.name + ", " + c.place.state + " (" + c.place.station_id + ")>";
      });
}

}  // namespace warmledger::bind
