#include "warmledger/hotwater/demand_profile.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::hotwater {

namespace {

constexpr std::size_t minutes_a_day = 1440;
constexpr std::size_t hours_a_year = 8760;

constexpr int at(int hour, int minute) {
  return 60 * hour + minute;
}

constexpr std::array very_small_draws{Draw{at(0, 0), 2, 1},    Draw{at(1, 0), 1, 1},    Draw{at(1, 5), 0.5, 1},
                                      Draw{at(1, 10), 0.5, 1}, Draw{at(1, 15), 0.5, 1}, Draw{at(8, 0), 1, 1},
                                      Draw{at(8, 15), 2, 1},   Draw{at(9, 0), 1.5, 1},  Draw{at(9, 15), 1, 1}};
constexpr std::array low_draws{Draw{at(0, 0), 15, 1.7},  Draw{at(0, 30), 2, 1},    Draw{at(1, 0), 1, 1},
                               Draw{at(10, 30), 6, 1.7}, Draw{at(11, 30), 4, 1.7}, Draw{at(12, 0), 1, 1},
                               Draw{at(12, 45), 1, 1},   Draw{at(12, 50), 1, 1},   Draw{at(16, 15), 2, 1},
                               Draw{at(16, 45), 2, 1.7}, Draw{at(17, 0), 3, 1.7}};
constexpr std::array medium_draws{Draw{at(0, 0), 15, 1.7},  Draw{at(0, 30), 2, 1},    Draw{at(1, 40), 9, 1.7},
                                  Draw{at(10, 30), 9, 1.7}, Draw{at(11, 30), 5, 1.7}, Draw{at(12, 0), 1, 1},
                                  Draw{at(12, 45), 1, 1},   Draw{at(12, 50), 1, 1},   Draw{at(16, 0), 1, 1},
                                  Draw{at(16, 15), 2, 1},   Draw{at(16, 45), 2, 1.7}, Draw{at(17, 0), 7, 1.7}};
constexpr std::array high_draws{Draw{at(0, 0), 27, 3},    Draw{at(0, 30), 2, 1},   Draw{at(0, 40), 1, 1},
                                Draw{at(1, 40), 9, 1.7},  Draw{at(10, 30), 15, 3}, Draw{at(11, 30), 5, 1.7},
                                Draw{at(12, 0), 1, 1},    Draw{at(12, 45), 1, 1},  Draw{at(12, 50), 1, 1},
                                Draw{at(16, 0), 2, 1},    Draw{at(16, 15), 2, 1},  Draw{at(16, 30), 2, 1.7},
                                Draw{at(16, 45), 2, 1.7}, Draw{at(17, 0), 14, 3}};

constexpr std::array<double, 24> family_hours{0.0085, 0.0085, 0.0085, 0.0085, 0.0085, 0.0100, 0.0750, 0.0750,
                                              0.0650, 0.0650, 0.0650, 0.0460, 0.0460, 0.0370, 0.0370, 0.0370,
                                              0.0370, 0.0630, 0.0630, 0.0630, 0.0630, 0.0510, 0.0510, 0.0085};

[[noreturn]] void refuse(std::string key, std::string value, std::string what, std::string allowed) {
  throw errors::ValueOutOfRange({{"", {}, {}, std::move(key)}, std::move(value), std::move(what), std::move(allowed)});
}

}  // namespace

std::string_view name_of(FederalPattern pattern) {
  switch (pattern) {
    case FederalPattern::very_small:
      return "very_small";
    case FederalPattern::low:
      return "low";
    case FederalPattern::medium:
      return "medium";
    case FederalPattern::high:
      return "high";
  }
  return "";
}

FederalPattern federal_pattern_named(std::string_view name) {
  for (const FederalPattern pattern :
       {FederalPattern::very_small, FederalPattern::low, FederalPattern::medium, FederalPattern::high}) {
    if (name_of(pattern) == name) return pattern;
  }
  throw errors::unknown_name("federal_pattern", name, {"very_small", "low", "medium", "high"});
}

std::span<const Draw> federal_draws(FederalPattern pattern) {
  switch (pattern) {
    case FederalPattern::very_small:
      return very_small_draws;
    case FederalPattern::low:
      return low_draws;
    case FederalPattern::medium:
      return medium_draws;
    case FederalPattern::high:
      return high_draws;
  }
  return {};
}

double federal_gallons(FederalPattern pattern) {
  double sum = 0;
  for (const Draw& draw : federal_draws(pattern)) sum += draw.gallons;
  return sum;
}

DrawProfile DrawProfile::family() {
  return from_hours(family_hours);
}

DrawProfile DrawProfile::federal(FederalPattern pattern) {
  DrawProfile profile;
  profile.minutes_.assign(minutes_a_day, 0);
  const double total = federal_gallons(pattern);
  for (const Draw& draw : federal_draws(pattern)) {
    double left = draw.gallons;
    for (auto minute = static_cast<std::size_t>(draw.start_minute); left > 0; ++minute) {
      const double now = std::min(left, draw.gallons_per_minute);
      profile.minutes_[minute % minutes_a_day] += now / total;
      left -= now;
    }
  }
  return profile;
}

DrawProfile DrawProfile::from_hours(std::span<const double> volumes) {
  if (volumes.size() != 24 && volumes.size() != hours_a_year) {
    refuse("draw_profile", fmt::format("{} values", volumes.size()), "is not a day or a year of hours",
           "24 or 8760 values");
  }
  double sum = 0;
  for (std::size_t hour = 0; hour < volumes.size(); ++hour) {
    errors::require_in_range(fmt::format("draw_profile, hour {}", hour), volumes[hour], 0, 1e9);
    sum += volumes[hour];
  }
  if (!(sum > 0)) refuse("draw_profile", "0", "has no draw at all", "a sum above 0");

  DrawProfile profile;
  if (volumes.size() == 24) {
    profile.minutes_.resize(minutes_a_day);
    for (std::size_t minute = 0; minute < minutes_a_day; ++minute) {
      profile.minutes_[minute] = volumes[minute / 60] / sum / 60;
    }
  } else {
    profile.minutes_.assign(minutes_a_day, 1.0 / minutes_a_day);
    profile.hour_factors_.resize(hours_a_year);
    for (std::size_t hour = 0; hour < hours_a_year; ++hour) {
      profile.hour_factors_[hour] = volumes[hour] / sum * static_cast<double>(hours_a_year);
    }
  }
  return profile;
}

std::vector<double> DrawProfile::day_steps(int step_minutes) const {
  if (step_minutes < 1 || step_minutes > 60 || 60 % step_minutes != 0) {
    refuse("step_minutes", fmt::format("{}", step_minutes), "does not divide the hour",
           "1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30 or 60 minutes");
  }
  const auto width = static_cast<std::size_t>(step_minutes);
  std::vector<double> steps(minutes_a_day / width);
  for (std::size_t minute = 0; minute < minutes_a_day; ++minute) steps[minute / width] += minutes_[minute];
  return steps;
}

double DrawProfile::hour_share(int hour) const {
  errors::require_in_range("hour", hour, 0, static_cast<double>(hours_a_year - 1));
  double share = 0;
  for (std::size_t minute = 0; minute < 60; ++minute)
    share += minutes_[static_cast<std::size_t>(hour % 24) * 60 + minute];
  return hour_factors_.empty() ? share : share * hour_factors_[static_cast<std::size_t>(hour)];
}

}  // namespace warmledger::hotwater
