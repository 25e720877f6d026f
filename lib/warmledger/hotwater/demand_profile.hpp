// Draw profiles: when in the day, and in the year, the hot water is drawn.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace warmledger::hotwater {

/// The federal test's patterns by their daily volume: 10, 38, 55 and 84 US gallons.
enum class FederalPattern { very_small, low, medium, high };
[[nodiscard]] std::string_view name_of(FederalPattern pattern);
[[nodiscard]] FederalPattern federal_pattern_named(std::string_view name);  ///< throws UnknownName

/// One draw of a test pattern.
struct Draw {
  int start_minute = 0;  ///< after the start of the test
  double gallons = 0;
  double gallons_per_minute = 0;
};
/// 10 CFR 430 subpart B appendix E, table III (rows from memory; their sums are the nominal volumes).
[[nodiscard]] std::span<const Draw> federal_draws(FederalPattern pattern);
/// Nominal volume of the pattern, US gallons a day.
[[nodiscard]] double federal_gallons(FederalPattern pattern);

/// Shares of a day's hot water. Volume comes from Demand::litre_day, the mean over the year.
class DrawProfile {
 public:
  /// A family's day by the hour: ASHRAE Standard 90.2 (attribution from memory; the fractions were seen in public
  /// code).
  [[nodiscard]] static DrawProfile family();
  /// A day of the federal test, started at midnight; each draw runs at its flow rate.
  [[nodiscard]] static DrawProfile federal(FederalPattern pattern);
  /// 24 values: the same day all year; 8760: each hour of the year. The values are volumes on any scale: they are
  /// divided by their mean daily sum. Throws ValueOutOfRange for another count, a value that is negative or not finite,
  /// or a sum of 0; the error names the hour.
  [[nodiscard]] static DrawProfile from_hours(std::span<const double> volumes);

  /// Share of the day in each step of it, 1440/step_minutes numbers that sum to 1 (for a profile of 8760 values: the
  /// even split of an hour). Throws ValueOutOfRange unless step_minutes divides 60.
  [[nodiscard]] std::vector<double> day_steps(int step_minutes) const;
  /// Factor on day_steps in each of 8760 hours; empty where every day is the same.
  [[nodiscard]] const std::vector<double>& hour_factors() const noexcept { return hour_factors_; }
  /// Share of the mean day drawn in hour 0 to 8759 of the year.
  [[nodiscard]] double hour_share(int hour) const;

 private:
  std::vector<double> minutes_;       // 1440 shares of the day
  std::vector<double> hour_factors_;  // 8760 or none
};

}  // namespace warmledger::hotwater
