#include "warmledger/hotwater/simulation.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <memory>
#include <new>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/hotwater/fluid.hpp"
#include "warmledger/hotwater/kernel.hpp"

namespace warmledger::hotwater {

namespace kernel {
extern const Kernels baseline_kernels;
#ifdef WARMLEDGER_HAS_AVX2_KERNEL
extern const Kernels avx2_kernels;
#endif
#ifdef WARMLEDGER_HAS_AVX512_KERNEL
extern const Kernels avx512_kernels;
#endif
}  // namespace kernel

namespace {

constexpr std::size_t hours = kernel::hours_in_year;
constexpr std::size_t days = 365;
constexpr std::array<int, 12> month_days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

// Collector test flow, ASHRAE 93: 0.02 kg/(s m2) of water (from memory).
constexpr double test_rate_w_m2k = 0.02 * 4180;
// Rating condition of the uniform energy factor, 10 CFR 430 subpart B appendix E (from memory).
constexpr double rating_tank_c = units::celsius_from_fahrenheit(125);
constexpr double rating_room_c = units::celsius_from_fahrenheit(67.5);
constexpr double rating_heat_kwh = 55 * 8.293752 * 1.000743 * (125 - 58) * units::kwh_per_btu;
// Vertical conduction in a store: water 0.64 W/(m K) and an allowance for the wall; height 2.5 times the width (common
// proportions).
constexpr double conduction_w_mk = 1.0;
constexpr double height_over_width = 2.5;
// The element of a one-tank system heats at least this upper share of the tank.
constexpr double least_element_share = 0.1;
constexpr double scald_c = units::celsius_from_fahrenheit(120);
/// A thermostat set to that very temperature holds it to rounding, which is no scalding.
constexpr double thermostat_noise_k = 0.01;
constexpr double most_lift_one_pump_m = 25 * units::m_per_ft;
// Share of the load that may come too cold before the year says so.
constexpr double noted_overshoot_k = 5;  // of the high limit
constexpr double noted_shortfall = 0.01;

struct Isa {
  InstructionSet set;
  const kernel::Kernels* kernels;
};

std::vector<Isa> available() {
  std::vector<Isa> list{{InstructionSet::baseline, &kernel::baseline_kernels}};
#ifdef WARMLEDGER_HAS_AVX2_KERNEL
  if (__builtin_cpu_supports("avx2")) list.push_back({InstructionSet::avx2, &kernel::avx2_kernels});
#endif
#ifdef WARMLEDGER_HAS_AVX512_KERNEL
  if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq")) {
    list.push_back({InstructionSet::avx512, &kernel::avx512_kernels});
  }
#endif
  return list;
}

const kernel::Kernels& kernels_of(InstructionSet wanted) {
  static const std::vector<Isa> list = available();
  if (wanted == InstructionSet::automatic) return *list.back().kernels;
  for (const Isa& isa : list) {
    if (isa.set == wanted) return *isa.kernels;
  }
  throw errors::NotAvailable({{"", {}, {}, "instruction_set"},
                              std::string(name_of(wanted)),
                              "is not what this processor and this build have",
                              "automatic, baseline"});
}

/// Doubles on a 64-byte boundary, all zero.
class Numbers {
 public:
  explicit Numbers(std::size_t count)
      : data_(static_cast<double*>(::operator new(std::max<std::size_t>(count, 1) * sizeof(double), alignment))) {
    std::fill_n(data_.get(), count, 0.0);
  }
  [[nodiscard]] double* get() const { return data_.get(); }

 private:
  static constexpr std::align_val_t alignment{64};
  struct Release {
    void operator()(double* data) const { ::operator delete(data, alignment); }
  };
  std::unique_ptr<double, Release> data_;
};

void check_series(std::string_view key, std::span<const double> values, std::size_t count, double low, double high,
                  std::string_view unit) {
  if (values.size() != count) {
    throw errors::MissingValue({{"", {}, {}, std::string(key)},
                                fmt::format("{} values", values.size()),
                                "is not a year",
                                fmt::format("{} values", count)});
  }
  for (std::size_t i = 0; i < count; ++i) {
    if (!(values[i] >= low && values[i] <= high)) {
      errors::require_in_range(fmt::format("{}, {} {}", key, count == days ? "day" : "hour", i), values[i], low, high,
                               unit);
    }
  }
}

void check(const Weather& weather) {
  check_series("irradiance_w_m2", weather.irradiance_w_m2, hours, 0, 2000, "W/m2");
  check_series("dry_bulb_c", weather.dry_bulb_c, hours, -70, 65, "degC");
  check_series("mains_c", weather.mains_c, days, -5, 60, "degC");
}

kernel::Plan plan_of(const Case& c) {
  const bool store = c.existing.kind != HeaterKind::instantaneous;
  if (c.system.arrangement == Arrangement::one_tank) {
    return store ? kernel::Plan::one_tank_store : kernel::Plan::one_tank_flow;
  }
  return store ? kernel::Plan::two_tank_store : kernel::Plan::two_tank_flow;
}

int pumps_of(const Case& c) {
  return c.system.loop == Loop::drain_back && c.plant.lift_m > 0 ? pumps_for_lift(c.plant.lift_m) : 1;
}

double pump_w_of(const Case& c) {
  return c.plant.pump_each_w > 0 ? pumps_of(c) * c.plant.pump_each_w : c.system.pump_w;
}

double mean_of(std::span<const double> values) {
  double sum = 0;
  for (const double value : values) sum += value;
  return sum / static_cast<double>(values.size());
}

/// Heat capacity of a litre, measured at the set temperature, between the year's mean mains temperature and the set
/// one.
double water_j_lk_of(const Case& c, double mains_c) {
  return heat_kwh_per_litre(c.demand.set_temperature_c, mains_c) * units::joule_per_kwh /
         (c.demand.set_temperature_c - mains_c);
}

std::array<double, kernel::param_count> params_of(const Case& c, const SimulationOptions& options, double water_j_lk) {
  namespace k = kernel;
  const SolarSystem& system = c.system;
  const Plant& plant = c.plant;
  const double area = system.area_m2();
  const double dt = 60.0 * options.step_minutes;
  const bool glycol = system.loop == Loop::pressurized_glycol;
  const double fluid = loop_fluid_j_kgk(glycol ? plant.glycol_mass_share : 0);
  const double rate_w_m2k = system.flow_kg_s_m2 * fluid;
  const double rate_w_k = rate_w_m2k * area;

  // Test line to the flow in use (Duffie & Beckman 6.20, from memory): F'UL from the test, then FR at this flow. A flow
  // of the test too small for the line's loss cannot have been: held short of it.
  const double f_ul = -test_rate_w_m2k * std::log(1 - std::min(system.collector.loss_w_m2k / test_rate_w_m2k, 0.99));
  const double at_use = rate_w_m2k * -std::expm1(-f_ul / rate_w_m2k);
  const double at_test = test_rate_w_m2k * -std::expm1(-f_ul / test_rate_w_m2k);
  const double correction = at_use / at_test;
  const double loss = system.collector.loss_w_m2k * correction;
  // The collector node stands at the outlet temperature: its coefficients are those of the outlet, so that the steady
  // gain is the line at the inlet.
  const double outlet = correction / (1 - loss / rate_w_m2k);

  std::array<double, k::param_count> p{};
  p[k::absorb_m2] = area * system.collector.optical_efficiency * outlet * (1 - system.shading_share);
  p[k::loss_1_w_k] = area * system.collector.loss_w_m2k * outlet;
  p[k::loss_2_w_k2] = area * plant.loss_2_w_m2k2 * outlet;
  p[k::collector_j_k] = area * plant.heat_capacity_j_m2k;
  // Both halves of the pipe: excess over the air falls by `keep` in each; exchanger on the way.
  const double keep = std::exp(-system.pipe_ua_w_k / 2 / rate_w_k);
  const double exchange = system.exchanger_effectiveness * rate_w_k;
  p[k::pipe_keep] = keep;
  p[k::exchange_w_k] = exchange;
  p[k::loop_gain_w_k] = rate_w_k * (1 - keep * keep) + keep * keep * exchange;
  p[k::loop_store_w_k] = keep * exchange;
  p[k::on_k] = plant.on_difference_k;
  p[k::off_k] = plant.off_difference_k;
  p[k::limit_c] = plant.high_limit_c;
  p[k::limit_release_c] = plant.high_limit_c - plant.high_limit_release_k;
  p[k::stagnation_c] = glycol ? plant.stagnation_c : std::numeric_limits<double>::infinity();

  const double nodes = options.nodes;
  p[k::per_node_l] = nodes / system.storage_l;
  p[k::node_j_k] = system.storage_l / nodes * water_j_lk;
  const bool one_tank = system.arrangement == Arrangement::one_tank;
  const double heated = one_tank ? std::max(system.backup_share_of_tank, least_element_share) : 0;
  // The exchanger stays below the part that the element keeps hot. A mixed tank is reached whole by both.
  p[k::coil_nodes] = std::max(std::min(plant.exchanger_share_of_tank, 1 - heated) * nodes, 1.0);
  p[k::per_coil_nodes] = 1 / p[k::coil_nodes];
  p[k::element_nodes] = std::max(std::min(heated * nodes, nodes - 1), 1.0);
  p[k::node_keep] = std::exp(-system.tank_ua_w_k / nodes * dt / p[k::node_j_k]);
  const double width_m = std::cbrt(system.storage_l / 1000 * 4 / (units::radian_per_degree * 180 * height_over_width));
  const double section_m2 = units::radian_per_degree * 180 / 4 * width_m * width_m;
  const double between_w_k = conduction_w_mk * section_m2 / (height_over_width * width_m / nodes);
  // Exact for two nodes; never more than one half, so that no step overshoots.
  p[k::conduct] = 0.5 * -std::expm1(-2 * between_w_k * dt / p[k::node_j_k]);
  p[k::tank_room_c] = plant.tank_room_c;

  const Heater& heater = c.existing;
  p[k::water_j_lk] = water_j_lk;
  p[k::set_c] = c.demand.set_temperature_c;
  p[k::inlet_most_c] = plant.inlet_most_c;
  p[k::backup_j_k] = plan_of(c) == k::Plan::two_tank_store || plan_of(c) == k::Plan::one_tank_store
                         ? plant.backup_tank_l * water_j_lk
                         : 1;
  p[k::backup_ua_w_k] = thermal_standby_w_k(heater);
  p[k::backup_room_c] = heater.room_c;
  p[k::backup_set_c] = plant.thermostat_c.value_or(c.demand.set_temperature_c);
  p[k::backup_band_k] = plant.thermostat_band_k;
  p[k::input_w] = heater.input_w;
  const double rated = heater.recovery_efficiency;
  p[k::efficiency_0] = p[k::efficiency_least] = p[k::efficiency_most] = rated;
  if (heater.kind == HeaterKind::heat_pump) {
    p[k::efficiency_1_k] = rated * plant.cop_per_tank_k;
    p[k::efficiency_0] =
        rated * (1 + plant.cop_per_air_k * (heater.room_c - rating_room_c) - plant.cop_per_tank_k * rating_tank_c);
    p[k::efficiency_least] = std::min(1.0, rated);
    p[k::efficiency_most] = 2 * rated;
  }
  p[k::element_w] = plant.element_w;
  p[k::element_per_input] = element_efficiency;
  p[k::hot_tap_c] = scald_c + thermostat_noise_k;
  return p;
}

void to_months(climate::Monthly& months, const double* sums, kernel::Sum which, int lanes, int lane, double unit) {
  for (std::size_t m = 0; m < 12; ++m) {
    const std::size_t at = (m * kernel::sum_count + static_cast<std::size_t>(which)) * static_cast<std::size_t>(lanes) +
                           static_cast<std::size_t>(lane);
    months[m] = sums[at] / unit;
  }
}

double total(const climate::Monthly& months) {
  double sum = 0;
  for (const double month : months) sum += month;
  return sum;
}

SimulatedYear result_of(const Case& c, const Weather& weather, const kernel::Batch& batch, int lanes, int lane,
                        kernel::Plan plan) {
  namespace k = kernel;
  constexpr double kwh = units::joule_per_kwh;
  constexpr double hour = 3600;
  SimulatedYear r;
  climate::Monthly heat_without{};
  const auto months = [&](climate::Monthly& to, k::Sum which, double unit) {
    to_months(to, batch.sum, which, lanes, lane, unit);
  };
  months(r.year.load_kwh, k::load_j, kwh);
  months(r.delivered_kwh, k::delivered_j, kwh);
  months(r.delivered_without_kwh, k::delivered_without_j, kwh);
  months(r.absorbed_kwh, k::absorbed_j, kwh);
  months(r.collector_loss_kwh, k::collector_loss_j, kwh);
  months(r.pipe_loss_kwh, k::pipe_loss_j, kwh);
  months(r.into_store_kwh, k::exchanged_j, kwh);
  months(r.tank_loss_kwh, k::tank_loss_j, kwh);
  months(r.from_solar_tank_kwh, k::from_solar_j, kwh);
  months(r.backup_heat_kwh, k::backup_heat_j, kwh);
  months(r.year.backup_with_kwh, k::backup_fuel_j, kwh);
  months(r.standby_loss_kwh, k::standby_j, kwh);
  months(heat_without, k::heat_without_j, kwh);
  months(r.year.fuel_without_kwh, k::fuel_without_j, kwh);
  months(r.standby_loss_without_kwh, k::standby_without_j, kwh);
  months(r.drawn_litre, k::drawn_l, 1);
  months(r.pump_hours, k::pump_s, hour);
  months(r.high_limit_hours, k::limit_s, hour);
  months(r.stagnation_hours, k::stagnation_s, hour);
  months(r.hot_tap_hours, k::hot_tap_s, hour);

  const bool one_tank = c.system.arrangement == Arrangement::one_tank;
  r.year.fuel_without = c.existing.fuel;
  r.year.backup_fuel = one_tank ? prices::Fuel::electricity : c.existing.fuel;
  r.pumps = pumps_of(c);
  const double pump_kw = pump_w_of(c) / 1000;
  std::size_t first_hour = 0;
  std::size_t first_day = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    const auto length = static_cast<std::size_t>(month_days[m]);
    r.year.mains_c[m] = mean_of(weather.mains_c.subspan(first_day, length));
    r.year.tilted_kwh_m2_day[m] =
        mean_of(weather.irradiance_w_m2.subspan(first_hour, 24 * length)) * 24 / 1000 * (1 - c.system.shading_share);
    first_day += length;
    first_hour += 24 * length;
    const double load = r.year.load_kwh[m];
    // Heat that a cool preheat tank takes from its room is not the sun's.
    const double from_room = std::max(0.0, -r.tank_loss_kwh[m]);
    const double sun = (one_tank ? r.delivered_kwh[m] - r.backup_heat_kwh[m] : r.from_solar_tank_kwh[m]) - from_room;
    r.year.solar_kwh[m] = std::clamp(sun, 0.0, load);
    r.year.solar_fraction[m] = load > 0 ? r.year.solar_kwh[m] / load : 0;
    r.year.pump_kwh[m] = r.pump_hours[m] * pump_kw;
    r.conversion_loss_kwh[m] = r.year.backup_with_kwh[m] - r.backup_heat_kwh[m];
    r.conversion_loss_without_kwh[m] = r.year.fuel_without_kwh[m] - heat_without[m];
  }

  const auto mark = [&](k::Mark which) {
    return batch
        .mark[static_cast<std::size_t>(which) * static_cast<std::size_t>(lanes) + static_cast<std::size_t>(lane)];
  };
  const bool store = plan == k::Plan::two_tank_store || plan == k::Plan::one_tank_store;
  r.peak_tank_c = mark(k::peak_tank_c);
  r.peak_collector_c = mark(k::peak_collector_c);
  r.peak_backup_c = mark(k::peak_backup_c);
  r.worst_step_residual = mark(k::worst_step);
  r.storage_change_kwh = (mark(k::stored_end_j) - mark(k::stored_start_j)) / kwh;
  r.storage_change_without_kwh = store ? (mark(k::without_end_j) - mark(k::without_start_j)) / kwh : 0;

  // The year's balance from the monthly sums alone; the worse of the two systems.
  const auto sums_to = [](std::initializer_list<double> in, std::initializer_list<double> out, double change) {
    double net = -change;
    double through = 1e-9;
    for (const double part : in) {
      net += part;
      through += std::fabs(part);
    }
    for (const double part : out) {
      net -= part;
      through += std::fabs(part);
    }
    return std::fabs(net) / through;
  };
  const double with = sums_to({total(r.absorbed_kwh), total(r.backup_heat_kwh)},
                              {total(r.collector_loss_kwh), total(r.pipe_loss_kwh), total(r.tank_loss_kwh),
                               total(r.standby_loss_kwh), total(r.delivered_kwh)},
                              r.storage_change_kwh);
  const double without =
      sums_to({total(heat_without)}, {total(r.standby_loss_without_kwh), total(r.delivered_without_kwh)},
              r.storage_change_without_kwh);
  r.yearly_residual = std::max(with, without);
  // A defect of ours must not leave as a number: written so that NaN is caught too.
  if (!(with < 1e-6 && without < 1e-6 && r.worst_step_residual < 1e-6)) {
    throw errors::Error({{"", {}, {}, "simulation"},
                         fmt::format("{:.3g}", std::isnan(with) ? with : std::max(with, without)),
                         "is the share of energy that is lost in the balance of the year: please report this case",
                         "below 1e-6"});
  }

  if (r.peak_tank_c > c.plant.high_limit_c + noted_overshoot_k) {
    r.year.notes.push_back(fmt::format(
        "The solar tank reaches {:.0f} F, above the pump's limit of {:.0f} F: the collectors are large for the tank, "
        "and "
        "a step of the simulation brings more than the limit leaves. A real pump stops sooner.",
        units::fahrenheit_from_celsius(r.peak_tank_c), units::fahrenheit_from_celsius(c.plant.high_limit_c)));
  }
  const double load = total(r.year.load_kwh);
  const double cold = load - total(r.delivered_kwh);
  const double cold_without = load - total(r.delivered_without_kwh);
  if (load > 0 && cold_without > noted_shortfall * load) {
    r.year.notes.push_back(
        fmt::format("The existing heater alone does not keep up: {:.0f} of {:.0f} kWh a year of hot "
                    "water come below the set temperature.",
                    cold_without, load));
  }
  if (load > 0 && cold > noted_shortfall * load) {
    r.year.notes.push_back(
        fmt::format("With the solar system {:.0f} of {:.0f} kWh a year of hot water come below the "
                    "set temperature: the backup does not keep up.",
                    cold, load));
  }
  return r;
}

HourlyTrace trace_of(const kernel::Batch& batch, int lanes, int lane) {
  HourlyTrace trace;
  const auto fill = [&](std::vector<double>& to, kernel::Trace which) {
    to.resize(hours);
    for (std::size_t h = 0; h < hours; ++h) {
      to[h] =
          batch.trace[(h * kernel::trace_count + static_cast<std::size_t>(which)) * static_cast<std::size_t>(lanes) +
                      static_cast<std::size_t>(lane)];
    }
  };
  fill(trace.tank_top_c, kernel::trace_top_c);
  fill(trace.tank_bottom_c, kernel::trace_bottom_c);
  fill(trace.collector_c, kernel::trace_collector_c);
  fill(trace.backup_c, kernel::trace_backup_c);
  fill(trace.without_c, kernel::trace_without_c);
  fill(trace.drawn_l, kernel::trace_drawn_l);
  fill(trace.hot_l, kernel::trace_hot_l);
  fill(trace.backup_w, kernel::trace_backup_w);
  fill(trace.solar_w, kernel::trace_solar_w);
  return trace;
}

std::shared_ptr<const HoursOfDay> hours_of(const kernel::Batch& batch, double pump_w, int lanes, int lane) {
  constexpr double j_per_kwh = 3.6e6;
  auto hours_of_day = std::make_shared<HoursOfDay>();
  for (std::size_t month = 0; month < 12; ++month) {
    for (std::size_t hour = 0; hour < 24; ++hour) {
      const auto sum = [&](std::size_t which) {
        const std::size_t cell = (month * 24 + hour) * kernel::day_sum_count + which;
        return batch.day[cell * static_cast<std::size_t>(lanes) + static_cast<std::size_t>(lane)];
      };
      // Differences of running sums: what is nothing may come out a hair below it.
      hours_of_day->backup_kwh[month][hour] = std::max(0.0, sum(0)) / j_per_kwh;
      hours_of_day->fuel_without_kwh[month][hour] = std::max(0.0, sum(1)) / j_per_kwh;
      hours_of_day->pump_kwh[month][hour] = std::max(0.0, sum(2)) * pump_w / j_per_kwh;
    }
  }
  return hours_of_day;
}

/// Cases of one plan, lane by lane; lanes left over repeat the last case.
void run_batch(std::span<const Case> cases, std::span<const std::size_t> members, const Weather& common,
               const DrawProfile& family, const SimulationOptions& options, kernel::Plan plan, kernel::Run run,
               int lanes, std::vector<SimulatedYear>& results) {
  namespace k = kernel;
  const auto width = static_cast<std::size_t>(lanes);
  const auto nodes = static_cast<std::size_t>(options.nodes);
  const auto steps_a_day = static_cast<std::size_t>(1440 / options.step_minutes);
  static const std::vector<double> ones(hours, 1.0);

  const Numbers param(k::param_count * width);
  const Numbers draw(steps_a_day * width);
  const Numbers tank((nodes + 1) * width);
  const Numbers scratch((nodes + 1) * width);
  const Numbers start(3 * width);
  const Numbers sum(k::months_and_warm_up * k::sum_count * width);
  const Numbers mark(k::mark_count * width);
  const Numbers trace(options.trace ? hours * k::trace_count * width : 0);
  const Numbers day_hours(options.hours_of_day ? 12 * 24 * k::day_sum_count * width : 0);
  std::vector<const double*> factor(width), irradiance(width), dry_bulb(width), mains(width);

  k::Batch batch;
  batch.nodes = options.nodes;
  batch.steps_per_hour = 60 / options.step_minutes;
  batch.warm_up_hours = 24 * options.warm_up_days;
  batch.coil_first = options.nodes - 1;
  for (std::size_t lane = 0; lane < width; ++lane) {
    const Case& c = cases[members[std::min(lane, members.size() - 1)]];
    const Weather& weather = c.weather != nullptr ? *c.weather : common;
    const DrawProfile& profile = c.profile != nullptr ? *c.profile : family;
    factor[lane] = profile.hour_factors().empty() ? ones.data() : profile.hour_factors().data();
    irradiance[lane] = weather.irradiance_w_m2.data();
    dry_bulb[lane] = weather.dry_bulb_c.data();
    mains[lane] = weather.mains_c.data();

    const double mean_mains = mean_of(weather.mains_c);
    const auto params = params_of(c, options, water_j_lk_of(c, mean_mains));
    for (std::size_t p = 0; p < params.size(); ++p) param.get()[p * width + lane] = params[p];
    const std::vector<double> day = profile.day_steps(options.step_minutes);
    for (std::size_t s = 0; s < steps_a_day; ++s) draw.get()[s * width + lane] = day[s] * c.demand.litre_day;

    const bool one_tank = c.system.arrangement == Arrangement::one_tank;
    // Height of slot i over the bottom varies by one node with the draws: the lowest and highest it can reach.
    const int coil_first = options.nodes - static_cast<int>(std::ceil(params[k::coil_nodes]));
    batch.coil_first = std::min(batch.coil_first, std::max(coil_first, 0));
    batch.element_last = std::max(batch.element_last,
                                  std::min(static_cast<int>(std::ceil(params[k::element_nodes])), options.nodes - 1));
    const auto hot_slots = one_tank ? static_cast<std::size_t>(params[k::element_nodes]) : 0;
    for (std::size_t i = 0; i <= nodes; ++i) {
      tank.get()[i * width + lane] = i < hot_slots ? params[k::backup_set_c] : mean_mains;
    }
    start.get()[lane] = weather.dry_bulb_c[0];
    const bool store = plan == k::Plan::two_tank_store || plan == k::Plan::one_tank_store;
    start.get()[width + lane] = store && !one_tank ? params[k::backup_set_c] : mean_mains;
    start.get()[2 * width + lane] = store ? params[k::backup_set_c] : mean_mains;
  }
  batch.param = param.get();
  batch.draw = draw.get();
  batch.hour_factor = factor.data();
  batch.irradiance = irradiance.data();
  batch.dry_bulb = dry_bulb.data();
  batch.mains = mains.data();
  batch.tank = tank.get();
  batch.scratch = scratch.get();
  batch.start = start.get();
  batch.sum = sum.get();
  batch.mark = mark.get();
  batch.trace = options.trace ? trace.get() : nullptr;
  batch.day = options.hours_of_day ? day_hours.get() : nullptr;

  run(batch, plan);

  for (std::size_t lane = 0; lane < members.size(); ++lane) {
    const Case& c = cases[members[lane]];
    const Weather& weather = c.weather != nullptr ? *c.weather : common;
    SimulatedYear result = result_of(c, weather, batch, lanes, static_cast<int>(lane), plan);
    if (options.trace) result.trace = trace_of(batch, lanes, static_cast<int>(lane));
    if (options.hours_of_day) result.hours_of_day = hours_of(batch, pump_w_of(c), lanes, static_cast<int>(lane));
    results[members[lane]] = std::move(result);
  }
}

}  // namespace

void check(const Plant& plant) {
  using errors::require_in_range;
  require_in_range("loss_2_w_m2k2", plant.loss_2_w_m2k2, 0, 1, "W/(m2 K2)");
  require_in_range("heat_capacity_j_m2k", plant.heat_capacity_j_m2k, 500, 100000, "J/(m2 K)");
  require_in_range("on_difference_k", plant.on_difference_k, 0, 50, "K");
  require_in_range("off_difference_k", plant.off_difference_k, 0, 50, "K");
  if (!(plant.off_difference_k < plant.on_difference_k)) {
    throw errors::Contradiction({{"", {}, {}, "off_difference_k"},
                                 errors::plain_number(plant.off_difference_k),
                                 fmt::format("is not below the difference of {} K that starts the pump",
                                             errors::plain_number(plant.on_difference_k)),
                                 "below on_difference_k"});
  }
  require_in_range("high_limit_c", plant.high_limit_c, 40, 99, "degC");
  require_in_range("high_limit_release_k", plant.high_limit_release_k, 0, 30, "K");
  require_in_range("exchanger_share_of_tank", plant.exchanger_share_of_tank, 0.01, 1);
  require_in_range("tank_room_c", plant.tank_room_c, -30, 60, "degC");
  require_in_range("glycol_mass_share", plant.glycol_mass_share, 0, 0.6);
  require_in_range("stagnation_c", plant.stagnation_c, 80, 250, "degC");
  require_in_range("lift_m", plant.lift_m, 0, 50 * units::m_per_ft, "m");
  require_in_range("pump_each_w", plant.pump_each_w, 0, 1000, "W");
  require_in_range("backup_tank_l", plant.backup_tank_l, 5, 5000, "litres");
  if (plant.thermostat_c) require_in_range("thermostat_c", *plant.thermostat_c, 30, 95, "degC");
  require_in_range("thermostat_band_k", plant.thermostat_band_k, 0, 20, "K");
  require_in_range("inlet_most_c", plant.inlet_most_c, 15, 95, "degC");
  require_in_range("element_w", plant.element_w, 100, 1e5, "W");
  require_in_range("cop_per_tank_k", plant.cop_per_tank_k, -0.05, 0, "1/K");
  require_in_range("cop_per_air_k", plant.cop_per_air_k, 0, 0.05, "1/K");
}

void check(const Case& one, std::span<const double> mains_c) {
  check(one.system);
  check(one.plant);
  check(one.demand);
  check(one.existing);
  const double warmest = *std::max_element(mains_c.begin(), mains_c.end());
  if (!(one.demand.set_temperature_c > warmest)) {
    throw errors::ValueOutOfRange({{"", {}, {}, "set_temperature_c"},
                                   errors::plain_number(one.demand.set_temperature_c),
                                   fmt::format("is not above the mains water, which reaches {:.1f} degC", warmest),
                                   fmt::format("above {:.1f} degC", warmest)});
  }
  const double thermostat = one.plant.thermostat_c.value_or(one.demand.set_temperature_c);
  if (!(thermostat > warmest)) {
    throw errors::ValueOutOfRange({{"", {}, {}, "thermostat_c"},
                                   errors::plain_number(thermostat),
                                   fmt::format("is not above the mains water, which reaches {:.1f} degC", warmest),
                                   fmt::format("above {:.1f} degC", warmest)});
  }
}

void check(const SimulationOptions& options) {
  using errors::require_in_range;
  require_in_range("step_minutes", options.step_minutes, 1, 60, "minutes, a divisor of 60");
  if (60 % options.step_minutes != 0) {
    throw errors::ValueOutOfRange({{"", {}, {}, "step_minutes"},
                                   fmt::format("{}", options.step_minutes),
                                   "does not divide the hour",
                                   "1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30 or 60 minutes"});
  }
  require_in_range("nodes", options.nodes, 1, 50, "nodes");
  require_in_range("warm_up_days", options.warm_up_days, 0, 365, "days");
  require_in_range("lanes", options.lanes, 0, 1, "lanes: 1, or 0 for as many as suit the processor");
}

int pumps_for_lift(double lift_m) {
  errors::require_in_range("lift_m", lift_m, 0, 50 * units::m_per_ft, "m");
  return lift_m > most_lift_one_pump_m ? 2 : 1;
}

double thermal_standby_w_k(const Heater& heater) {
  // The daily energy equation: input = heat/RE + UA dT (24 h - heat/(RE P)). The tank here loses UA' dT all day, made
  // up through RE: input = (heat + 24 h UA' dT)/RE. Equal for the rating day's heat:
  const double heating_share = rating_heat_kwh / (24 * heater.recovery_efficiency * heater.input_w / 1000);
  return heater.standby_ua_w_k * heater.recovery_efficiency * std::max(1 - heating_share, 0.0);
}

std::string_view name_of(InstructionSet set) {
  switch (set) {
    case InstructionSet::automatic:
      return "automatic";
    case InstructionSet::baseline:
      return "baseline";
    case InstructionSet::avx2:
      return "avx2";
    case InstructionSet::avx512:
      return "avx512";
  }
  return "";
}

std::vector<InstructionSet> available_instruction_sets() {
  std::vector<InstructionSet> sets;
  for (const Isa& isa : available()) sets.push_back(isa.set);
  return sets;
}

std::vector<SimulatedYear> simulate(std::span<const Case> cases, const Weather& weather,
                                    const SimulationOptions& options) {
  check(options);
  const kernel::Kernels& kernels = kernels_of(options.instruction_set);
  check(weather);
  const Weather* checked = &weather;
  for (std::size_t i = 0; i < cases.size(); ++i) {
    try {
      if (cases[i].weather != nullptr && cases[i].weather != checked) {
        check(*cases[i].weather);
        checked = cases[i].weather;
      }
      check(cases[i], cases[i].weather != nullptr ? cases[i].weather->mains_c : weather.mains_c);
    } catch (const errors::Contradiction& error) {
      if (cases.size() == 1) throw;
      errors::Problem problem = error.problem();
      problem.where.row = static_cast<long>(i + 1);
      throw errors::Contradiction(std::move(problem));
    } catch (const errors::MissingValue& error) {
      if (cases.size() == 1) throw;
      errors::Problem problem = error.problem();
      problem.where.row = static_cast<long>(i + 1);
      throw errors::MissingValue(std::move(problem));
    } catch (const errors::ValueOutOfRange& error) {
      if (cases.size() == 1) throw;
      errors::Problem problem = error.problem();
      problem.where.row = static_cast<long>(i + 1);
      throw errors::ValueOutOfRange(std::move(problem));
    }
  }

  static const DrawProfile family = DrawProfile::family();
  std::vector<SimulatedYear> results(cases.size());
  std::vector<std::size_t> members;
  for (const kernel::Plan plan : {kernel::Plan::two_tank_store, kernel::Plan::two_tank_flow,
                                  kernel::Plan::one_tank_store, kernel::Plan::one_tank_flow}) {
    members.clear();
    for (std::size_t i = 0; i < cases.size(); ++i) {
      if (plan_of(cases[i]) == plan) members.push_back(i);
    }
    std::span<const std::size_t> left(members);
    while (!left.empty()) {
      // A single one does not carry idle lanes along.
      const bool single = options.lanes == 1 || left.size() == 1;
      const int lanes = single ? 1 : kernels.lanes;
      const std::span<const std::size_t> batch = left.first(std::min(left.size(), static_cast<std::size_t>(lanes)));
      run_batch(cases, batch, weather, family, options, plan, single ? kernels.one : kernels.many, lanes, results);
      left = left.subspan(batch.size());
    }
  }
  return results;
}

SimulatedYear simulate(const Case& one, const Weather& weather, const SimulationOptions& options) {
  return std::move(simulate(std::span<const Case>(&one, 1), weather, options).front());
}

}  // namespace warmledger::hotwater
