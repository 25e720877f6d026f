#include "warmledger/hotwater/sizing.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::hotwater {

namespace {

/// Tanks as the trade sells them, US gallons; larger ones are several side by side (common practice).
constexpr std::array<double, 12> tank_gallons{40, 50, 65, 80, 100, 120, 160, 200, 240, 300, 360, 480};
constexpr double least_gal_ft2 = 1.25;
constexpr double most_gal_ft2 = 2.25;

double gal_ft2(double storage_l, double area_m2) {
  return storage_l / area_m2 / units::l_m2_per_gal_ft2;
}

std::vector<SizedSystem> sizes(const SolarSystem& system, int most_collectors) {
  std::vector<SizedSystem> list;
  for (int count = 1; count <= most_collectors; ++count) {
    const double area_m2 = count * system.collector.gross_area_m2;
    const auto first = list.size();
    for (const double gallons : tank_gallons) {
      const double storage_l = gallons * units::litre_per_gallon;
      const double ratio = gal_ft2(storage_l, area_m2);
      if (ratio >= least_gal_ft2 && ratio <= most_gal_ft2) list.push_back({count, storage_l, 0, 0, false});
    }
    // A collector too small or large for the trade's tanks gets one made to measure.
    if (list.size() == first) list.push_back({count, 1.5 * units::l_m2_per_gal_ft2 * area_m2, 0, 0, false});
  }
  return list;
}

std::string agreement(bool agrees, std::string_view rule, const std::string& numbers) {
  return fmt::format("{} with the rule of {}: {}", agrees ? "Agrees" : "Disagrees", rule, numbers);
}

}  // namespace

void check(const SizingRules& rules) {
  using errors::require_in_range;
  require_in_range("lowest_fraction", rules.lowest_fraction, 0.05, 0.95);
  require_in_range("highest_fraction", rules.highest_fraction, rules.lowest_fraction, 1);
  require_in_range("target_fraction", rules.target_fraction, rules.lowest_fraction, rules.highest_fraction);
  require_in_range("most_collectors", rules.most_collectors, 1, 20, "collectors");
  require_in_range("most_stagnation_hours", rules.most_stagnation_hours, 0, 8760, "hours");
}

Sizing recommend(const Case& base, const Weather& weather, int occupants, const SizingRules& rules) {
  check(rules);
  errors::require_in_range("occupants", occupants, 1, 100, "persons");
  Sizing sizing;
  sizing.tried = sizes(base.system, rules.most_collectors);
  std::vector<Case> cases(sizing.tried.size(), base);
  for (std::size_t i = 0; i < cases.size(); ++i) {
    cases[i].system.collector_count = sizing.tried[i].collector_count;
    cases[i].system.storage_l = sizing.tried[i].storage_l;
  }
  const std::vector<SimulatedYear> years = simulate(cases, weather);
  const bool glycol = base.system.loop == Loop::pressurized_glycol;
  for (std::size_t i = 0; i < cases.size(); ++i) {
    SizedSystem& size = sizing.tried[i];
    size.fraction = years[i].year.solar_fraction_by_heat();
    size.stagnation_hours = years[i].year.yearly(years[i].stagnation_hours);
    size.overheats = glycol && size.stagnation_hours > rules.most_stagnation_hours;
  }

  const auto in_band = [&](const SizedSystem& s) {
    return s.fraction >= rules.lowest_fraction && s.fraction <= rules.highest_fraction;
  };
  const bool all_overheat =
      std::all_of(sizing.tried.begin(), sizing.tried.end(), [](const SizedSystem& s) { return s.overheats; });
  // Strict comparisons: of equals the first, which is the smaller, stays.
  const auto better = [&](const SizedSystem& a, const SizedSystem& b) {
    if (all_overheat) return a.stagnation_hours < b.stagnation_hours;
    if (a.overheats != b.overheats) return b.overheats;
    if (in_band(a) != in_band(b)) return in_band(a);
    return std::fabs(a.fraction - rules.target_fraction) < std::fabs(b.fraction - rules.target_fraction);
  };
  sizing.chosen = *std::min_element(sizing.tried.begin(), sizing.tried.end(), better);
  sizing.in_band = in_band(sizing.chosen);

  const SizedSystem& chosen = sizing.chosen;
  sizing.reason = fmt::format("{} collector{} with a tank of {:.0f} gallons bring{} {:.0f} % of the year's hot water",
                              chosen.collector_count, chosen.collector_count == 1 ? "" : "s",
                              chosen.storage_l / units::litre_per_gallon, chosen.collector_count == 1 ? "s" : "",
                              chosen.fraction * 100);
  if (all_overheat) {
    sizing.reason += fmt::format(
        "; every size overheats the glycol, this one least, {:.0f} hours a year. A drain-back loop does not",
        chosen.stagnation_hours);
  } else if (sizing.in_band) {
    sizing.reason += fmt::format(", nearest to the target of {:.0f} %", rules.target_fraction * 100);
  } else {
    sizing.reason +=
        fmt::format("; no size {} lies within {:.0f} to {:.0f} %", glycol ? "that does not overheat" : "tried",
                    rules.lowest_fraction * 100, rules.highest_fraction * 100);
  }
  sizing.reason += ".";

  // Common practice: 20 ft2 for each of the first two people, 8 (sunny south) to 14 (north) for each more.
  const double area_ft2 = chosen.collector_count * base.system.collector.gross_area_m2 / units::m2_per_ft2;
  const double first_two = 20.0 * std::min(occupants, 2);
  const int more = std::max(occupants - 2, 0);
  const double low = first_two + 8.0 * more;
  const double high = first_two + 14.0 * more;
  const double half_collector = base.system.collector.gross_area_m2 / units::m2_per_ft2 / 2;
  sizing.rules_of_thumb.push_back(
      agreement(area_ft2 >= low - half_collector && area_ft2 <= high + half_collector, "collector area by people",
                fmt::format("{:.0f} ft2 for {} people, the rule says {:.0f} to {:.0f} (to the nearest collector)",
                            area_ft2, occupants, low, high)));
  const double ratio = gal_ft2(chosen.storage_l, chosen.collector_count * base.system.collector.gross_area_m2);
  sizing.rules_of_thumb.push_back(agreement(ratio >= 1.25 && ratio <= 2.25, "storage by collector area",
                                            fmt::format("{:.1f} gallons a ft2, the rule says 1.5 to 2", ratio)));
  const double per_person = base.demand.litre_day / units::litre_per_gallon / occupants;
  sizing.rules_of_thumb.push_back(
      agreement(std::round(per_person) >= 15 && std::round(per_person) <= 20, "hot water by people",
                fmt::format("{:.0f} gallons a person and day, the rule says 15 to 20", per_person)));
  return sizing;
}

}  // namespace warmledger::hotwater
