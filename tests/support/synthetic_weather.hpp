// An invented year of weather for tests of the simulation: temperate, deterministic, no real place.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <vector>

#include "warmledger/hotwater/simulation.hpp"

namespace support {

/// Small generator with the same numbers on every library (SplitMix64).
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}
  double uniform(double low, double high) {
    state_ += 0x9e3779b97f4a7c15U;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
    z ^= z >> 31U;
    return low + (high - low) * static_cast<double>(z >> 11U) * 0x1.0p-53;
  }
  int whole(int low, int high) { return low + static_cast<int>(uniform(0, high - low + 0.999999)); }

 private:
  std::uint64_t state_;
};

/// Owns the numbers that a Weather looks at.
struct WeatherYear {
  std::vector<double> irradiance, air, mains;
  [[nodiscard]] warmledger::hotwater::Weather view() const { return {irradiance, air, mains}; }
};

/// Half-sine sun whose length and height follow the season, random clear and cloudy days, a daily swing of air
/// temperature, mains behind the season.
inline WeatherYear invented_year(std::uint64_t seed = 1, double mean_air_c = 11, double most_sun_w_m2 = 950) {
  constexpr double pi = std::numbers::pi;
  WeatherYear year;
  year.irradiance.resize(8760);
  year.air.resize(8760);
  year.mains.resize(365);
  Random random(seed);
  for (std::size_t day = 0; day < 365; ++day) {
    const double season = -std::cos(2 * pi * (static_cast<double>(day) - 10) / 365);  // -1 at midwinter
    const double length_h = 12 + 2.8 * season;
    const double clear = random.uniform(0, 1) < 0.4 ? random.uniform(0.1, 0.5) : random.uniform(0.6, 1.0);
    const double day_air = mean_air_c + 13 * season + random.uniform(-5, 5);
    for (std::size_t hour = 0; hour < 24; ++hour) {
      const double middle = static_cast<double>(hour) + 0.5;
      const double sun = std::cos(pi * (middle - 12) / length_h);
      const double up = std::fabs(middle - 12) < length_h / 2 ? sun : 0.0;
      year.irradiance[24 * day + hour] =
          std::max(0.0, up) * most_sun_w_m2 * (0.9 + 0.1 * season) * clear * random.uniform(0.8, 1.0);
      year.air[24 * day + hour] = day_air - 5.5 * std::cos(2 * pi * (middle - 3) / 24);
    }
    year.mains[day] = std::max(2.0, mean_air_c + 2 + 6 * -std::cos(2 * pi * (static_cast<double>(day) - 45) / 365));
  }
  return year;
}

/// The same hour all year.
inline WeatherYear steady_year(double irradiance_w_m2, double air_c, double mains_c) {
  return {std::vector<double>(8760, irradiance_w_m2), std::vector<double>(8760, air_c),
          std::vector<double>(365, mains_c)};
}

}  // namespace support
