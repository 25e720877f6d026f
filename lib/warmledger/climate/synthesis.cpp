#include "warmledger/climate/synthesis.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <span>
#include <vector>

#include <fmt/format.h>

#include "warmledger/climate/sun.hpp"
#include "warmledger/climate/tilted.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::climate {

namespace {

using std::numbers::pi;

constexpr double deg = units::radian_per_degree;
using Table = std::array<std::array<double, 10>, 10>;

// Aguiar, Collares-Pereira & Conde (1988), Solar Energy 40, 269-279: transition probabilities in thousandths, a table
// for each class of monthly clearness. Transcribed from public copies; the first table stands alike in five.
constexpr std::array<Table, 10> thousandths{{
    {{{{229, 333, 208, 42, 83, 42, 42, 21, 0, 0}},
      {{167, 319, 194, 139, 97, 28, 42, 0, 14, 0}},
      {{250, 250, 91, 136, 91, 46, 46, 23, 68, 0}},
      {{158, 237, 158, 263, 26, 53, 79, 26, 0, 0}},
      {{211, 53, 211, 158, 53, 53, 158, 105, 0, 0}},
      {{125, 125, 250, 188, 63, 125, 0, 125, 0, 0}},
      {{40, 240, 80, 120, 80, 80, 120, 120, 80, 40}},
      {{0, 250, 0, 125, 0, 125, 125, 250, 63, 63}},
      {{0, 250, 0, 125, 250, 0, 250, 0, 0, 125}},
      {{0, 0, 0, 0, 0, 0, 500, 250, 0, 250}}}},
    {{{{0, 0, 91, 0, 364, 91, 182, 0, 273, 0}},
      {{118, 118, 176, 118, 59, 118, 176, 59, 59, 0}},
      {{67, 267, 67, 200, 67, 0, 133, 133, 0, 67}},
      {{118, 235, 0, 235, 59, 176, 118, 0, 59, 0}},
      {{77, 154, 308, 77, 154, 77, 0, 77, 77, 0}},
      {{83, 0, 167, 250, 83, 167, 0, 83, 167, 0}},
      {{222, 222, 0, 111, 111, 0, 111, 222, 0, 0}},
      {{91, 182, 273, 0, 91, 273, 0, 91, 0, 0}},
      {{111, 111, 111, 222, 0, 0, 0, 222, 111, 111}},
      {{0, 0, 0, 0, 0, 0, 500, 0, 0, 500}}}},
    {{{{206, 88, 176, 176, 88, 29, 176, 29, 29, 0}},
      {{120, 100, 140, 160, 120, 220, 100, 0, 20, 20}},
      {{77, 123, 185, 123, 77, 139, 92, 123, 61, 0}},
      {{48, 111, 95, 206, 206, 190, 95, 48, 0, 0}},
      {{59, 137, 118, 137, 98, 118, 118, 157, 59, 0}},
      {{14, 97, 139, 153, 125, 139, 208, 56, 42, 28}},
      {{73, 101, 116, 145, 87, 159, 203, 87, 29, 0}},
      {{19, 37, 111, 56, 74, 111, 185, 296, 74, 37}},
      {{35, 69, 35, 0, 35, 103, 172, 138, 379, 35}},
      {{0, 167, 167, 0, 167, 0, 0, 333, 0, 167}}}},
    {{{{167, 167, 167, 0, 83, 125, 0, 167, 125, 0}},
      {{117, 117, 150, 117, 83, 117, 200, 67, 17, 17}},
      {{49, 85, 134, 158, 98, 110, 134, 134, 61, 37}},
      {{39, 90, 141, 141, 167, 141, 90, 141, 39, 13}},
      {{9, 139, 74, 93, 194, 139, 167, 93, 74, 19}},
      {{36, 18, 117, 99, 144, 180, 180, 117, 72, 36}},
      {{0, 46, 61, 61, 136, 159, 273, 167, 98, 0}},
      {{16, 56, 80, 128, 104, 80, 160, 208, 136, 32}},
      {{11, 53, 21, 43, 128, 96, 74, 223, 277, 74}},
      {{0, 74, 37, 0, 74, 74, 74, 74, 333, 259}}}},
    {{{{120, 200, 160, 120, 120, 120, 80, 0, 40, 40}},
      {{100, 80, 120, 140, 140, 200, 180, 40, 0, 0}},
      {{46, 114, 68, 171, 125, 171, 80, 159, 57, 11}},
      {{15, 61, 84, 99, 191, 153, 153, 115, 115, 15}},
      {{24, 30, 98, 98, 165, 195, 195, 140, 43, 12}},
      {{15, 26, 62, 124, 144, 170, 170, 222, 62, 5}},
      {{0, 13, 45, 108, 112, 175, 188, 224, 117, 18}},
      {{8, 23, 54, 66, 93, 125, 191, 253, 183, 4}},
      {{6, 22, 61, 33, 67, 83, 139, 222, 322, 44}},
      {{0, 46, 91, 91, 46, 46, 136, 91, 273, 182}}}},
    {{{{250, 179, 107, 107, 143, 71, 107, 36, 0, 0}},
      {{133, 22, 89, 111, 156, 178, 111, 133, 67, 0}},
      {{64, 48, 143, 48, 175, 143, 206, 95, 79, 0}},
      {{0, 22, 78, 111, 156, 156, 244, 167, 44, 22}},
      {{16, 27, 37, 69, 160, 219, 230, 160, 75, 5}},
      {{13, 25, 30, 93, 144, 202, 215, 219, 55, 4}},
      {{6, 41, 35, 64, 90, 180, 337, 192, 49, 6}},
      {{12, 21, 29, 35, 132, 123, 184, 371, 82, 12}},
      {{8, 16, 16, 24, 71, 103, 159, 270, 309, 24}},
      {{0, 0, 0, 0, 59, 0, 59, 294, 412, 176}}}},
    {{{{217, 87, 0, 174, 130, 87, 87, 130, 87, 0}},
      {{26, 79, 132, 79, 26, 158, 158, 132, 158, 53}},
      {{20, 20, 20, 40, 160, 180, 160, 200, 100, 100}},
      {{25, 13, 38, 76, 76, 139, 139, 266, 215, 13}},
      {{30, 30, 50, 20, 91, 131, 162, 283, 131, 71}},
      {{6, 6, 13, 57, 57, 121, 204, 287, 185, 64}},
      {{4, 26, 37, 30, 93, 107, 193, 307, 167, 37}},
      {{11, 9, 14, 42, 41, 71, 152, 418, 203, 41}},
      {{12, 22, 22, 38, 19, 50, 113, 281, 360, 84}},
      {{8, 24, 39, 39, 63, 39, 118, 118, 284, 268}}}},
    {{{{67, 133, 133, 67, 67, 200, 133, 133, 67, 0}},
      {{118, 59, 59, 59, 59, 118, 118, 235, 118, 59}},
      {{0, 24, 24, 49, 146, 73, 195, 244, 195, 49}},
      {{26, 0, 26, 26, 53, 184, 263, 184, 237, 0}},
      {{14, 0, 42, 56, 69, 97, 139, 306, 278, 0}},
      {{9, 9, 52, 69, 52, 112, 215, 285, 138, 60}},
      {{9, 9, 26, 17, 94, 99, 232, 283, 210, 21}},
      {{10, 14, 16, 19, 27, 62, 163, 467, 202, 19}},
      {{4, 7, 31, 17, 33, 50, 86, 252, 469, 50}},
      {{0, 0, 15, 46, 31, 46, 77, 123, 446, 215}}}},
    {{{{0, 0, 0, 0, 0, 0, 0, 0, 1000, 0}},
      {{0, 0, 0, 0, 0, 0, 0, 0, 1000, 0}},
      {{0, 0, 0, 0, 0, 0, 250, 250, 500, 0}},
      {{0, 0, 0, 0, 250, 0, 0, 375, 250, 125}},
      {{0, 0, 0, 83, 0, 167, 167, 250, 333, 0}},
      {{0, 0, 42, 42, 42, 83, 83, 292, 292, 125}},
      {{0, 0, 32, 0, 0, 32, 129, 387, 355, 65}},
      {{0, 0, 0, 38, 38, 75, 47, 340, 415, 47}},
      {{4, 4, 7, 7, 11, 30, 52, 141, 654, 89}},
      {{0, 0, 0, 0, 61, 61, 30, 30, 349, 470}}}},
    {{{{0, 0, 0, 0, 0, 0, 0, 0, 1000, 0}},
      {{100, 100, 100, 100, 100, 100, 100, 100, 100, 100}},
      {{0, 0, 0, 250, 0, 0, 0, 500, 250, 0}},
      {{0, 0, 143, 143, 0, 143, 143, 429, 0, 0}},
      {{0, 0, 0, 200, 0, 0, 200, 400, 200, 0}},
      {{0, 0, 0, 0, 0, 0, 222, 444, 333, 0}},
      {{0, 0, 0, 0, 80, 80, 80, 480, 240, 40}},
      {{0, 0, 27, 9, 27, 18, 135, 523, 252, 9}},
      {{0, 0, 0, 22, 0, 43, 43, 326, 511, 54}},
      {{0, 0, 0, 143, 0, 0, 0, 143, 714, 0}}}},
}};
constexpr std::array<double, 9> class_edges{0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70};
constexpr std::array<double, 10> class_lowest{0.031, 0.058, 0.051, 0.052, 0.028, 0.053, 0.044, 0.085, 0.010, 0.319};
constexpr std::array<double, 10> class_highest{0.705, 0.694, 0.753, 0.753, 0.807, 0.856, 0.818, 0.846, 0.842, 0.865};

// Below this mean the sun of a month only grazes the horizon, and the clearness index means nothing.
constexpr double grazing_kwh_m2_day = 0.1;
constexpr int sequence_trials = 50;
constexpr double sequence_tolerance = 0.02;
constexpr int hour_trials = 12;

/// Random draws without a state: each is a hash of the seed and of what it is for, so that no draw shifts another.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : key_(mixed(seed + golden)) {}

  /// Uniform in (0, 1).
  [[nodiscard]] double uniform(std::uint64_t purpose, std::uint64_t index, std::uint64_t trial = 0) const {
    const std::uint64_t counter = (purpose << 56U) ^ (index << 24U) ^ trial;
    return (static_cast<double>(mixed(key_ + counter * golden) >> 11U) + 0.5) * 0x1p-53;
  }
  /// Mean 0, standard deviation 1, nearly normal and bounded at 5.06: the inverse of Tukey's lambda distribution with
  /// exponent 0.135, which Aguiar & Collares-Pereira (1992) use.
  [[nodiscard]] double normal(std::uint64_t purpose, std::uint64_t index, std::uint64_t trial = 0) const {
    const double z = uniform(purpose, index, trial);
    return (std::pow(z, 0.135) - std::pow(1 - z, 0.135)) / 0.1975;
  }

 private:
  static constexpr std::uint64_t golden = 0x9E3779B97F4A7C15U;
  // Steele, Lea & Flood (2014), the finishing function of SplitMix64.
  static std::uint64_t mixed(std::uint64_t z) {
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
    return z ^ (z >> 31U);
  }
  std::uint64_t key_;
};

enum Purpose : std::uint64_t { daily_clearness_draw = 1, hourly_start_draw, hourly_draw, daily_temperature_draw };

std::array<ClearnessTransitions, 10> normalised() {
  std::array<ClearnessTransitions, 10> result;
  for (std::size_t c = 0; c < result.size(); ++c) {
    result[c].lowest = class_lowest[c];
    result[c].highest = class_highest[c];
    for (std::size_t row = 0; row < 10; ++row) {
      const auto& given = thousandths[c][row];
      const double sum = std::accumulate(given.begin(), given.end(), 0.0);
      for (std::size_t k = 0; k < 10; ++k) result[c].probability[row][k] = given[k] / sum;
    }
  }
  return result;
}

double next_clearness(const ClearnessTransitions& transitions, double today, double draw) {
  const double width = (transitions.highest - transitions.lowest) / 10;
  const double state = std::clamp((today - transitions.lowest) / width, 0.0, 9.0);
  const auto& row = transitions.probability[static_cast<std::size_t>(state)];
  double passed = 0;
  for (std::size_t k = 0; k < row.size(); ++k) {
    if (row[k] > 0 && draw <= passed + row[k]) {
      return transitions.lowest + width * (static_cast<double>(k) + (draw - passed) / row[k]);
    }
    passed += row[k];
  }
  return transitions.highest;
}

/// Scales the values by one factor, each held at its cap, so that the weighted sum meets the target. False, with the
/// values at their caps, if the caps leave no room.
bool scale_under_caps(std::span<double> values, std::span<const double> weights, std::span<const double> caps,
                      double target) {
  double room = 0;
  for (std::size_t k = 0; k < values.size(); ++k) room += weights[k] * caps[k];
  if (room < target) {
    std::copy(caps.begin(), caps.end(), values.begin());
    return false;
  }
  for (std::size_t pass = 0; pass <= values.size(); ++pass) {
    double held = 0;
    double loose = 0;
    for (std::size_t k = 0; k < values.size(); ++k) {
      (values[k] >= caps[k] ? held : loose) += weights[k] * values[k];
    }
    if (!(loose > 0)) break;
    const double factor = (target - held) / loose;
    bool more = false;
    for (std::size_t k = 0; k < values.size(); ++k) {
      if (values[k] >= caps[k]) continue;
      values[k] *= factor;
      if (values[k] > caps[k]) {
        values[k] = caps[k];
        more = true;
      }
    }
    if (!more) break;
  }
  return true;
}

struct Light {
  std::array<double, 365> daily_clearness{};  // 0 in months without a clearness index
  std::size_t hours_over_bound = 0;
};

class Maker {
 public:
  Maker(const Climate& climate, std::uint64_t seed, const SunYear& sun, HourlyYear& year)
      : climate_(climate), draws_(seed), sun_(sun), year_(year) {}

  void make_light() {
    std::size_t first = 0;
    last_clearness_ = 0;
    for (std::size_t m = 0; m < 12; ++m) {
      month_light(m, first, static_cast<std::size_t>(days_in_month[m]));
      first += static_cast<std::size_t>(days_in_month[m]);
    }
    if (light_.hours_over_bound > 0) {
      year_.remarks.push_back(
          fmt::format("{} hours lie above the clear-sky bound, on days whose irradiation could not be reached under it",
                      light_.hours_over_bound));
    }
  }

  void make_temperature();

 private:
  void month_light(std::size_t m, std::size_t first, std::size_t days);
  void day_light(std::size_t day, double clearness, double total);
  void split(std::size_t i, double global, double normal);

  const Climate& climate_;
  Draws draws_;
  const SunYear& sun_;
  HourlyYear& year_;
  Light light_;
  double last_clearness_ = 0;
};

void Maker::month_light(std::size_t m, std::size_t first, std::size_t days) {
  std::array<double, 31> outside{};
  double outside_sum = 0;
  for (std::size_t d = 0; d < days; ++d) {
    for (std::size_t i = 24 * (first + d); i < 24 * (first + d + 1); ++i) {
      outside[d] += sun_.extraterrestrial_horizontal_w_m2[i];
    }
    outside_sum += outside[d];
  }
  const double given = climate_.months.horizontal_kwh_m2_day[m];
  const double target = given * 1000 * static_cast<double>(days);  // Wh/m2 of the month
  if (target <= 0) {
    last_clearness_ = 0;
    return;
  }
  const bool grazing = outside_sum < grazing_kwh_m2_day * 1000 * static_cast<double>(days);
  if (grazing ? given > grazing_kwh_m2_day : target > outside_sum) {
    throw errors::ValueOutOfRange(
        {{"", {}, {}, "horizontal_kwh_m2_day"},
         errors::plain_number(given),
         fmt::format("is out of range for month {} at latitude {}", m + 1,
                     errors::plain_number(climate_.place.latitude_deg)),
         fmt::format("0 to {:.4g} kWh/m2 a day, which is what arrives outside the atmosphere",
                     grazing ? grazing_kwh_m2_day : outside_sum / 1000 / static_cast<double>(days))});
  }
  if (grazing) {
    // What little light there is comes from the sky: as the sun's height goes, or about noon if it never rises.
    for (std::size_t d = first; d < first + days; ++d) {
      for (std::size_t i = 24 * d; i < 24 * (d + 1); ++i) {
        const double weight = outside_sum > 0 && target <= outside_sum
                                  ? sun_.extraterrestrial_horizontal_w_m2[i] / outside_sum
                                  : (std::cos(sun_.hour_angle_rad[i]) > 0.9 ? 1.0 : 0.0);
        year_.global_w_m2[i] = weight;
      }
    }
    const auto begin = year_.global_w_m2.begin() + static_cast<std::ptrdiff_t>(24 * first);
    const auto end = begin + static_cast<std::ptrdiff_t>(24 * days);
    const double sum = std::accumulate(begin, end, 0.0);
    for (auto hour = begin; hour != end; ++hour) *hour *= target / sum;
    std::copy(begin, end, year_.diffuse_w_m2.begin() + static_cast<std::ptrdiff_t>(24 * first));
    last_clearness_ = 0;
    return;
  }

  const double mean = target / outside_sum;
  const ClearnessTransitions& transitions = clearness_transitions(mean);
  std::array<double, 31> chosen{};
  double least = std::numeric_limits<double>::infinity();
  for (std::uint64_t trial = 0; trial < sequence_trials && least > sequence_tolerance; ++trial) {
    std::array<double, 31> daily{};
    double clearness = last_clearness_ > 0 ? last_clearness_ : mean;
    double sum = 0;
    for (std::size_t d = 0; d < days; ++d) {
      clearness = next_clearness(transitions, clearness, draws_.uniform(daily_clearness_draw, first + d, trial));
      daily[d] = clearness;
      sum += clearness * outside[d];
    }
    const double error = std::fabs(sum / target - 1);
    if (error < least) {
      least = error;
      chosen = daily;
    }
  }
  // The month's irradiation is met exactly; no day becomes clearer than the clearest of its class, save where the mean
  // itself asks for it.
  std::array<double, 31> caps{};
  caps.fill(std::max(transitions.highest, mean));
  scale_under_caps(std::span(chosen).first(days), std::span<const double>(outside).first(days),
                   std::span<const double>(caps).first(days), target);
  double reached = 0;
  for (std::size_t d = 0; d < days; ++d) reached += chosen[d] * outside[d];
  for (std::size_t d = 0; d < days; ++d) {
    day_light(first + d, chosen[d], chosen[d] * outside[d] * (target / reached));
    light_.daily_clearness[first + d] = chosen[d];
  }
  last_clearness_ = chosen[days - 1];
}

void Maker::day_light(std::size_t day, double clearness, double total) {
  std::array<std::size_t, 24> hour{};
  std::array<double, 24> value{}, weight{}, cap{};
  std::size_t count = 0;
  const double persistence = hourly_persistence(clearness);
  const double innovation = std::sqrt(1 - persistence * persistence);
  double departure = draws_.normal(hourly_start_draw, day);
  for (std::size_t i = 24 * day; i < 24 * (day + 1); ++i) {
    if (!(sun_.extraterrestrial_horizontal_w_m2[i] > 0)) continue;
    const HourlyClearness expected = hourly_clearness(clearness, sun_.up[i]);
    const double bound = clear_hour_bound(sun_.hour_angle_rad[i]);
    double next = 0;
    double kt = -1;
    for (std::uint64_t trial = 0; trial < hour_trials && (kt < 0 || kt > bound); ++trial) {
      next = persistence * departure + innovation * draws_.normal(hourly_draw, i, trial);
      kt = expected.mean + expected.deviation * next;
    }
    departure = next;
    hour[count] = i;
    value[count] = std::clamp(kt, 0.01, bound);
    weight[count] = sun_.extraterrestrial_horizontal_w_m2[i];
    cap[count] = bound;
    ++count;
  }
  if (count == 0) return;
  const auto values = std::span(value).first(count);
  const auto weights = std::span<const double>(weight).first(count);
  const auto caps = std::span<const double>(cap).first(count);
  if (!scale_under_caps(values, weights, caps, total)) {
    std::array<double, 24> all{};
    all.fill(1);
    // The values stand at the bound and are raised above it alike, none beyond what arrives outside the atmosphere.
    if (!scale_under_caps(values, weights, std::span<const double>(all).first(count), total)) {
      std::fill(values.begin(), values.end(), 1.0);
    }
    light_.hours_over_bound += count;
  }
  double reached = 0;
  for (std::size_t k = 0; k < count; ++k) reached += value[k] * weight[k];
  for (std::size_t k = 0; k < count; ++k) {
    split(hour[k], value[k] * weight[k] * (total / reached), sun_.extraterrestrial_normal_w_m2[day]);
  }
}

void Maker::split(std::size_t i, double global, double normal) {
  const double outside = sun_.extraterrestrial_horizontal_w_m2[i];
  double diffuse = global * hourly_diffuse_share(global / outside);
  const double up = sun_.up[i];
  double beam = (global - diffuse) / up;
  if (up < 0.25) {
    // The correlation knows no sun near the horizon: its beam is held to that of very clear air (transmittance 0.8 of
    // one air mass, exponent of Meinel & Meinel 1976) and the rest counted as diffuse.
    const double zenith = std::acos(up) / deg;
    const double clearest =
        normal * sun_.lit_share[i] * std::pow(0.8, std::pow(relative_air_mass(std::min(zenith, 90.0)), 0.678));
    if (beam > clearest) {
      beam = clearest;
      diffuse = global - beam * up;
    }
  }
  year_.global_w_m2[i] = global;
  year_.diffuse_w_m2[i] = diffuse;
  year_.beam_normal_w_m2[i] = beam;
}

void Maker::make_temperature() {
  const MonthlyClimate& months = climate_.months;
  double mean = 0;
  for (const double t : months.dry_bulb_c) mean += t / 12;
  double variance = 0;
  for (const double t : months.dry_bulb_c) variance += (t - mean) * (t - mean) / 11;
  const double spread_of_year = std::sqrt(variance);

  // Daily means: the seasonal course through the monthly means and a departure with memory. Its standard deviation is
  // that of the degree-day method of Erbs, Klein & Beckman (1983): 1.45 - 0.0290 T + 0.0664 (deviation of the monthly
  // means) times the root of the days, and 0.534 (pi/sqrt 3 over twice 1.698) for their logistic distribution; the
  // correlation of 0.65 from day to day is common practice. Both from memory; compared with typical years in the tests.
  constexpr double persistence = 0.65;
  std::array<double, 365> daily{}, swing{};
  std::array<double, 12> middle{};
  double start = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    middle[m] = start + days_in_month[m] / 2.0;
    start += days_in_month[m];
  }
  double departure = draws_.normal(daily_temperature_draw, 365);
  std::size_t day = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    const double deviation = std::max(0.5, 1.45 - 0.0290 * months.dry_bulb_c[m] + 0.0664 * spread_of_year) *
                             std::sqrt(static_cast<double>(days_in_month[m])) * 0.534;
    double clearness_sum = 0;
    for (int d = 0; d < days_in_month[m]; ++d, ++day) {
      const double now = static_cast<double>(day) + 0.5;
      const std::size_t next = now < middle[m] ? m : (m + 1) % 12;
      const std::size_t before = (next + 11) % 12;
      double from = middle[before], to = middle[next];
      if (to < from) (now < to ? from : to) += now < to ? -365.0 : 365.0;
      const double part = (now - from) / (to - from);
      departure = persistence * departure +
                  std::sqrt(1 - persistence * persistence) * draws_.normal(daily_temperature_draw, day);
      daily[day] = months.dry_bulb_c[before] * (1 - part) + months.dry_bulb_c[next] * part + deviation * departure;
      // Erbs, Klein & Beckman (1983): the range grows with the clearness of the day, 25.8 K - 5.21; here by proportion.
      swing[day] = light_.daily_clearness[day] > 0 ? std::max(1.5, 25.8 * light_.daily_clearness[day] - 5.21) : 1.0;
      clearness_sum += swing[day];
    }
    for (std::size_t d = day - static_cast<std::size_t>(days_in_month[m]); d < day; ++d) {
      swing[d] *= days_in_month[m] / clearness_sum;
    }
  }

  std::array<std::array<double, 24>, 12> shape{};
  const double clock_h = climate_.place.longitude_deg / 15 - climate_.place.utc_offset_h;
  for (std::size_t m = 0; m < 12; ++m) {
    double sum = 0;
    for (std::size_t h = 0; h < 24; ++h) {
      shape[m][h] = diurnal_shape(static_cast<double>(h) + 0.5 + clock_h + equation_of_time_min(middle[m]) / 60);
      sum += shape[m][h];
    }
    for (double& value : shape[m]) value -= sum / 24;
  }

  std::array<double, 12> amplitude{};
  for (std::size_t m = 0; m < 12; ++m) amplitude[m] = months.dry_bulb_range_k[m] / 0.97581;
  // The drift from day to day adds to the range: the amplitude is corrected until the mean range is the given one.
  for (int round = 0; round < 4; ++round) {
    std::size_t i = 0;
    day = 0;
    for (std::size_t m = 0; m < 12; ++m) {
      double range_sum = 0;
      for (int d = 0; d < days_in_month[m]; ++d, ++day) {
        const double yesterday = daily[(day + 364) % 365], today = daily[day], tomorrow = daily[(day + 1) % 365];
        const double size = amplitude[m] * swing[day];
        double low = std::numeric_limits<double>::infinity(), high = -low;
        for (std::size_t h = 0; h < 24; ++h, ++i) {
          const double past_noon = (static_cast<double>(h) - 11.5) / 24;
          const double level =
              past_noon < 0 ? today + past_noon * (today - yesterday) : today + past_noon * (tomorrow - today);
          const double value = level + size * shape[m][h];
          year_.dry_bulb_c[i] = value;
          low = std::min(low, value);
          high = std::max(high, value);
        }
        range_sum += high - low;
      }
      const double range = range_sum / days_in_month[m];
      amplitude[m] = std::max(0.0, amplitude[m] + (months.dry_bulb_range_k[m] - range) / 0.97581);
    }
  }

  std::size_t i = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    const std::size_t hours = 24 * static_cast<std::size_t>(days_in_month[m]);
    double sum = 0;
    for (std::size_t k = i; k < i + hours; ++k) sum += year_.dry_bulb_c[k];
    const double shift = months.dry_bulb_c[m] - sum / static_cast<double>(hours);
    for (const std::size_t end = i + hours; i < end; ++i) year_.dry_bulb_c[i] += shift;
  }
}

}  // namespace

const ClearnessTransitions& clearness_transitions(double monthly_clearness) {
  errors::require_in_range("monthly_clearness", monthly_clearness, 0, 1);
  static const std::array<ClearnessTransitions, 10> tables = normalised();
  std::size_t c = 0;
  while (c < class_edges.size() && monthly_clearness > class_edges[c]) ++c;
  return tables[c];
}

HourlyClearness hourly_clearness(double daily_clearness, double sin_elevation) {
  // Aguiar & Collares-Pereira (1992), equations for the mean and the deviation.
  const double k = daily_clearness;
  const double lambda = -0.19 + 1.12 * k + 0.24 * std::exp(-8 * k);
  const double rho = 0.32 - 1.6 * (k - 0.5) * (k - 0.5);
  const double kappa = 0.19 + 2.27 * k * k - 2.51 * k * k * k;
  const double a = 0.14 * std::exp(-20 * (k - 0.35) * (k - 0.35));
  const double b = 3 * (k - 0.45) * (k - 0.45) + 16 * k * k * k * k * k;
  const double height = std::clamp(sin_elevation, 1e-3, 1.0);
  return {lambda + rho * std::exp(-kappa / height), a * std::exp(b * (1 - height))};
}

double hourly_persistence(double daily_clearness) {
  return 0.38 + 0.06 * std::cos(7.4 * daily_clearness - 2.5);
}

double clear_hour_bound(double hour_angle_rad) {
  // 0.88 cos(pi (h - 12.5)/30) with h counting solar hours by their end: the middle of hour h is h - 0.5.
  return 0.88 * std::max(0.0, std::cos(0.4 * hour_angle_rad));
}

double hourly_global_ratio(double hour_angle_deg, double sunset_hour_angle_deg) {
  const double a = 0.409 + 0.5016 * std::sin((sunset_hour_angle_deg - 60) * deg);
  const double b = 0.6609 - 0.4767 * std::sin((sunset_hour_angle_deg - 60) * deg);
  return (a + b * std::cos(hour_angle_deg * deg)) * hourly_diffuse_ratio(hour_angle_deg, sunset_hour_angle_deg);
}

double hourly_diffuse_ratio(double hour_angle_deg, double sunset_hour_angle_deg) {
  errors::require_in_range("hour_angle_deg", hour_angle_deg, -180, 180, "degrees");
  errors::require_in_range("sunset_hour_angle_deg", sunset_hour_angle_deg, 0, 180, "degrees");
  if (std::fabs(hour_angle_deg) >= sunset_hour_angle_deg) return 0;
  const double ws = sunset_hour_angle_deg * deg;
  return pi / 24 * (std::cos(hour_angle_deg * deg) - std::cos(ws)) / (std::sin(ws) - ws * std::cos(ws));
}

double diurnal_shape(double solar_hour) {
  const double t = 2 * pi * (solar_hour - 1) / 24;
  return 0.4632 * std::cos(t - 3.805) + 0.0984 * std::cos(2 * t - 0.360) + 0.0168 * std::cos(3 * t - 0.822) +
         0.0138 * std::cos(4 * t - 3.513);
}

HourlyYear synthesize(const Climate& climate, std::uint64_t seed) {
  const MonthlyClimate& months = climate.months;
  for (std::size_t m = 0; m < 12; ++m) {
    const auto check = [m](const char* key, double value, double low, double high, const char* unit) {
      errors::require_in_range(fmt::format("{} of month {}", key, m + 1), value, low, high, unit);
    };
    check("horizontal_kwh_m2_day", months.horizontal_kwh_m2_day[m], 0, 15, "kWh/m2 a day");
    check("dry_bulb_c", months.dry_bulb_c[m], -60, 50, "degC");
    check("dry_bulb_range_k", months.dry_bulb_range_k[m], 0, 35, "K");
    check("wind_m_s", months.wind_m_s[m], 0, 40, "m/s");
    check("ground_albedo", months.ground_albedo[m], 0, 1, "");
  }
  HourlyYear year;
  year.place = climate.place;
  year.source = fmt::format("synthetic, from twelve monthly means and seed {}", seed);
  for (auto* column : {&year.global_w_m2, &year.beam_normal_w_m2, &year.diffuse_w_m2, &year.dry_bulb_c, &year.wind_m_s,
                       &year.ground_albedo}) {
    column->assign(hours_in_year, 0.0);
  }
  const SunYear sun = sun_year(climate.place);
  Maker maker(climate, seed, sun, year);
  maker.make_light();
  maker.make_temperature();
  std::size_t i = 0;
  for (std::size_t m = 0; m < 12; ++m) {
    for (const std::size_t end = i + 24 * static_cast<std::size_t>(days_in_month[m]); i < end; ++i) {
      year.wind_m_s[i] = months.wind_m_s[m];
      year.ground_albedo[i] = months.ground_albedo[m];
    }
  }
  return year;
}

}  // namespace warmledger::climate
