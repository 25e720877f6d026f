// Kernel: the simulation's step loop, written once over W systems side by side and compiled once per instruction set.
//
// The first half (plain structures) is seen by simulation.cpp. The second half is compiled only by kernel_<isa>.cpp,
// which define WARMLEDGER_KERNEL to the name of their namespace: no function compiled for a wide instruction set can
// then be picked by the linker for a machine that lacks it. Nothing here includes a library header that has inline
// functions, for the same reason.
//
// Every lane does the same operations in the same order whatever its neighbours do: branches on lane values only skip
// work that would leave every lane's numbers as they are. So one lane and many give the same bits, and so do all
// instruction sets (no fused multiply-add, only + - * / and comparisons).
#pragma once

#include <cstddef>

namespace warmledger::hotwater::kernel {

/// What a lane needs to know, one number each. J, W, K, kg, s; volumes in litres of water at the set temperature.
enum Param : int {
  absorb_m2,        ///< W absorbed per W/m2 on the plane
  loss_1_w_k,       ///< collector loss, linear part
  loss_2_w_k2,      ///< collector loss, quadratic part
  collector_j_k,    ///< heat capacity of the collectors
  loop_gain_w_k,    ///< heat the running loop takes from the collector, per K of collector over air
  loop_store_w_k,   ///< heat it brings back, per K of store over air
  pipe_keep,        ///< share of the excess temperature left after one half of the pipes
  exchange_w_k,     ///< effectiveness times the weaker capacity rate
  on_k,             ///< controller: difference that starts the pump
  off_k,            ///< and the one that stops it
  limit_c,          ///< store top that blocks the pump
  limit_release_c,  ///< store top below which the block ends
  stagnation_c,     ///< collector temperature counted as stagnation
  node_j_k,         ///< heat capacity of one node of the solar tank
  per_node_l,       ///< one over the litres in it
  per_coil_nodes,   ///< one over coil_nodes
  coil_nodes,       ///< height that the heat exchanger reaches from the bottom, in nodes, at least 1
  element_nodes,    ///< height that the element reaches from the top, in nodes, at least 1
  node_keep,        ///< share of the excess over the room left after a step
  conduct,          ///< share of the difference of two nodes exchanged in a step
  tank_room_c,      ///< air around the solar tank
  water_j_lk,       ///< heat capacity of a litre
  set_c,            ///< temperature at the tap
  inlet_most_c,     ///< instantaneous heater: greatest inlet temperature
  backup_j_k,       ///< existing heater's tank
  backup_ua_w_k,    ///< its standby loss
  backup_room_c,    ///< air around it
  backup_set_c,     ///< its thermostat
  backup_band_k,    ///< and how far it lets the tank cool before it starts
  input_w,          ///< rated input
  efficiency_0,     ///< heat over input at 0 degC tank
  efficiency_1_k,   ///< its change per K of tank temperature
  efficiency_least,
  efficiency_most,
  element_w,          ///< one tank: heat of the element
  element_per_input,  ///< and its efficiency
  hot_tap_c,          ///< source temperature counted as dangerous at a tap
  param_count
};

/// What is summed by month, J or s.
enum Sum : int {
  load_j,               ///< heat asked for
  delivered_j,          ///< heat delivered at the tap
  delivered_without_j,  ///< the same by the heater alone
  absorbed_j,           ///< sun absorbed
  collector_loss_j,
  pipe_loss_j,
  exchanged_j,  ///< into the store
  tank_loss_j,
  from_solar_j,   ///< heat in the water that leaves the solar tank, over mains
  backup_heat_j,  ///< heat by heater or element
  backup_fuel_j,
  standby_j,
  heat_without_j,
  fuel_without_j,
  standby_without_j,
  drawn_l,  ///< litres at the tap
  pump_s,
  limit_s,
  stagnation_s,
  hot_tap_s,
  sum_count
};

/// Numbers about the whole year, one each.
enum Mark : int {
  peak_tank_c,
  peak_collector_c,
  peak_backup_c,
  worst_step,  ///< largest |residual| over throughput of a step
  stored_start_j,
  stored_end_j,
  without_start_j,
  without_end_j,
  mark_count
};

/// Hourly trace, state at the end of the hour or sum over it.
enum Trace : int {
  trace_top_c,
  trace_bottom_c,
  trace_collector_c,
  trace_backup_c,
  trace_without_c,
  trace_drawn_l,
  trace_hot_l,
  trace_backup_w,
  trace_solar_w,
  trace_count
};

inline constexpr double least_heat_j = 1000;   ///< a step's imbalance is taken over the heat moved, at least this
inline constexpr int months_and_warm_up = 13;  ///< the thirteenth takes the warm-up's sums
inline constexpr int hours_in_year = 8760;

/// Sums that are also wanted by hour of the day, for prices that change with it.
inline constexpr std::size_t day_sum_count = 3;
inline constexpr Sum day_sums[day_sum_count] = {backup_fuel_j, fuel_without_j, pump_s};

/// W systems of one arrangement. Arrays with [W] innermost are aligned to 64 bytes.
struct Batch {
  int nodes = 0;
  int steps_per_hour = 0;
  int warm_up_hours = 0;
  int coil_first = 0;             ///< first slot, from the top, that the heat exchanger reaches in any lane
  int element_last = 0;           ///< last slot that the element reaches in any lane
  const double* param = nullptr;  ///< [param_count][W]
  const double* draw = nullptr;   ///< [24 * steps_per_hour][W] litres in each step of a day
  const double* const* hour_factor = nullptr;  ///< [W] -> [8760] factor on the day's draw
  const double* const* irradiance = nullptr;   ///< [W] -> [8760] W/m2
  const double* const* dry_bulb = nullptr;     ///< [W] -> [8760] degC
  const double* const* mains = nullptr;        ///< [W] -> [365] degC
  double* tank = nullptr;                      ///< [slots][W] start temperatures of nodes + 1 slots, top first
  double* scratch = nullptr;                   ///< [slots][W]
  double* start = nullptr;                     ///< [3][W] collector, backup tank, tank of the heater alone
  double* sum = nullptr;                       ///< [13][sum_count][W], zero on entry
  double* mark = nullptr;                      ///< [mark_count][W]
  double* trace = nullptr;                     ///< [8760][trace_count][W] or null
  double* day = nullptr;                       ///< [12][24][day_sum_count][W] sums by month and hour, zero, or null
};

/// two_tank: solar tank ahead of the heater; one_tank: element in the solar tank, the heater only in the baseline.
/// store: the heater has a tank; flow: instantaneous.
enum class Plan { two_tank_store, two_tank_flow, one_tank_store, one_tank_flow };

using Run = void (*)(const Batch&, Plan);
/// The kernels of one instruction set: for one lane and for `lanes` of them.
struct Kernels {
  int lanes = 0;
  Run one = nullptr;
  Run many = nullptr;
};

}  // namespace warmledger::hotwater::kernel

#ifdef WARMLEDGER_KERNEL

#if defined(__AVX2__) || defined(__AVX512F__)
#include <immintrin.h>
#elif defined(__SSE2__)
#include <emmintrin.h>
#endif

namespace warmledger::hotwater::kernel::WARMLEDGER_KERNEL {

#if defined(__AVX512F__) && defined(__AVX512DQ__)
inline constexpr int native_lanes = 8;
#elif defined(__AVX2__)
inline constexpr int native_lanes = 4;
#else
inline constexpr int native_lanes = 2;
#endif

#define WARMLEDGER_INLINE [[gnu::always_inline]] inline

/// One machine register of doubles, and what a comparison of two gives.
template <int P>
struct Part {
  // GCC takes the attribute with a dependent size on a typedef only.
  typedef double Value __attribute__((vector_size(P * sizeof(double))));       // NOLINT(modernize-use-using)
  typedef long long Mask __attribute__((vector_size(P * sizeof(long long))));  // NOLINT(modernize-use-using)
  WARMLEDGER_INLINE static Mask less(Value a, Value b) { return a < b; }
  WARMLEDGER_INLINE static Mask at_most(Value a, Value b) { return a <= b; }
  WARMLEDGER_INLINE static Value select(Mask m, Value yes, Value no) { return m ? yes : no; }
  WARMLEDGER_INLINE static Value least(Value a, Value b) { return a < b ? a : b; }
  WARMLEDGER_INLINE static Value greatest(Value a, Value b) { return a > b ? a : b; }
  WARMLEDGER_INLINE static Value magnitude(Value a) {
    return reinterpret_cast<Value>(reinterpret_cast<Mask>(a) & (Mask{} + ~(1LL << 63)));
  }
};
template <>
struct Part<1> {
  using Value = double;
  using Mask = bool;
  WARMLEDGER_INLINE static Mask less(Value a, Value b) { return a < b; }
  WARMLEDGER_INLINE static Mask at_most(Value a, Value b) { return a <= b; }
  WARMLEDGER_INLINE static Value select(Mask m, Value yes, Value no) { return m ? yes : no; }
  WARMLEDGER_INLINE static Value least(Value a, Value b) { return a < b ? a : b; }
  WARMLEDGER_INLINE static Value greatest(Value a, Value b) { return a > b ? a : b; }
  WARMLEDGER_INLINE static Value magnitude(Value a) { return __builtin_fabs(a); }
};
#if defined(__AVX512F__) && defined(__AVX512DQ__)
template <>
struct Part<8> {
  typedef double Value __attribute__((vector_size(64)));  // NOLINT(modernize-use-using)
  using Mask = __mmask8;                                  ///< a bit a lane; GCC would keep a vector of eight numbers
  WARMLEDGER_INLINE static Mask less(Value a, Value b) { return _mm512_cmp_pd_mask(a, b, _CMP_LT_OQ); }
  WARMLEDGER_INLINE static Mask at_most(Value a, Value b) { return _mm512_cmp_pd_mask(a, b, _CMP_LE_OQ); }
  WARMLEDGER_INLINE static Value select(Mask m, Value yes, Value no) { return _mm512_mask_blend_pd(m, no, yes); }
  WARMLEDGER_INLINE static Value least(Value a, Value b) { return a < b ? a : b; }
  WARMLEDGER_INLINE static Value greatest(Value a, Value b) { return a > b ? a : b; }
  WARMLEDGER_INLINE static Value magnitude(Value a) {
    return reinterpret_cast<Value>(reinterpret_cast<Bits>(a) & (Bits{} + ~(1LL << 63)));
  }

 private:
  typedef long long Bits __attribute__((vector_size(64)));  // NOLINT(modernize-use-using)
};
#endif

/// W doubles in as many registers as it takes.
template <int W>
struct Lanes {
  static constexpr int width = W < native_lanes ? W : native_lanes;
  static constexpr int parts = W / width;
  static_assert(parts * width == W);
  using Value = typename Part<width>::Value;
  Value part[parts];

  WARMLEDGER_INLINE static Lanes load(const double* from) {
    Lanes r;
    for (int p = 0; p < parts; ++p) r.part[p] = reinterpret_cast<const Aliased*>(from)[p];
    return r;
  }
  WARMLEDGER_INLINE void store(double* to) const {
    for (int p = 0; p < parts; ++p) reinterpret_cast<Aliased*>(to)[p] = part[p];
  }
  WARMLEDGER_INLINE static Lanes all(double x) {
    Lanes r;
    for (int p = 0; p < parts; ++p) r.part[p] = x - Value{};  // x + 0 would not keep the sign of zero: an addition
    return r;
  }

 private:
  typedef Value Aliased __attribute__((may_alias));  // NOLINT(modernize-use-using)
};

template <int W>
struct Mask {
  using Value = typename Part<Lanes<W>::width>::Mask;
  Value part[Lanes<W>::parts];
};

#define WARMLEDGER_ARITHMETIC(op)                                                 \
  template <int W>                                                                \
  WARMLEDGER_INLINE Lanes<W> operator op(Lanes<W> a, const Lanes<W>& b) {         \
    for (int p = 0; p < Lanes<W>::parts; ++p) a.part[p] = a.part[p] op b.part[p]; \
    return a;                                                                     \
  }                                                                               \
  template <int W>                                                                \
  WARMLEDGER_INLINE Lanes<W> operator op(double a, const Lanes<W>& b) {           \
    return Lanes<W>::all(a) op b;                                                 \
  }                                                                               \
  template <int W>                                                                \
  WARMLEDGER_INLINE Lanes<W> operator op(const Lanes<W>& a, double b) {           \
    return a op Lanes<W>::all(b);                                                 \
  }
WARMLEDGER_ARITHMETIC(+)
WARMLEDGER_ARITHMETIC(-)
WARMLEDGER_ARITHMETIC(*)
WARMLEDGER_ARITHMETIC(/)
#undef WARMLEDGER_ARITHMETIC

#define WARMLEDGER_COMPARISON(op, name, first, second)                            \
  template <int W>                                                                \
  WARMLEDGER_INLINE Mask<W> operator op(const Lanes<W>& a, const Lanes<W>& b) {   \
    Mask<W> m;                                                                    \
    for (int p = 0; p < Lanes<W>::parts; ++p) {                                   \
      m.part[p] = Part<Lanes<W>::width>::name((first).part[p], (second).part[p]); \
    }                                                                             \
    return m;                                                                     \
  }
WARMLEDGER_COMPARISON(<, less, a, b)
WARMLEDGER_COMPARISON(>, less, b, a)
WARMLEDGER_COMPARISON(<=, at_most, a, b)
WARMLEDGER_COMPARISON(>=, at_most, b, a)
#undef WARMLEDGER_COMPARISON

#define WARMLEDGER_LOGIC(result)                                                                      \
  for (int p = 0; p < Lanes<W>::parts; ++p) a.part[p] = static_cast<typename Mask<W>::Value>(result); \
  return a
template <int W>
WARMLEDGER_INLINE Mask<W> operator&(Mask<W> a, const Mask<W>& b) {
  WARMLEDGER_LOGIC(a.part[p] & b.part[p]);
}
template <int W>
WARMLEDGER_INLINE Mask<W> operator|(Mask<W> a, const Mask<W>& b) {
  WARMLEDGER_LOGIC(a.part[p] | b.part[p]);
}
template <int W>
WARMLEDGER_INLINE Mask<W> operator^(Mask<W> a, const Mask<W>& b) {
  WARMLEDGER_LOGIC(a.part[p] ^ b.part[p]);
}
template <int W>
WARMLEDGER_INLINE Mask<W> operator~(Mask<W> a) {
  if constexpr (Lanes<W>::width == 1) {
    WARMLEDGER_LOGIC(!a.part[p]);
  } else {
    WARMLEDGER_LOGIC(~a.part[p]);
  }
}
#undef WARMLEDGER_LOGIC
template <int W>
WARMLEDGER_INLINE Lanes<W> select(const Mask<W>& m, Lanes<W> yes, const Lanes<W>& no) {
  for (int p = 0; p < Lanes<W>::parts; ++p)
    yes.part[p] = Part<Lanes<W>::width>::select(m.part[p], yes.part[p], no.part[p]);
  return yes;
}
template <int W>
WARMLEDGER_INLINE Lanes<W> least(Lanes<W> a, const Lanes<W>& b) {
  for (int p = 0; p < Lanes<W>::parts; ++p) a.part[p] = Part<Lanes<W>::width>::least(a.part[p], b.part[p]);
  return a;
}
template <int W>
WARMLEDGER_INLINE Lanes<W> greatest(Lanes<W> a, const Lanes<W>& b) {
  for (int p = 0; p < Lanes<W>::parts; ++p) a.part[p] = Part<Lanes<W>::width>::greatest(a.part[p], b.part[p]);
  return a;
}
template <int W>
WARMLEDGER_INLINE Lanes<W> magnitude(Lanes<W> a) {
  for (int p = 0; p < Lanes<W>::parts; ++p) a.part[p] = Part<Lanes<W>::width>::magnitude(a.part[p]);
  return a;
}

WARMLEDGER_INLINE bool any_of(bool m) {
  return m;
}
#if defined(__SSE2__)
WARMLEDGER_INLINE bool any_of(Part<2>::Mask m) {
  return _mm_movemask_pd(reinterpret_cast<__m128d>(m)) != 0;
}
#else
WARMLEDGER_INLINE bool any_of(Part<2>::Mask m) {
  return (m[0] | m[1]) != 0;
}
#endif
#if defined(__AVX2__)
WARMLEDGER_INLINE bool any_of(Part<4>::Mask m) {
  return _mm256_movemask_pd(reinterpret_cast<__m256d>(m)) != 0;
}
#endif
#if defined(__AVX512F__) && defined(__AVX512DQ__)
WARMLEDGER_INLINE bool any_of(__mmask8 m) {
  return m != 0;
}
#endif
template <int W>
WARMLEDGER_INLINE bool any(const Mask<W>& m) {
  Mask<W> all = m;
  for (int p = 1; p < Lanes<W>::parts; ++p) all.part[0] = static_cast<typename Mask<W>::Value>(all.part[0] | m.part[p]);
  return any_of(all.part[0]);
}

/// Linear decay C dT/dt = f - g T over a time d, with z = g d / C, by the (0,3) Pade form of exp(-z): third order,
/// never oscillating, no exp. Start rate r: end = T + r d `end`, mean = T + r d `mean`. The energy balance C (end - T)
/// = f d - g d mean holds to rounding, whatever z.
template <int W>
struct Decay {
  Lanes<W> end, mean;
};
template <int W>
WARMLEDGER_INLINE Decay<W> decay(const Lanes<W>& z) {
  const Lanes<W> low = 1.0 + z * (0.5 + z * (1.0 / 6));
  const Lanes<W> inverse = 1.0 / (1.0 + z * low);
  return {low * inverse, (0.5 + z * (1.0 / 3 + z * (1.0 / 6))) * inverse};
}

/// Existing heater with a tank: one mixed node, thermostat, limited input.
template <int W>
struct StoreStep {
  Lanes<W> end, mean, heat_j, fuel_j, standby_j;
  Mask<W> on;
};

template <int W, bool one_tank, bool store>
struct Simulation {
  using L = Lanes<W>;
  using M = Mask<W>;

  /// K by which a slot may be warmer than the one above.
  static constexpr double inversion_k = 1e-9;

  static void run(const Batch& b) {
    const auto param = [&](Param which) { return L::load(b.param + which * W); };
    const int nodes = b.nodes;
    const double dt = 3600.0 / b.steps_per_hour;
    const L zero = L::all(0);
    // The tank is a pile of nodes + 1 slots of water that moves up with the draws: full ones between a top slot that
    // is being used up, 1 - `fill` of a node, and a bottom slot that is filling. So a draw moves water without mixing
    // it, and the number of nodes is not a hidden amount of mixing.
    double* const tank = b.tank;
    const int last = nodes;
    L fill = L::all(0);
    const L node_j_k = param(kernel::node_j_k);
    const L per_coil_j_k = param(per_coil_nodes) / node_j_k;
    const L per_collector_j_k = 1.0 / param(collector_j_k);
    const L per_backup_j_k = 1.0 / param(backup_j_k);

    L collector = L::load(b.start);
    L backup = L::load(b.start + W);
    L alone = L::load(b.start + 2 * W);
    M pump = zero > zero, latched = pump, firing = pump, firing_alone = pump;

    L tank_sum = zero;
    for (int i = 0; i < last; ++i) tank_sum = tank_sum + L::load(tank + i * W);
    L stored = param(collector_j_k) * collector + node_j_k * tank_sum + param(backup_j_k) * backup;

    const Series irradiance(b.irradiance), dry_bulb(b.dry_bulb), mains_water(b.mains), hour_factor(b.hour_factor);
    L worst = zero, top_peak = zero, collector_peak = zero, backup_peak = zero;
    constexpr int month_days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

    for (int turn = b.warm_up_hours > 0 ? 0 : 1; turn < 2; ++turn) {
      if (turn == 1) {
        worst = zero;
        top_peak = collector_peak = backup_peak = L::all(-273.15);
        stored.store(b.mark + stored_start_j * W);
        (param(backup_j_k) * alone).store(b.mark + without_start_j * W);
      }
      int month = turn == 0 ? 12 : 0;
      int days_left = turn == 0 ? hours_in_year : month_days[0];
      const int first_hour = turn == 0 ? hours_in_year - b.warm_up_hours : 0;
      for (int hour = first_hour; hour < hours_in_year; ++hour) {
        const L absorbed_w = irradiance.at(hour) * param(absorb_m2);
        const L air = dry_bulb.at(hour);
        const L mains = mains_water.at(hour / 24);
        const L factor = hour_factor.at(hour);
        const L water = param(water_j_lk);
        const L rise = greatest(param(set_c) - mains, zero);
        const L heat_per_l = water * rise;
        const double* draw = b.draw + (hour % 24) * b.steps_per_hour * W;
        double* const sum = b.sum + month * sum_count * W;
        const auto add = [&](Sum which, const L& amount) {
          (L::load(sum + which * W) + amount).store(sum + which * W);
        };
        // What the hour adds to a sum of the month: the sum after it less the sum before it.
        const auto note_hour = [&](double sign) {
          if (b.day == nullptr || turn == 0) return;
          double* const cell = b.day + static_cast<std::size_t>(month * 24 + hour % 24) * day_sum_count * W;
          for (std::size_t k = 0; k < day_sum_count; ++k)
            (L::load(cell + k * W) + L::load(sum + day_sums[k] * W) * sign).store(cell + k * W);
        };
        note_hour(-1);
        L hour_drawn = zero, hour_hot = zero, hour_backup = zero, hour_solar = zero;

        for (int step = 0; step < b.steps_per_hour; ++step, draw += W) {
          // 1. Half of the draw; the other half after the sun's heat, so that neither comes first (the splitting is
          // then of second order in the step). The tempering valve takes as much hot water as gives the set temperature
          // with the cold; the rest of the tap's litres is mains water.
          const L litres = L::load(draw) * factor;
          const L load = litres * heat_per_l;
          const L top_before = L::load(tank);
          L hot, hot_alone;  // the second as the heater alone would see it
          if constexpr (store) {
            const L source_rise = (one_tank ? top_before : backup) - mains, alone_rise = alone - mains;
            const M hotter = source_rise > rise, hotter_alone = alone_rise > rise;
            // One division for both.
            const L divisor = select(hotter, source_rise, L::all(1)),
                    divisor_alone = select(hotter_alone, alone_rise, L::all(1));
            const L share = litres * rise / (divisor * divisor_alone);
            hot = select(hotter, share * divisor_alone, litres);
            hot_alone = select(hotter_alone, share * divisor, litres);
          } else {
            L target = rise;
            if constexpr (!one_tank) target = greatest(least(param(set_c), param(inlet_most_c)) - mains, zero);
            const L source_rise = top_before - mains;
            const M hotter = source_rise > target;
            hot = select(hotter, litres * target / select(hotter, source_rise, L::all(1)), litres);
          }
          const L half = 0.5 * hot * param(per_node_l);
          L drawn = draw_store(tank, fill, half, mains, last);  // node times degC

          L heat_j = zero, fuel_j = zero;
          // 2. The element of a one-tank system heats the upper nodes towards its thermostat.
          if constexpr (one_tank) {
            // A slot is heated once half of it is within reach: the hot part is right on average, and its lower edge
            // stays sharp, where a slot heated in part would bar the sun's heat from its cold part.
            L need = zero;
            L depth = param(kernel::element_nodes) - (1.0 - fill);
            for (int i = 0; i <= b.element_last; ++i) {
              const L lacking = lacking_k(param(backup_set_c), tank, i, depth);
              need = need + (i == 0 ? (1.0 - fill) * lacking : lacking);
              if (i > 0) depth = depth - 1.0;
            }
            need = need * node_j_k;
            heat_j = least(need, param(element_w) * dt);
            const L share = heat_j / select(need > zero, need, L::all(1));
            depth = param(kernel::element_nodes) - (1.0 - fill);
            for (int i = 0; i <= b.element_last; ++i) {
              const L lacking = lacking_k(param(backup_set_c), tank, i, depth);
              (L::load(tank + i * W) + share * lacking).store(tank + i * W);
              if (i > 0) depth = depth - 1.0;
            }
            fuel_j = heat_j / param(element_per_input);
          }

          // 3. Collectors and controller. The pump switches where the collector crosses the controller's difference, at
          // most twice in a step: on, and off again when the sun does not hold it.
          double* const reach = b.scratch;  // [slots][W] volume of each slot beside the exchanger
          {
            L height = param(coil_nodes) - fill;
            for (int i = last - 1; i >= b.coil_first; --i) {
              greatest(least(height, i == 0 ? 1.0 - fill : L::all(1)), zero).store(reach + i * W);
              height = height - 1.0;
            }
            fill.store(reach + last * W);
          }
          const L coil = coil_mean(b, tank, reach);
          const L top = L::load(tank);
          latched = (top >= param(limit_c)) | (latched & (top >= param(limit_release_c)));
          pump = pump & ~latched;
          const L coil_over = coil - air;
          const L tau = collector - air;
          Phase part[3];
          set_phase(part[0], b, tau, absorbed_w, coil_over, pump, L::all(dt), per_collector_j_k);
          const M limited = latched & (greatest(tau, part[0].end) >= coil_over + param(on_k));
          if (any(limited)) add(limit_s, select(limited, L::all(dt), zero));
          int parts = 1;
          M on = pump;
          M crossed = crosses(b, part[0], coil_over, on) & (on | ~latched);
          while (any(crossed) && parts < 3) {
            Phase& before = part[parts - 1];
            const L until = select(crossed, crossing(b, before, coil_over, on), before.time);
            const L after = before.time - until;
            set_phase(before, b, before.start, absorbed_w, coil_over, on, until, per_collector_j_k);
            set_phase(part[parts], b, before.end, absorbed_w, coil_over, ~on, after, per_collector_j_k);
            pump = pump ^ crossed;
            on = ~on;
            crossed = crossed & crosses(b, part[parts], coil_over, on);
            ++parts;
          }
          L running = zero, tau_time = zero;  // s, K s of the collector while the pump runs
          for (int i = 0; i < parts; ++i) {
            running = running + select(part[i].on, part[i].time, zero);
            tau_time = tau_time + select(part[i].on, part[i].mean * part[i].time, zero);
          }
          L into_store = param(exchange_w_k) * (param(pipe_keep) * tau_time - coil_over * running);
          const M runs = running > zero;

          if (any(runs)) {
            // Heat goes to the slots beside the exchanger and rises where it makes them warmer than those above.
            heat_nodes(tank, reach, fill, into_store * per_coil_j_k, b.coil_first, last);
          }
          mix_inversions(tank, fill, last);
          L pipe_loss = zero;
          if (any(runs)) {
            // The exchanger saw the store as it was at the start of the step. Now that its rise is known, take the
            // middle of the step: trapezoidal rule with the heat capacity that the rise has shown.
            const L climb = coil_mean(b, tank, reach) - coil;
            const L sensitivity =
                param(exchange_w_k) * running *
                (1.0 - param(pipe_keep) * param(loop_store_w_k) * running * part[0].decay.mean * per_collector_j_k);
            const L size = magnitude(into_store);
            const L middle = 0.5 * climb * size / (size + 0.5 * greatest(sensitivity, zero) * magnitude(climb) + 1e-9);
            // The same stretches of time with the store warmer by `middle`: linear, so their factors stand.
            const L brought = param(loop_store_w_k) * middle * per_collector_j_k;
            L shift = zero;
            tau_time = zero;
            for (int i = 0; i < parts; ++i) {
              Phase& p = part[i];
              const L falls = (p.slope_w_k + select(p.on, param(loop_gain_w_k), zero)) * per_collector_j_k;
              const L change = (select(p.on, brought, zero) - falls * shift) * p.time;
              p.mean = p.mean + (shift + change * p.decay.mean);
              shift = shift + change * p.decay.end;
              p.end = p.end + shift;
              tau_time = tau_time + select(p.on, p.mean * p.time, zero);
            }
            const L store_time = (coil_over + middle) * running;
            const L corrected = param(exchange_w_k) * (param(pipe_keep) * tau_time - store_time);
            heat_nodes(tank, reach, fill, (corrected - into_store) * per_coil_j_k, b.coil_first, last);
            into_store = corrected;
            pipe_loss = param(loop_gain_w_k) * tau_time - param(loop_store_w_k) * store_time - into_store;
            add(pipe_loss_j, pipe_loss);
            add(exchanged_j, into_store);
            add(pump_s, running);
            hour_solar = hour_solar + into_store;
          }
          L collector_loss = zero;
          for (int i = 0; i < parts; ++i)
            collector_loss = collector_loss + part[i].slope_w_k * part[i].mean * part[i].time;
          const L absorbed = absorbed_w * dt;
          add(collector_loss_j, collector_loss);
          collector = air + part[parts - 1].end;
          collector_peak = greatest(collector_peak, collector);
          const M stagnates = (collector > param(stagnation_c)) & ~pump;
          if (any(stagnates)) add(stagnation_s, select(stagnates, L::all(dt), zero));

          // 4. The rest of the draw.
          drawn = drawn + draw_store(tank, fill, half, mains, last);
          const L drawn_j = drawn * node_j_k;  // heat content over 0 degC of the water that leaves the solar tank
          const L hot_j_k = hot * water;
          const L cold_j = hot_j_k * mains;
          add(from_solar_j, drawn_j - cold_j);

          // 5. The existing heater behind the solar tank.
          L standby = zero, tap_j = drawn_j;
          L source_mean = top_before;
          if constexpr (!one_tank && store) {
            const StoreStep<W> s = store_step(b, backup, drawn_j, hot_j_k, firing, dt, per_backup_j_k);
            heat_j = s.heat_j;
            fuel_j = s.fuel_j;
            standby = s.standby_j;
            tap_j = hot_j_k * s.mean;
            source_mean = s.mean;
            backup = s.end;
            firing = s.on;
            backup_peak = greatest(backup_peak, backup);
          }
          if constexpr (!one_tank && !store) {
            const L need = load - (drawn_j - cold_j);
            heat_j = greatest(least(need, param(input_w) * param(efficiency_0) * dt), zero);
            fuel_j = heat_j / param(efficiency_0);
            tap_j = drawn_j + heat_j;
          }
          add(delivered_j, tap_j - cold_j);
          // Where the mains already bring the set temperature nobody needs the store.
          const M hot_tap = (source_mean > param(hot_tap_c)) & (litres > zero);
          if (any(hot_tap)) add(hot_tap_s, select(hot_tap, L::all(dt), zero));

          // 6. The heater alone, the same draw.
          L alone_residual = zero, alone_through = zero;
          if constexpr (store) {
            const L flow_j_k = hot_alone * water;
            const L in_j = flow_j_k * mains;
            const StoreStep<W> s = store_step(b, alone, in_j, flow_j_k, firing_alone, dt, per_backup_j_k);
            const L out_j = flow_j_k * s.mean;
            add(delivered_without_j, out_j - in_j);
            add(heat_without_j, s.heat_j);
            add(fuel_without_j, s.fuel_j);
            add(standby_without_j, s.standby_j);
            const L residual = in_j + s.heat_j - s.standby_j - out_j - param(backup_j_k) * (s.end - alone);
            alone_residual = magnitude(residual);
            alone_through = magnitude(in_j) + s.heat_j + magnitude(s.standby_j) + magnitude(out_j) + least_heat_j;
            alone = s.end;
            firing_alone = s.on;
          } else {
            const L heat = least(load, param(input_w) * param(efficiency_0) * dt);
            add(delivered_without_j, heat);
            add(heat_without_j, heat);
            add(fuel_without_j, heat / param(efficiency_0));
          }

          add(backup_heat_j, heat_j);
          add(backup_fuel_j, fuel_j);
          add(standby_j, standby);

          // 7. Conduction between nodes, loss to the room. Neighbours exchange by the smaller of their volumes, so that
          // a small end slot cannot overshoot.
          const L keep = param(node_keep);
          const L conduct = param(kernel::conduct);
          const L room = (1.0 - keep) * param(tank_room_c);  // so that keep * t + room loses what it should
          L here = L::load(tank);
          L below = L::load(tank + W);
          const L top_volume = 1.0 - fill;
          L down = conduct * (last == 1 ? least(top_volume, fill) : top_volume) * (here - below);
          const L bottom_volume = select(fill > zero, fill, L::all(1));
          const L per_volumes = 1.0 / (top_volume * bottom_volume);
          const L warm_top = here - down * (bottom_volume * per_volumes);
          const L cool_top = keep * warm_top + room;
          cool_top.store(tank);
          top_peak = greatest(top_peak, cool_top);
          L before = top_volume * warm_top;  // node times degC
          tank_sum = top_volume * cool_top;
          for (int i = 1; i < last; ++i) {
            here = below;
            below = L::load(tank + (i + 1) * W);
            const L gain = down;
            down = conduct * (here - below);
            if (i + 1 == last) down = down * fill;
            const L warm = here + (gain - down);
            const L cool = keep * warm + room;
            cool.store(tank + i * W);
            before = before + warm;
            tank_sum = tank_sum + cool;
          }
          const L warm_bottom = below + down * (top_volume * per_volumes);
          const L cool_bottom = keep * warm_bottom + room;
          cool_bottom.store(tank + last * W);
          before = before + fill * warm_bottom;
          tank_sum = tank_sum + fill * cool_bottom;
          const L tank_loss = (1.0 - keep) * (before - nodes * param(tank_room_c)) * node_j_k;
          add(tank_loss_j, tank_loss);

          // 8. Balance of the step.
          const L stored_now = param(collector_j_k) * collector + node_j_k * tank_sum + param(backup_j_k) * backup;
          // The collector's heat content is counted over 0 degC, its losses over the air: both sides agree.
          const L residual = absorbed + cold_j + heat_j - collector_loss - pipe_loss - tank_loss - standby - tap_j -
                             (stored_now - stored);
          const L through = absorbed + magnitude(cold_j) + heat_j + magnitude(collector_loss) + magnitude(pipe_loss) +
                            magnitude(tank_loss) + magnitude(standby) + magnitude(tap_j);
          note_worst(worst, magnitude(residual), through + least_heat_j, alone_residual, alone_through);
          stored = stored_now;

          hour_drawn = hour_drawn + litres;
          hour_hot = hour_hot + hot;
          hour_backup = hour_backup + fuel_j;
        }

        add(load_j, hour_drawn * heat_per_l);
        add(drawn_l, hour_drawn);
        add(absorbed_j, absorbed_w * 3600.0);
        if (b.trace != nullptr && turn == 1) {
          double* const row = b.trace + static_cast<std::size_t>(hour) * trace_count * W;
          L::load(tank).store(row + trace_top_c * W);
          select(fill > zero, L::load(tank + last * W), L::load(tank + (last - 1) * W)).store(row + trace_bottom_c * W);
          collector.store(row + trace_collector_c * W);
          backup.store(row + trace_backup_c * W);
          alone.store(row + trace_without_c * W);
          hour_drawn.store(row + trace_drawn_l * W);
          hour_hot.store(row + trace_hot_l * W);
          (hour_backup * (1.0 / 3600)).store(row + trace_backup_w * W);
          (hour_solar * (1.0 / 3600)).store(row + trace_solar_w * W);
        }
        note_hour(1);
        if (hour % 24 == 23 && --days_left == 0 && month < 11) days_left = month_days[++month];
      }
    }
    top_peak.store(b.mark + peak_tank_c * W);
    collector_peak.store(b.mark + peak_collector_c * W);
    backup_peak.store(b.mark + peak_backup_c * W);
    worst.store(b.mark + worst_step * W);
    stored.store(b.mark + stored_end_j * W);
    (param(backup_j_k) * alone).store(b.mark + without_end_j * W);
  }

 private:
  /// Numbers of the year, one series a lane: mostly the same one, because households of a place run side by side.
  class Series {
   public:
    explicit Series(const double* const* lanes) : lanes_(lanes) {
      for (int l = 1; l < W; ++l) shared_ = shared_ && lanes[l] == lanes[0];
    }
    WARMLEDGER_INLINE L at(int place) const {
      if (shared_) return L::all(lanes_[0][place]);
      alignas(64) double gathered[W];
      for (int l = 0; l < W; ++l) gathered[l] = lanes_[l][place];
      return L::load(gathered);
    }

   private:
    const double* const* lanes_;
    bool shared_ = true;
  };

  /// One stretch of time with the pump on or off. Temperatures are over the air's.
  struct Phase {
    L start, end, mean;  ///< collector
    L time;              ///< s
    L slope_w_k;         ///< collector loss per K
    L change, exponent;  ///< start rate times time; decay rate times time
    Decay<W> decay;
    M on;
  };

  /// worst = max(worst, residual / through) for the system and the heater alone, without a division where nothing
  /// changes.
  WARMLEDGER_INLINE static void note_worst(L& worst, const L& residual, const L& through, const L& residual_alone,
                                           const L& through_alone) {
    const M worse = residual > worst * through;
    const M worse_alone = residual_alone > worst * through_alone;
    if (!any(worse | worse_alone)) return;
    worst = select(worse, residual / through, worst);
    if (any(worse_alone)) worst = select(worse_alone, greatest(worst, residual_alone / through_alone), worst);
  }

  /// In place: a phase is a dozen registers, too many to copy.
  WARMLEDGER_INLINE static void set_phase(Phase& p, const Batch& b, const L& tau, const L& absorbed_w,
                                          const L& coil_over, const M& on, const L& time, const L& per_collector_j_k) {
    const auto param = [&](Param which) { return L::load(b.param + which * W); };
    const L zero = L::all(0);
    p.start = tau;
    p.on = on;
    p.time = time;
    p.slope_w_k = param(loss_1_w_k) + param(loss_2_w_k2) * greatest(tau, zero);
    const L falls = p.slope_w_k + select(on, param(loop_gain_w_k), zero);
    const L rate = (absorbed_w + select(on, param(loop_store_w_k) * coil_over, zero) - falls * tau) * per_collector_j_k;
    p.exponent = falls * time * per_collector_j_k;
    p.decay = kernel::WARMLEDGER_KERNEL::decay(p.exponent);
    p.change = rate * time;
    p.end = tau + p.change * p.decay.end;
    p.mean = tau + p.change * p.decay.mean;
  }

  /// Whether the controller switches within the stretch.
  WARMLEDGER_INLINE static M crosses(const Batch& b, const Phase& p, const L& coil_over, const M& on) {
    const L to_off = coil_over + L::load(b.param + off_k * W);
    const L to_on = coil_over + L::load(b.param + on_k * W);
    return (on & (least(p.start, p.end) <= to_off)) | (~on & (greatest(p.start, p.end) >= to_on));
  }
  /// And when: from the decay's start rate and how it falls off, with ln x taken as 2 (x - 1)/(x + 1).
  WARMLEDGER_INLINE static L crossing(const Batch& b, const Phase& p, const L& coil_over, const M& on) {
    const L zero = L::all(0), one = L::all(1);
    const L threshold = coil_over + select(on, L::load(b.param + off_k * W), L::load(b.param + on_k * W));
    const L gap = threshold - p.start;
    const M already = (on & (gap >= zero)) | (~on & (gap <= zero));
    const L share = 2.0 * gap / select(already, one, 2.0 * p.change - gap * p.exponent);
    return select(already, zero, greatest(least(share, one), zero) * p.time);
  }

  /// A step of the existing heater's tank with `flow_j_k` of water through it, which brings `inflow_j` over 0 degC.
  WARMLEDGER_INLINE static StoreStep<W> store_step(const Batch& b, const L& tank, const L& inflow_j, const L& flow_j_k,
                                                   const M& was_on, double dt, const L& per_j_k) {
    const auto param = [&](Param which) { return L::load(b.param + which * W); };
    const L zero = L::all(0);
    const L loss_j_k = param(backup_ua_w_k) * dt;
    const L falls_j_k = flow_j_k + loss_j_k;
    const L z = falls_j_k * per_j_k;
    const L low = 1.0 + z * (0.5 + z * (1.0 / 6));
    const L full = 1.0 + z * low;
    const L inverse = 1.0 / (low * full);  // one division for both reciprocals
    const L end_share = low * low * inverse;
    const L mean_share = (0.5 + z * (1.0 / 3 + z * (1.0 / 6))) * low * inverse;
    const L per_end_share = full * full * inverse;
    // Parentheses keep what is known early off the chain from the inflow to the heat.
    const L change = (inflow_j + (loss_j_k * param(backup_room_c) - falls_j_k * tank)) * per_j_k;
    const L lacking = (param(backup_set_c) - tank) - change * end_share;
    const L need_j = lacking * (param(backup_j_k) * per_end_share);
    const L efficiency = greatest(least(param(efficiency_0) + param(efficiency_1_k) * tank, param(efficiency_most)),
                                  param(efficiency_least));
    const L most_j = param(input_w) * dt * efficiency;
    const M called = (lacking > param(backup_band_k)) | (was_on & (lacking > zero));
    StoreStep<W> s;
    s.heat_j = select(called, greatest(least(need_j, most_j), zero), zero);
    s.fuel_j = s.heat_j / efficiency;
    s.on = called & (need_j > most_j);
    const L heated = change + s.heat_j * per_j_k;
    s.end = tank + heated * end_share;
    s.mean = tank + heated * mean_share;
    s.standby_j = loss_j_k * (s.mean - param(backup_room_c));
    return s;
  }

  /// Makes each lane's tank no warmer below than above, by pooling neighbours to their mean. The order in which they
  /// are pooled does not matter; lanes without an inversion of more than a nanokelvin are left as they are.
  WARMLEDGER_INLINE static void mix_inversions(double* tank, const L& fill, int last) {
    L steepest = L::all(0);
    L above = L::load(tank);
    for (int i = 1; i <= last; ++i) {
      const L below = L::load(tank + i * W);
      steepest = greatest(below - above, steepest);
      above = below;
    }
    while (any(steepest > L::all(inversion_k))) steepest = mix_lowest_inversion(tank, fill, last);
  }

  /// Pools the lowest inversion of each lane, from the bottom up while the next slot is no warmer than the pool. That
  /// cools the pool, so that the slots under it may now be warmer: the next pass pools them. Returns by how much a slot
  /// is still warmer than the one above. One pool a pass takes one division, and few lanes have two.
  WARMLEDGER_INLINE static L mix_lowest_inversion(double* tank, const L& fill, int last) {
    const L zero = L::all(0), one = L::all(1);
    // The pool so far, in nodes and node times degC. Until it holds an inversion it starts anew at every warmer slot.
    L number = fill;
    L below = L::load(tank + last * W);
    L total = fill * below;
    L place = L::all(last), lowest = place, highest = place;
    M found = zero > zero, open = ~found;
    for (int i = last - 1; i >= 0; --i) {
      place = place - one;
      const L here = L::load(tank + i * W);
      const L volume = i == 0 ? one - fill : one;
      const L content = volume * here;
      const M joins = open & (here * number <= total);
      total = select(joins, total + content, select(found, total, content));
      number = select(joins, number + volume, select(found, number, volume));
      lowest = select(joins | found, lowest, place);
      open = joins | ~found;
      highest = select(open, place, highest);
      found = found | (joins & (below - here > L::all(inversion_k)));
      below = here;
    }
    lowest = select(found, lowest, L::all(-1));
    const L mean = total / number;
    L steepest = zero, above;
    place = zero;
    for (int i = 0; i <= last; ++i) {
      const M pooled = (place >= highest) & (place <= lowest);
      place = place + 1.0;
      const L now = select(pooled, mean, L::load(tank + i * W));
      now.store(tank + i * W);
      if (i > 0) steepest = greatest(now - above, steepest);
      above = now;
    }
    return steepest;
  }

  /// What slot `i`, reached over `depth` of its height, lacks to the element's thermostat.
  WARMLEDGER_INLINE static L lacking_k(const L& set, const double* tank, int i, const L& depth) {
    const L zero = L::all(0);
    const L lacking = greatest(set - L::load(tank + i * W), zero);
    return i == 0 ? lacking : select(depth >= L::all(0.5), lacking, zero);
  }

  /// Takes `rest` (in nodes) off the top and lets mains water in below: the pile moves up, `fill` with it. Returns the
  /// content taken, node times degC.
  WARMLEDGER_INLINE static L draw_store(double* tank, L& fill, L rest, const L& mains, int last) {
    const L zero = L::all(0), one = L::all(1);
    L drawn = zero;
    double* const end = tank + last * W;
    M empties = rest > zero;
    while (any(empties)) {
      // By the sum, not by the room: a draw that falls short of it by rounding would leave a top slot of no volume.
      empties = fill + rest >= one;
      const L take = select(empties, one - fill, rest);
      drawn = drawn + take * L::load(tank);
      fill = fill + take;
      const L bottom = L::load(end);
      const L share = take / select(fill > zero, fill, one);
      (bottom + share * (mains - bottom)).store(end);
      if (!any(empties)) break;
      L here = L::load(tank);
      for (int i = 0; i < last; ++i) {
        const L below = L::load(tank + (i + 1) * W);
        select(empties, below, here).store(tank + i * W);
        here = below;
      }
      // What is left begins the next slot, unless it is more than a slot.
      rest = select(empties, rest - take, zero);
      fill = select(empties, zero, fill);
      empties = rest >= one;
      const M begins = (rest > zero) & ~empties;
      drawn = drawn + select(begins, rest * L::load(tank), zero);
      select(begins, mains, L::load(end)).store(end);
      fill = select(begins, rest, fill);
      rest = select(empties, rest, zero);
    }
    if (last == 1) {  // a single node is a mixed tank
      const L mixed = (one - fill) * L::load(tank) + fill * L::load(tank + W);
      mixed.store(tank);
      mixed.store(tank + W);
      fill = zero;
    }
    return drawn;
  }

  /// Mean temperature beside the exchanger.
  WARMLEDGER_INLINE static L coil_mean(const Batch& b, const double* tank, const double* reach) {
    const auto content = [&](int i) { return L::load(reach + i * W) * L::load(tank + i * W); };
    L even = L::all(0), odd = even;  // two chains of additions, from the bottom up: neighbours' slots add 0 at the end
    for (int i = b.nodes; i >= b.coil_first; i -= 2) {
      even = even + content(i);
      if (i > b.coil_first) odd = odd + content(i - 1);
    }
    return (even + odd) * L::load(b.param + per_coil_nodes * W);
  }

  /// Warms each slot by `per_node` times the share of it beside the exchanger.
  WARMLEDGER_INLINE static void heat_nodes(double* tank, const double* reach, const L& fill, const L& per_node,
                                           int first, int last) {
    for (int i = first; i < last; ++i) {
      L share = L::load(reach + i * W);
      if (i == 0) share = share / (1.0 - fill);
      (L::load(tank + i * W) + per_node * share).store(tank + i * W);
    }
    (L::load(tank + last * W) + per_node).store(tank + last * W);
  }
};

template <int W>
void run_plan(const Batch& b, Plan plan) {
  switch (plan) {
    case Plan::two_tank_store:
      return Simulation<W, false, true>::run(b);
    case Plan::two_tank_flow:
      return Simulation<W, false, false>::run(b);
    case Plan::one_tank_store:
      return Simulation<W, true, true>::run(b);
    case Plan::one_tank_flow:
      return Simulation<W, true, false>::run(b);
  }
}

}  // namespace warmledger::hotwater::kernel::WARMLEDGER_KERNEL

#undef WARMLEDGER_INLINE
#endif  // WARMLEDGER_KERNEL
