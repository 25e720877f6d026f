#include "warmledger/hotwater/year.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <fmt/format.h>

#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::hotwater {

namespace {

constexpr std::array<std::string_view, 12> month_names{"January",   "February", "March",    "April",
                                                       "May",       "June",     "July",     "August",
                                                       "September", "October",  "November", "December"};

// Fitted ranges of the correlation for liquid systems (Klein, Beckman & Duffie 1976; ends of X and Y from memory).
constexpr double greatest_x = 18;
constexpr double greatest_y = 3;
constexpr double least_litre_per_m2 = 37.5;
constexpr double greatest_litre_per_m2 = 300;

// Heat capacity of the collector fluid at about 50 degC: water 4180 (IAPWS-IF97), propylene glycol of 50 % by mass
// 3645 (between 3607 at 40 and 3683 at 60 degC of Melinder's 2010 fit), J/(kg K).
double fluid_j_kgk(Loop loop) {
  return loop == Loop::drain_back ? 4180.0 : 3645.0;
}

/// The largest of twelve values and the month it stands in, for a note.
struct Peak {
  double value = 0;
  std::size_t month = 0;
  void see(double candidate, std::size_t at) {
    if (candidate > value) {
      value = candidate;
      month = at;
    }
  }
};

}  // namespace

std::string_view name_of(Detail detail) {
  return detail == Detail::hourly ? "hourly" : "monthly";
}

Detail detail_named(std::string_view name) {
  for (const Detail detail : {Detail::hourly, Detail::monthly}) {
    if (name_of(detail) == name) return detail;
  }
  throw errors::unknown_name("detail", name, {"hourly", "monthly"});
}

double Year::yearly(const climate::Monthly& months) const {
  return std::accumulate(months.begin(), months.end(), 0.0);
}

double Year::solar_fraction_by_heat() const {
  const double load = yearly(load_kwh);
  return load > 0 ? yearly(solar_kwh) / load : 0;
}

double Year::solar_fraction_by_fuel() const {
  const double without = yearly(fuel_without_kwh);
  return without > 0 ? 1 - yearly(backup_with_kwh) / without : 0;
}

double correlation_fraction(double x, double y) {
  return 1.029 * y - 0.065 * x - 0.245 * y * y + 0.0018 * x * x + 0.0215 * y * y * y;
}

double storage_size_factor(double litre_per_m2) {
  const double held = std::clamp(litre_per_m2, least_litre_per_m2, greatest_litre_per_m2);
  return 1 / std::sqrt(std::sqrt(held / 75));
}

double water_heating_factor(double set_c, double mains_c, double air_c) {
  return (11.6 + 1.18 * set_c + 3.86 * mains_c - 2.32 * air_c) / (100 - air_c);
}

double exchanger_factor(double area_m2, double loss_w_m2k, double collector_rate_w_k, double weaker_rate_w_k,
                        double effectiveness) {
  // deWinter (1975), in the form of Duffie & Beckman.
  return 1 /
         (1 + area_m2 * loss_w_m2k / collector_rate_w_k * (collector_rate_w_k / (effectiveness * weaker_rate_w_k) - 1));
}

CorrelationMonth correlate_month(const CorrelationInput& month) {
  CorrelationMonth result;
  result.water_heating_factor = water_heating_factor(month.set_c, month.mains_c, month.air_c);
  if (!(month.load_kwh > 0)) return result;
  const double hours = 24 * month.days;
  const double area = month.area_m2 * month.exchanger_factor;
  result.x_reference = area * month.loss_w_m2k * (100 - month.air_c) * hours / (1000 * month.load_kwh);
  result.x = result.x_reference * month.storage_factor * result.water_heating_factor;
  result.y = area * month.optical_efficiency * month.mean_incidence_factor * month.tilted_kwh_m2_day * month.days /
             month.load_kwh;
  result.fraction = std::clamp(correlation_fraction(std::min(result.x, greatest_x), result.y), 0.0, 1.0);
  return result;
}

Year correlate(const SolarSystem& system, const Demand& demand, const Heater& existing,
               const climate::Climate& climate) {
  check(system);
  return correlate(system, demand, existing, climate,
                   climate::tilted_irradiation(climate, system.tilt_deg, system.azimuth_deg),
                   climate::mains_by_month_c(climate));
}

Year correlate(const SolarSystem& system, const Demand& demand, const Heater& existing, const climate::Climate& climate,
               const climate::Monthly& tilted_kwh_m2_day, const climate::Monthly& mains_c) {
  check(system);
  check(demand);
  check(existing);

  const bool one_tank = system.arrangement == Arrangement::one_tank;
  const double area = system.area_m2();
  // One tank: only the volume below the part kept hot by the element stores solar heat; V_sol = V_nom (1 - f_aux) as in
  // EN 15316-4-3 (from memory).
  const double solar_volume_l = system.storage_l * (one_tank ? 1 - system.backup_share_of_tank : 1.0);
  const double litre_per_m2 = solar_volume_l / area;
  // Equal flow capacities on both sides of the exchanger are assumed, so the weaker side is the collector's.
  const double collector_rate_w_k = system.flow_kg_s_m2 * area * fluid_j_kgk(system.loop);
  const FieldLine field = with_pipes(system.collector.optical_efficiency, system.collector.loss_w_m2k, area,
                                     system.pipe_ua_w_k, collector_rate_w_k);
  CorrelationInput input;
  input.area_m2 = area;
  input.optical_efficiency = field.optical_efficiency;
  input.loss_w_m2k = field.loss_w_m2k;
  input.mean_incidence_factor = system.collector.mean_incidence_factor;
  input.exchanger_factor =
      exchanger_factor(area, field.loss_w_m2k, collector_rate_w_k, collector_rate_w_k, system.exchanger_effectiveness);
  input.storage_factor = storage_size_factor(litre_per_m2);
  input.set_c = demand.set_temperature_c;

  Year year;
  year.mains_c = mains_c;
  year.fuel_without = existing.fuel;
  year.backup_fuel = one_tank ? prices::Fuel::electricity : existing.fuel;

  // The correlation counts the loss of the solar store in; the upper part that an element keeps hot loses more, and
  // this is made up by the element in all hours.
  const double kept_hot_w = one_tank ? system.tank_ua_w_k * system.backup_share_of_tank *
                                           std::max(0.0, demand.set_temperature_c - existing.room_c)
                                     : 0.0;

  Peak x_peak, y_peak;
  bool negative_x = false;
  double sun_kwh_m2 = 0;
  double greatest_heat_day = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    const double days = climate::days_in_month[m];
    errors::require_in_range("mains_c", mains_c[m], -5, 60, "degC");
    errors::require_in_range("dry_bulb_c", climate.months.dry_bulb_c[m], -70, 60, "degC");
    errors::require_in_range("tilted_kwh_m2_day", tilted_kwh_m2_day[m], 0, 20, "kWh/m2 a day");
    if (!(demand.set_temperature_c > mains_c[m])) {
      throw errors::ValueOutOfRange(
          {{"", {}, {}, "set_temperature_c"},
           errors::plain_number(demand.set_temperature_c),
           fmt::format("is not above the mains water, which has {:.1f} degC in {}", mains_c[m], month_names[m]),
           fmt::format("above {:.1f} degC", mains_c[m])});
    }
    const double heat_day = demand.litre_day * heat_kwh_per_litre(demand.set_temperature_c, mains_c[m]);
    greatest_heat_day = std::max(greatest_heat_day, heat_day);
    year.tilted_kwh_m2_day[m] = tilted_kwh_m2_day[m] * (1 - system.shading_share);
    year.load_kwh[m] = heat_day * days;

    input.mains_c = mains_c[m];
    input.air_c = climate.months.dry_bulb_c[m];
    input.tilted_kwh_m2_day = year.tilted_kwh_m2_day[m];
    input.days = days;
    input.load_kwh = year.load_kwh[m];
    const CorrelationMonth step = correlate_month(input);
    x_peak.see(step.x, m);
    y_peak.see(step.y, m);
    negative_x = negative_x || step.x < 0;

    year.solar_fraction[m] = step.fraction;
    year.solar_kwh[m] = step.fraction * year.load_kwh[m];
    year.fuel_without_kwh[m] = energy_in_kwh_day(existing, heat_day, demand.set_temperature_c) * days;
    const double rest_day = heat_day * (1 - step.fraction);
    year.backup_with_kwh[m] = one_tank ? (rest_day / element_efficiency + 24 * kept_hot_w / 1000) * days
                                       : energy_in_kwh_day(existing, rest_day, demand.set_temperature_c) * days;
    sun_kwh_m2 += year.tilted_kwh_m2_day[m] * days;
  }
  for (std::size_t m = 0; m < 12 && sun_kwh_m2 > 0; ++m) {
    // The pumps run with the sun: the year's hours are shared among the months by the irradiation on the collectors.
    year.pump_kwh[m] =
        system.pump_w / 1000 * pump_hours_per_year * year.tilted_kwh_m2_day[m] * climate::days_in_month[m] / sun_kwh_m2;
  }

  if (x_peak.value > greatest_x) {
    year.notes.push_back(
        fmt::format("Monthly correlation: the loss ratio X reaches {:.1f} in {}, above its fitted range 0 "
                    "to 18; the value at 18 is used.",
                    x_peak.value, month_names[x_peak.month]));
  }
  if (negative_x) {
    year.notes.emplace_back(
        "Monthly correlation: the loss ratio X is below 0 in a month hotter than the water asked for; its "
        "fitted range is 0 to 18.");
  }
  if (y_peak.value > greatest_y) {
    year.notes.push_back(
        fmt::format("Monthly correlation: the gain ratio Y reaches {:.1f} in {}, above its fitted range 0 "
                    "to 3; the system is large for this demand.",
                    y_peak.value, month_names[y_peak.month]));
  }
  if (litre_per_m2 < least_litre_per_m2 || litre_per_m2 > greatest_litre_per_m2) {
    year.notes.push_back(
        fmt::format("Monthly correlation: {:.1f} litres of solar storage per m2 of collector are outside "
                    "its fitted range 37.5 to 300; the end of the range is used.",
                    litre_per_m2));
  }
  if (greatest_heat_day > 24 * existing.input_w / 1000 * existing.recovery_efficiency) {
    year.notes.push_back(
        fmt::format("The existing heater's input of {} W cannot make the {:.1f} kWh of heat asked for on "
                    "a day of the coldest mains water.",
                    errors::plain_number(existing.input_w), greatest_heat_day));
  }
  return year;
}

}  // namespace warmledger::hotwater
