// The simulation's equations for one system, written to be read: plain doubles, ifs and loops. The tests hold the
// library's step loop against it, the benchmark measures against its speed.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <vector>

#include "warmledger/hotwater/fluid.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/hotwater/year.hpp"

namespace support {

namespace hw = warmledger::hotwater;

/// Months in J, litres or s.
struct PlainMonth {
  double load = 0, delivered = 0, delivered_without = 0, absorbed = 0, collector_loss = 0, pipe_loss = 0;
  double into_store = 0, tank_loss = 0, from_solar_tank = 0, backup_heat = 0, backup_fuel = 0, standby = 0;
  double heat_without = 0, fuel_without = 0, standby_without = 0, litres = 0;
  double pump_s = 0, limit_s = 0, stagnation_s = 0, hot_tap_s = 0;
};
struct PlainYear {
  std::array<PlainMonth, 12> months{};
  double peak_tank = -273.15, peak_collector = -273.15, peak_backup = -273.15;
};

class PlainSimulation {
 public:
  PlainSimulation(const hw::Case& c, const hw::Weather& weather, const hw::SimulationOptions& options)
      : case_(c), weather_(weather), options_(options) {
    const auto& system = c.system;
    const auto& plant = c.plant;
    dt_ = 60.0 * options.step_minutes;
    nodes_ = options.nodes;
    one_tank_ = system.arrangement == hw::Arrangement::one_tank;
    has_store_ = c.existing.kind != hw::HeaterKind::instantaneous;

    // Water: one heat capacity per litre, between the mean mains temperature and the set temperature.
    double mains = 0;
    for (const double day : weather.mains_c) mains += day / 365;
    mean_mains_ = mains;
    set_ = c.demand.set_temperature_c;
    water_ = hw::heat_kwh_per_litre(set_, mains) * 3.6e6 / (set_ - mains);

    // Collectors: the test line corrected to the flow in use, then turned from the inlet to the outlet temperature.
    const double area = system.area_m2();
    const bool glycol = system.loop == hw::Loop::pressurized_glycol;
    const double fluid = hw::loop_fluid_j_kgk(glycol ? plant.glycol_mass_share : 0);
    const double per_m2 = system.flow_kg_s_m2 * fluid;
    const double test = 0.02 * 4180;
    const double f_ul = -test * std::log(1 - std::min(system.collector.loss_w_m2k / test, 0.99));
    const double correction = per_m2 * (1 - std::exp(-f_ul / per_m2)) / (test * (1 - std::exp(-f_ul / test)));
    const double fr_ul = system.collector.loss_w_m2k * correction;
    const double outlet = correction / (1 - fr_ul / per_m2);
    absorb_ = area * system.collector.optical_efficiency * outlet * (1 - system.shading_share);
    loss_1_ = area * system.collector.loss_w_m2k * outlet;
    loss_2_ = area * plant.loss_2_w_m2k2 * outlet;
    collector_j_k_ = area * plant.heat_capacity_j_m2k;
    rate_ = per_m2 * area;
    exchange_ = system.exchanger_effectiveness * rate_;
    pipe_keep_ = std::exp(-system.pipe_ua_w_k / 2 / rate_);
    stagnation_ = glycol ? plant.stagnation_c : std::numeric_limits<double>::infinity();

    // Solar tank.
    per_node_l_ = nodes_ / system.storage_l;
    node_j_k_ = system.storage_l / nodes_ * water_;
    keep_ = std::exp(-system.tank_ua_w_k / nodes_ * dt_ / node_j_k_);
    const double width = std::cbrt(system.storage_l / 1000 * 4 / (std::numbers::pi * 2.5));
    const double between = 1.0 * std::numbers::pi / 4 * width * width / (2.5 * width / nodes_);
    conduct_ = 0.5 * (1 - std::exp(-2 * between * dt_ / node_j_k_));
    const double heated = one_tank_ ? std::max(system.backup_share_of_tank, 0.1) : 0;
    coil_nodes_ = std::max(std::min(plant.exchanger_share_of_tank, 1 - heated) * nodes_, 1.0);
    element_nodes_ = std::max(std::min(heated * nodes_, nodes_ - 1.0), 1.0);
    thermostat_ = plant.thermostat_c.value_or(set_);
    temperature_.assign(static_cast<std::size_t>(nodes_) + 1, mains);
    if (one_tank_) {
      for (int i = 0; i < static_cast<int>(element_nodes_); ++i) at(i) = thermostat_;
    }
    pools_.reserve(temperature_.size());

    collector_ = weather.dry_bulb_c[0];
    backup_.temperature = has_store_ && !one_tank_ ? thermostat_ : mains;
    alone_.temperature = has_store_ ? thermostat_ : mains;
    backup_j_k_ = has_store_ ? plant.backup_tank_l * water_ : 1;
    backup_ua_ = hw::thermal_standby_w_k(c.existing);
  }

  PlainYear run() {
    static const hw::DrawProfile family = hw::DrawProfile::family();
    const hw::DrawProfile& profile = case_.profile != nullptr ? *case_.profile : family;
    const std::vector<double> day = profile.day_steps(options_.step_minutes);
    const int steps = 60 / options_.step_minutes;
    constexpr std::array<int, 12> days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    PlainYear year;
    for (int hour = 8760 - 24 * options_.warm_up_days; hour < 8760; ++hour) {
      PlainMonth ignored;
      run_hour(hour, day, profile.hour_factors(), steps, ignored);
    }
    peaks_ = PlainYear{};
    int hour = 0;
    for (std::size_t month = 0; month < 12; ++month) {
      for (const int end = hour + 24 * days[month]; hour < end; ++hour) {
        run_hour(hour, day, profile.hour_factors(), steps, year.months[month]);
      }
    }
    year.peak_tank = peaks_.peak_tank;
    year.peak_collector = peaks_.peak_collector;
    year.peak_backup = peaks_.peak_backup;
    return year;
  }

 private:
  struct Store {
    double temperature = 0;
    bool on = false;
    double mean = 0, heat_w = 0, fuel_w = 0;  // of the last step
  };
  struct Stretch {  // pump on or off for a time; temperatures over the air's
    double start, end, mean, time, slope, change, exponent, end_share, mean_share;
    bool on;
  };
  struct Pool {
    double content, volume;
    int slots;
  };

  double& at(int i) { return temperature_[static_cast<std::size_t>(i)]; }
  double volume(int i) const { return i == 0 ? 1 - fill_ : i == nodes_ ? fill_ : 1; }

  void run_hour(int hour, const std::vector<double>& day, const std::vector<double>& factors, int steps,
                PlainMonth& m) {
    const auto h = static_cast<std::size_t>(hour);
    const double factor = factors.empty() ? 1 : factors[h];
    for (int s = 0; s < steps; ++s) {
      const double litres = day[static_cast<std::size_t>(hour % 24 * steps + s)] * case_.demand.litre_day * factor;
      step(weather_.irradiance_w_m2[h], weather_.dry_bulb_c[h], weather_.mains_c[h / 24], litres, m);
    }
  }

  void step(double irradiance, double air, double mains, double litres, PlainMonth& m) {
    const auto& plant = case_.plant;
    // 1. How much hot water the valve takes, and half of the draw.
    const double rise = std::max(set_ - mains, 0.0);
    const double load = litres * water_ * rise;
    const double top_before = at(0);
    double hot = 0;
    if (one_tank_) {
      hot = valve(litres, rise, top_before - mains);
    } else if (has_store_) {
      hot = valve(litres, rise, backup_.temperature - mains);
    } else {
      hot = valve(litres, std::max(std::min(set_, plant.inlet_most_c) - mains, 0.0), top_before - mains);
    }
    double drawn = draw(0.5 * hot * per_node_l_, mains);

    // 2. Element, 3. sun, 4. the rest of the draw.
    if (one_tank_) element(m);
    sun(irradiance, air, m);
    drawn += draw(0.5 * hot * per_node_l_, mains);
    const double drawn_j = drawn * node_j_k_;
    const double cold_j = hot * water_ * mains;
    m.load += load;
    m.litres += litres;
    m.from_solar_tank += drawn_j - cold_j;

    // 5. Backup.
    double source = top_before;
    if (one_tank_) {
      m.delivered += drawn_j - cold_j;
    } else if (has_store_) {
      heat_store(backup_, drawn_j / dt_, hot * water_ / dt_);
      m.delivered += hot * water_ * backup_.mean - cold_j;
      m.backup_heat += backup_.heat_w * dt_;
      m.backup_fuel += backup_.fuel_w * dt_;
      m.standby += backup_ua_ * (backup_.mean - case_.existing.room_c) * dt_;
      source = backup_.mean;
      peaks_.peak_backup = std::max(peaks_.peak_backup, backup_.temperature);
    } else {
      const double most = case_.existing.input_w * case_.existing.recovery_efficiency * dt_;
      const double heat = std::clamp(load - (drawn_j - cold_j), 0.0, most);
      m.delivered += drawn_j - cold_j + heat;
      m.backup_heat += heat;
      m.backup_fuel += heat / case_.existing.recovery_efficiency;
    }
    // A hundredth of a kelvin over 120 F: a thermostat set to that holds it to rounding.
    if (source > 120.0 * 5 / 9 - 32.0 * 5 / 9 + 0.01 && litres > 0) m.hot_tap_s += dt_;

    // 6. The heater alone.
    if (has_store_) {
      const double flow = valve(litres, rise, alone_.temperature - mains) * water_;
      heat_store(alone_, flow * mains / dt_, flow / dt_);
      m.delivered_without += flow * (alone_.mean - mains);
      m.heat_without += alone_.heat_w * dt_;
      m.fuel_without += alone_.fuel_w * dt_;
      m.standby_without += backup_ua_ * (alone_.mean - case_.existing.room_c) * dt_;
    } else {
      const double heat = std::min(load, case_.existing.input_w * case_.existing.recovery_efficiency * dt_);
      m.delivered_without += heat;
      m.heat_without += heat;
      m.fuel_without += heat / case_.existing.recovery_efficiency;
    }

    // 7. Conduction and loss.
    rest(m);
    peaks_.peak_tank = std::max(peaks_.peak_tank, at(0));
  }

  static double valve(double litres, double rise, double source_rise) {
    return source_rise > rise ? litres * (rise / source_rise) : litres;
  }

  double draw(double amount, double mains) {
    double drawn = 0;
    while (amount > 0) {
      const bool empties = fill_ + amount >= 1;
      const double take = empties ? 1 - fill_ : amount;
      drawn += take * at(0);
      if (fill_ + take > 0) at(nodes_) += take / (fill_ + take) * (mains - at(nodes_));
      amount -= take;
      fill_ += take;
      if (empties) {
        for (int i = 0; i < nodes_; ++i) at(i) = at(i + 1);
        fill_ = 0;
      }
    }
    if (nodes_ == 1) {
      at(0) = at(1) = (1 - fill_) * at(0) + fill_ * at(1);
      fill_ = 0;
    }
    return drawn;
  }

  /// Share of slot i beside the heat exchanger, as a volume.
  double coil_volume(int i) const {
    if (i == nodes_) return fill_;
    return std::clamp(coil_nodes_ - fill_ - (nodes_ - 1 - i), 0.0, volume(i));
  }
  double coil_mean() {
    double sum = 0;
    for (int i = nodes_; i >= 0; --i) {
      const double beside = coil_volume(i);
      if (i < nodes_ && beside <= 0) break;
      sum += beside * at(i);
    }
    return sum / coil_nodes_;
  }
  void heat_coil(double joule) {
    const double warmer = joule / node_j_k_ / coil_nodes_;
    at(nodes_) += warmer;
    for (int i = nodes_ - 1; i >= 0; --i) {
      const double beside = coil_volume(i);
      if (beside <= 0) break;
      at(i) += warmer * std::min(beside / volume(i), 1.0);
    }
  }

  Stretch stretch(double start, double absorbed_w, double coil_over, bool on, double time) const {
    Stretch s{};
    s.start = start;
    s.on = on;
    s.time = time;
    s.slope = loss_1_ + loss_2_ * std::max(start, 0.0);
    const double falls = s.slope + (on ? loop_gain() : 0);
    s.change = (absorbed_w + (on ? loop_store() * coil_over : 0) - falls * start) * time / collector_j_k_;
    s.exponent = falls * time / collector_j_k_;
    const double z = s.exponent;
    const double full = 1 + z + z * z / 2 + z * z * z / 6;
    s.end_share = (1 + z / 2 + z * z / 6) / full;
    s.mean_share = (0.5 + z / 3 + z * z / 6) / full;
    s.end = start + s.change * s.end_share;
    s.mean = start + s.change * s.mean_share;
    return s;
  }
  double loop_gain() const { return rate_ * (1 - pipe_keep_ * pipe_keep_) + pipe_keep_ * pipe_keep_ * exchange_; }
  double loop_store() const { return pipe_keep_ * exchange_; }

  bool crosses(const Stretch& s, double coil_over) const {
    if (s.on) return std::min(s.start, s.end) <= coil_over + case_.plant.off_difference_k;
    return std::max(s.start, s.end) >= coil_over + case_.plant.on_difference_k;
  }
  double crossing(const Stretch& s, double coil_over) const {
    const double gap = coil_over + (s.on ? case_.plant.off_difference_k : case_.plant.on_difference_k) - s.start;
    if (s.on ? gap >= 0 : gap <= 0) return 0;
    return std::clamp(2 * gap / (2 * s.change - gap * s.exponent), 0.0, 1.0) * s.time;
  }

  void sun(double irradiance, double air, PlainMonth& m) {
    const auto& plant = case_.plant;
    const double absorbed_w = irradiance * absorb_;
    const double coil = coil_mean();
    latched_ = at(0) >= plant.high_limit_c || (latched_ && at(0) >= plant.high_limit_c - plant.high_limit_release_k);
    if (latched_) pump_ = false;
    const double coil_over = coil - air;
    const double tau = collector_ - air;

    std::array<Stretch, 3> part;
    std::size_t parts = 1;
    part[0] = stretch(tau, absorbed_w, coil_over, pump_, dt_);
    if (latched_ && std::max(tau, part[0].end) >= coil_over + plant.on_difference_k) m.limit_s += dt_;
    while (parts < 3 && crosses(part[parts - 1], coil_over) && !latched_) {
      const Stretch before = part[parts - 1];
      const double until = crossing(before, coil_over);
      part[parts - 1] = stretch(before.start, absorbed_w, coil_over, before.on, until);
      part[parts] = stretch(part[parts - 1].end, absorbed_w, coil_over, !before.on, before.time - until);
      pump_ = !pump_;
      ++parts;
    }

    const auto tau_time = [&] {
      double sum = 0;
      for (std::size_t i = 0; i < parts; ++i) sum += part[i].on ? part[i].mean * part[i].time : 0;
      return sum;
    };
    double running = 0;
    for (std::size_t i = 0; i < parts; ++i) running += part[i].on ? part[i].time : 0;
    const double into_store = exchange_ * (pipe_keep_ * tau_time() - coil_over * running);
    if (running > 0) heat_coil(into_store);
    mix();
    if (running > 0) {
      // Once more with the store's temperature at the middle of the step.
      const double climb = coil_mean() - coil;
      const double sensitivity = std::max(
          exchange_ * running * (1 - pipe_keep_ * loop_store() * running * part[0].mean_share / collector_j_k_), 0.0);
      const double size = std::fabs(into_store);
      const double middle = 0.5 * climb * size / (size + 0.5 * sensitivity * std::fabs(climb) + 1e-9);
      double shift = 0;
      for (std::size_t i = 0; i < parts; ++i) {
        Stretch& p = part[i];
        const double falls = p.slope + (p.on ? loop_gain() : 0);
        const double change = ((p.on ? loop_store() * middle : 0) - falls * shift) / collector_j_k_ * p.time;
        p.mean += shift + change * p.mean_share;
        shift += change * p.end_share;
        p.end += shift;
      }
      const double corrected = exchange_ * (pipe_keep_ * tau_time() - (coil_over + middle) * running);
      heat_coil(corrected - into_store);
      m.into_store += corrected;
      m.pipe_loss += loop_gain() * tau_time() - loop_store() * (coil_over + middle) * running - corrected;
      m.pump_s += running;
    }
    m.absorbed += absorbed_w * dt_;
    for (std::size_t i = 0; i < parts; ++i) m.collector_loss += part[i].slope * part[i].mean * part[i].time;
    collector_ = air + part[parts - 1].end;
    peaks_.peak_collector = std::max(peaks_.peak_collector, collector_);
    if (collector_ > stagnation_ && !pump_) m.stagnation_s += dt_;
  }

  /// Pools neighbours until no slot is warmer than the one above it.
  void mix() {
    bool inverted = false;
    for (int i = 1; i <= nodes_; ++i) inverted = inverted || at(i) - at(i - 1) > 1e-9;
    if (!inverted) return;
    pools_.clear();
    for (int i = 0; i <= nodes_; ++i) {
      Pool pool{volume(i) * at(i), volume(i), 1};
      // An empty bottom slot goes with the one above.
      while (!pools_.empty() && pool.content * pools_.back().volume >= pools_.back().content * pool.volume) {
        pool.content += pools_.back().content;
        pool.volume += pools_.back().volume;
        pool.slots += pools_.back().slots;
        pools_.pop_back();
      }
      pools_.push_back(pool);
    }
    int i = 0;
    for (const Pool& pool : pools_) {
      for (int k = 0; k < pool.slots; ++k) at(i++) = pool.content / pool.volume;
    }
  }

  void heat_store(Store& s, double inflow_w, double flow) {
    const auto& heater = case_.existing;
    const double falls = flow + backup_ua_;
    const double z = falls * dt_ / backup_j_k_;
    const double full = 1 + z + z * z / 2 + z * z * z / 6;
    const double end_share = (1 + z / 2 + z * z / 6) / full;
    const double mean_share = (0.5 + z / 3 + z * z / 6) / full;
    const double rate = (inflow_w + backup_ua_ * heater.room_c - falls * s.temperature) / backup_j_k_;
    const double lacking = thermostat_ - (s.temperature + rate * dt_ * end_share);
    double efficiency = heater.recovery_efficiency;
    if (heater.kind == hw::HeaterKind::heat_pump) {
      const double rating_tank = (125.0 - 32) * 5 / 9;
      const double rating_room = (67.5 - 32) * 5 / 9;
      efficiency =
          std::clamp(heater.recovery_efficiency * (1 + case_.plant.cop_per_tank_k * (s.temperature - rating_tank) +
                                                   case_.plant.cop_per_air_k * (heater.room_c - rating_room)),
                     std::min(1.0, heater.recovery_efficiency), 2 * heater.recovery_efficiency);
    }
    const double need = lacking * backup_j_k_ / dt_ / end_share;
    const double most = heater.input_w * efficiency;
    const bool called = lacking > case_.plant.thermostat_band_k || (s.on && lacking > 0);
    s.heat_w = called ? std::clamp(need, 0.0, most) : 0;
    s.fuel_w = s.heat_w / efficiency;
    s.on = called && need > most;
    const double heated = (rate + s.heat_w / backup_j_k_) * dt_;
    s.mean = s.temperature + heated * mean_share;
    s.temperature += heated * end_share;
  }

  double lacking(int i) {
    const double reached = element_nodes_ - (1 - fill_) - (i - 1);
    if (i > 0 && reached < 0.5) return 0;
    return std::max(thermostat_ - at(i), 0.0);
  }
  void element(PlainMonth& m) {
    const int last = std::min(static_cast<int>(std::ceil(element_nodes_)), nodes_ - 1);
    double need = 0;
    for (int i = 0; i <= last; ++i) need += volume(i) * lacking(i) * node_j_k_;
    const double heat = std::min(need, case_.plant.element_w * dt_);
    if (need > 0) {
      for (int i = 0; i <= last; ++i) at(i) += heat / need * lacking(i);
    }
    m.backup_heat += heat;
    m.backup_fuel += heat / hw::element_efficiency;
  }

  void rest(PlainMonth& m) {
    const double room = case_.plant.tank_room_c;
    double from_above = 0;  // node times K
    for (int i = 0; i <= nodes_; ++i) {
      double down = 0;
      if (i < nodes_) down = conduct_ * std::min(volume(i), volume(i + 1)) * (at(i) - at(i + 1));
      const double change = volume(i) > 0 ? (from_above - down) / volume(i) : 0;
      const double over = at(i) + change - room;
      at(i) = room + over * keep_;
      m.tank_loss += volume(i) * (over - over * keep_) * node_j_k_;
      from_above = down;
    }
  }

  const hw::Case& case_;
  const hw::Weather& weather_;
  const hw::SimulationOptions& options_;
  int nodes_ = 0;
  bool one_tank_ = false, has_store_ = false;
  double dt_ = 0, mean_mains_ = 0, set_ = 0, water_ = 0;
  double absorb_ = 0, loss_1_ = 0, loss_2_ = 0, collector_j_k_ = 0, rate_ = 0, exchange_ = 0, pipe_keep_ = 0;
  double stagnation_ = 0, per_node_l_ = 0, node_j_k_ = 0, keep_ = 0, conduct_ = 0, coil_nodes_ = 0, element_nodes_ = 0;
  double thermostat_ = 0, backup_j_k_ = 0, backup_ua_ = 0;
  std::vector<double> temperature_;  // nodes + 1 slots, top first
  std::vector<Pool> pools_;
  double fill_ = 0, collector_ = 0;
  bool pump_ = false, latched_ = false;
  Store backup_, alone_;
  PlainYear peaks_;
};

inline PlainYear plain_simulate(const hw::Case& c, const hw::Weather& weather,
                                const hw::SimulationOptions& options = {}) {
  return PlainSimulation(c, weather, options).run();
}

}  // namespace support
