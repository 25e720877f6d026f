#include "arrays.hpp"
#include "bind.hpp"

// After Python.h, which the line above brings.
#include <datetime.h>
#include <pybind11/stl/filesystem.h>

#include <chrono>
#include <cstdint>

#include "warmledger/climate/hourly.hpp"
#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/solar_position.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/climate/synthesis.hpp"
#include "warmledger/climate/tilted.hpp"

namespace warmledger::bind {

namespace {

/// The numbers as a NumPy array that cannot be written to and keeps their owner alive.
py::array_t<double> read_only(const std::vector<double>& values, const py::object& owner) {
  py::array_t<double> array = array_of(values.data(), values.size(), owner);
  array.attr("flags").attr("writeable") = false;
  return array;
}

template <class Owner>
auto column(std::vector<double> Owner::*member) {
  return [member](const py::object& self) { return read_only(py::cast<const Owner&>(self).*member, self); };
}

/// A moment from a datetime.datetime (without a time zone it is taken as UTC) or a numpy.datetime64.
climate::UtcTime utc_from(py::object moment) {
  if (PyDateTimeAPI == nullptr) PyDateTime_IMPORT;
  const auto refuse = [&moment] {
    return errors::MalformedText({{"", {}, {}, "utc"},
                                  py::cast<std::string>(py::repr(moment)),
                                  "is not a moment",
                                  "a datetime.datetime (without a time zone: UTC) or a numpy.datetime64"});
  };
  if (py::hasattr(moment, "dtype") && py::hasattr(moment, "astype")) {
    if (py::cast<std::string>(moment.attr("dtype").attr("kind")) != "M") throw refuse();
    const py::object plain = moment.attr("astype")("datetime64[us]").attr("item")();
    if (plain.is_none()) throw refuse();
    moment = plain;
  }
  if (!PyDateTime_Check(moment.ptr())) throw refuse();
  const py::module_ datetime = py::module_::import("datetime");
  if (!moment.attr("tzinfo").is_none()) moment = moment.attr("astimezone")(datetime.attr("timezone").attr("utc"));
  PyObject* const t = moment.ptr();
  using namespace std::chrono;
  return sys_days{year{PyDateTime_GET_YEAR(t)} / month{static_cast<unsigned>(PyDateTime_GET_MONTH(t))} /
                  day{static_cast<unsigned>(PyDateTime_GET_DAY(t))}} +
         hours{PyDateTime_DATE_GET_HOUR(t)} + minutes{PyDateTime_DATE_GET_MINUTE(t)} +
         seconds{PyDateTime_DATE_GET_SECOND(t)} + milliseconds{(PyDateTime_DATE_GET_MICROSECOND(t) + 500) / 1000};
}

void hourly_classes(py::module_& room) {
  using namespace climate;
  py::class_<PlaneYear>(room, "PlaneYear",
                        "Irradiance on a tilted plane, W/m2, means over each of 8760 hours, after shading.")
      .def_property_readonly("beam_w_m2", column(&PlaneYear::beam_w_m2), "Beam light, W/m2.")
      .def_property_readonly("sky_w_m2", column(&PlaneYear::sky_w_m2),
                             "Diffuse light of the sky, circumsolar light included, W/m2.")
      .def_property_readonly("ground_w_m2", column(&PlaneYear::ground_w_m2), "Light from the ground, W/m2.")
      .def_property_readonly("plane_w_m2", column(&PlaneYear::plane_w_m2), "The sum of the three, W/m2.")
      .def_property_readonly("effective_w_m2", column(&PlaneYear::effective_w_m2),
                             "The sum with each part weighted by its incidence-angle modifier, W/m2.")
      .def_property_readonly(
          "plane_kwh_m2_day", [](const PlaneYear& p) { return monthly_kwh_m2_day(p.plane_w_m2); },
          "Mean daily irradiation on the plane, kWh/m2, by month.")
      .def_property_readonly(
          "effective_kwh_m2_day", [](const PlaneYear& p) { return monthly_kwh_m2_day(p.effective_w_m2); },
          "The same of the effective irradiance.");

  py::class_<HourlyYear>(room, "HourlyYear",
                         "8760 hours of weather. Hour 0 runs from 00:00 to 01:00 of 1 January in local standard time; "
                         "there is no 29 February. Arrays are read-only.")
      .def_property_readonly("station_id", [](const HourlyYear& y) { return y.place.station_id; })
      .def_property_readonly("name", [](const HourlyYear& y) { return y.place.name; })
      .def_property_readonly("state", [](const HourlyYear& y) { return y.place.state; })
      .def_property_readonly("latitude_deg", [](const HourlyYear& y) { return y.place.latitude_deg; })
      .def_property_readonly("longitude_deg", [](const HourlyYear& y) { return y.place.longitude_deg; })
      .def_property_readonly("elevation_m", [](const HourlyYear& y) { return y.place.elevation_m; })
      .def_property_readonly("utc_offset_h", [](const HourlyYear& y) { return y.place.utc_offset_h; })
      .def_property_readonly(
          "years", [](const HourlyYear& y) { return y.years; }, "The calendar year that each month is taken from.")
      .def_readonly("source", &HourlyYear::source, "Where the year comes from.")
      .def_readonly("remarks", &HourlyYear::remarks, "What a user should know, one sentence each.")
      .def_property_readonly(
          "filled",
          [](const HourlyYear& y) {
            py::list list;
            for (const FilledGaps& gaps : y.filled) {
              py::dict entry;
              entry["column"] = gaps.column;
              entry["hours"] = gaps.hours;
              entry["longest_hours"] = gaps.longest_hours;
              entry["dark_hours"] = gaps.dark_hours;
              list.append(entry);
            }
            return list;
          },
          "Missing values that were filled: column, hours interpolated, the longest gap, and hours without sun set to "
          "0.")
      .def_property_readonly("global_w_m2", column(&HourlyYear::global_w_m2),
                             "Irradiance on the horizontal, mean over the hour, W/m2.")
      .def_property_readonly("beam_normal_w_m2", column(&HourlyYear::beam_normal_w_m2),
                             "Beam irradiance on a plane that faces the sun, W/m2.")
      .def_property_readonly("diffuse_w_m2", column(&HourlyYear::diffuse_w_m2),
                             "Diffuse irradiance on the horizontal, W/m2.")
      .def_property_readonly("dry_bulb_c", column(&HourlyYear::dry_bulb_c), "Air temperature, degC.")
      .def_property_readonly("wind_m_s", column(&HourlyYear::wind_m_s), "Wind speed, m/s.")
      .def_property_readonly(
          "ground_albedo",
          [](const py::object& self) -> py::object {
            const auto& year = py::cast<const HourlyYear&>(self);
            if (year.ground_albedo.empty()) return py::none();
            return read_only(year.ground_albedo, self);
          },
          "Share of light that the ground reflects, 0 to 1; None where unknown.")
      .def("monthly_means", &monthly_means, "The twelve monthly means of the year, as a Climate.")
      .def(
          "mains_by_day_c",
          [](const HourlyYear& y) {
            const auto days = mains_by_day_c(y);
            return array_of(days.data(), days.size());
          },
          "Cold water temperature of each of 365 days, degC (Burch & Christensen 2007).")
      .def(
          "plane",
          [](const HourlyYear& year, double tilt_deg, double azimuth_deg, const std::string& sky, double incidence_b0,
             const std::optional<Monthly>& ground_albedo, const std::optional<Monthly>& shaded_share,
             std::vector<double> horizon_deg) {
            Plane plane;
            plane.tilt_deg = tilt_deg;
            plane.azimuth_deg = azimuth_deg;
            plane.sky = sky_model_from(sky);
            plane.incidence_b0 = incidence_b0;
            plane.ground_albedo = ground_albedo;
            if (shaded_share) plane.shaded_share = *shaded_share;
            plane.horizon_deg = std::move(horizon_deg);
            return plane_year(year, plane);
          },
          py::arg("tilt_deg"), py::arg("azimuth_deg") = 0.0, py::kw_only(), py::arg("sky") = "HDKR",
          py::arg("incidence_b0") = 0.1, py::arg("ground_albedo") = py::none(), py::arg("shaded_share") = py::none(),
          py::arg("horizon_deg") = std::vector<double>{}, py::call_guard<py::gil_scoped_release>(),
          "Light on a plane in every hour. tilt_deg 0 to 90; azimuth_deg 0 faces south, west positive; sky "
          "\"isotropic\", "
          "\"Hay-Davies\", \"HDKR\" or \"Perez\"; incidence_b0 of the modifier 1 - b0 (1/cos - 1); ground_albedo and "
          "shaded_share (of all light) by month, 0 to 1; horizon_deg: elevations at equal steps of the compass from "
          "north through east. Raises ValueOutOfRange, UnknownName.")
      .def("__repr__", [](const HourlyYear& y) { return "<HourlyYear " + y.place.name + ": " + y.source + ">"; });

  room.def(
      "read_hourly", &read_hourly, py::arg("path"), py::call_guard<py::gil_scoped_release>(),
      "The HourlyYear of a TMY3 CSV or EPW file; the content tells which. Short gaps are interpolated and counted "
      "in .filled; 29 February is left out. Raises errors that name file, line, column, value and what is allowed.");
  room.def("synthesize", &synthesize, py::arg("monthly"), py::arg("seed"), py::call_guard<py::gil_scoped_release>(),
           "An HourlyYear from the twelve monthly means of a Climate, the same for the same seed (0 to 2**64 - 1). "
           "Monthly means of irradiation, temperature and wind come back to rounding.");
  room.def(
      "sun_position",
      [](double latitude_deg, double longitude_deg, const py::object& utc) {
        const SunPosition sun = sun_position(latitude_deg, longitude_deg, utc_from(utc));
        return py::make_tuple(sun.zenith_deg, sun.azimuth_deg);
      },
      py::arg("latitude_deg"), py::arg("longitude_deg"), py::arg("utc"),
      "(zenith_deg, azimuth_deg) of the sun by Michalsky (1988), within 0.01 degree from 1950 to 2050. North and east "
      "are positive; azimuth is the compass bearing, 90 east; the zenith angle is without refraction. utc: a datetime "
      "(with a time zone it is converted, without one it is UTC) or a numpy.datetime64.");
  room.def("refraction_deg", &refraction_deg, py::arg("elevation_deg"), py::arg("pressure_mbar") = 1013.25,
           py::arg("temperature_c") = 15.0,
           "What the air adds to a true elevation of the sun, degrees; pressure in mbar, temperature in degC.");
}

}  // namespace

void climate_room(py::module_& module) {
  using namespace climate;
  py::module_ room = module.def_submodule("climate", "Places, their months and hours; sun and mains water.");
  py::class_<Climate>(room, "Climate", "A place and its twelve monthly means.")
      .def(
          py::init([](double latitude_deg, double longitude_deg, double utc_offset_h,
                      const Monthly& horizontal_kwh_m2_day, const Monthly& dry_bulb_c, const Monthly& dry_bulb_range_k,
                      const Monthly& wind_m_s, const std::optional<Monthly>& ground_albedo, double elevation_m,
                      const std::string& name) {
            Climate c;
            c.place.name = name;
            c.place.latitude_deg = latitude_deg;
            c.place.longitude_deg = longitude_deg;
            c.place.utc_offset_h = utc_offset_h;
            c.place.elevation_m = elevation_m;
            c.months.horizontal_kwh_m2_day = horizontal_kwh_m2_day;
            c.months.dry_bulb_c = dry_bulb_c;
            c.months.dry_bulb_range_k = dry_bulb_range_k;
            c.months.wind_m_s = wind_m_s;
            if (ground_albedo) c.months.ground_albedo = *ground_albedo;
            return c;
          }),
          py::kw_only(), py::arg("latitude_deg"), py::arg("longitude_deg"), py::arg("utc_offset_h"),
          py::arg("horizontal_kwh_m2_day"), py::arg("dry_bulb_c"), py::arg("dry_bulb_range_k"), py::arg("wind_m_s"),
          py::arg("ground_albedo") = py::none(), py::arg("elevation_m") = 0.0, py::arg("name") = "",
          "A place of one's own: coordinates (north and east positive), standard time minus UTC in hours, and twelve "
          "values each of mean daily global irradiation (kWh/m2), mean air temperature (degC), mean daily range of "
          "air temperature (K) and wind (m/s); ground albedo 0.2 if not given. Values are checked where they are used.")
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
  hourly_classes(room);
}

}  // namespace warmledger::bind
