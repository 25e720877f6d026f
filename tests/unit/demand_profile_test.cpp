// Draw profiles: our own promises. The federal rows are from memory; their sums and counts are the nominal ones.
#include <cmath>
#include <limits>
#include <numeric>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/hotwater/demand_profile.hpp"

using namespace warmledger;
using namespace hotwater;
using doctest::Approx;

namespace {

double sum(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0);
}

}  // namespace

TEST_CASE("federal patterns have their nominal volumes and counts of draws") {
  // 10 CFR 430 subpart B appendix E, from memory: 10, 38, 55, 84 gal in 9, 11, 12, 14 draws.
  CHECK(federal_gallons(FederalPattern::very_small) == Approx(10).epsilon(1e-12));
  CHECK(federal_gallons(FederalPattern::low) == Approx(38).epsilon(1e-12));
  CHECK(federal_gallons(FederalPattern::medium) == Approx(55).epsilon(1e-12));
  CHECK(federal_gallons(FederalPattern::high) == Approx(84).epsilon(1e-12));
  CHECK(federal_draws(FederalPattern::very_small).size() == 9);
  CHECK(federal_draws(FederalPattern::low).size() == 11);
  CHECK(federal_draws(FederalPattern::medium).size() == 12);
  CHECK(federal_draws(FederalPattern::high).size() == 14);
  for (const FederalPattern pattern :
       {FederalPattern::very_small, FederalPattern::low, FederalPattern::medium, FederalPattern::high}) {
    CHECK(federal_pattern_named(name_of(pattern)) == pattern);
    int before = -1;
    for (const Draw& draw : federal_draws(pattern)) {
      CHECK(draw.start_minute > before);
      before = draw.start_minute;
    }
  }
}

TEST_CASE("every step width keeps the day's volume, and draws stand where they belong") {
  for (const int step : {1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60}) {
    CAPTURE(step);
    for (const DrawProfile& profile : {DrawProfile::family(), DrawProfile::federal(FederalPattern::high)}) {
      const std::vector<double> steps = profile.day_steps(step);
      CHECK(steps.size() == static_cast<std::size_t>(1440 / step));
      CHECK(sum(steps) == Approx(1).epsilon(1e-12));
    }
  }
  // The first draw of the high pattern, 27 gal at 3 gal a minute, takes 9 minutes.
  const std::vector<double> minutes = DrawProfile::federal(FederalPattern::high).day_steps(1);
  CHECK(minutes[0] == Approx(3.0 / 84));
  CHECK(minutes[8] == Approx(3.0 / 84));
  CHECK(minutes[9] == 0);
  CHECK(minutes[30] == Approx(1.0 / 84));
  // A last minute that is not full: 15 gal at 1.7.
  const std::vector<double> medium = DrawProfile::federal(FederalPattern::medium).day_steps(1);
  CHECK(medium[8] == Approx((15 - 8 * 1.7) / 55));
}

TEST_CASE("the family's hours sum to a day and peak in the morning") {
  const DrawProfile family = DrawProfile::family();
  double total = 0;
  for (int hour = 0; hour < 24; ++hour) total += family.hour_share(hour);
  CHECK(total == Approx(1).epsilon(1e-12));
  CHECK(family.hour_share(6) == Approx(0.075));
  CHECK(family.hour_share(3) == Approx(0.0085));
  CHECK(family.hour_share(24 + 6) == Approx(0.075));
}

TEST_CASE("a user's hours are taken as shares, of the day or of the year") {
  std::vector<double> day(24, 0.0);
  day[7] = 30;
  day[19] = 90;
  const DrawProfile evenings = DrawProfile::from_hours(day);
  CHECK(evenings.hour_share(7) == Approx(0.25));
  CHECK(evenings.hour_share(8736 + 19) == Approx(0.75));
  CHECK(evenings.hour_factors().empty());

  std::vector<double> year(8760, 0.0);
  for (std::size_t d = 0; d < 365; ++d) year[24 * d + 12] = d < 100 ? 0 : 5;  // away for 100 days
  const DrawProfile away = DrawProfile::from_hours(year);
  CHECK(away.hour_share(12) == 0);
  CHECK(away.hour_share(24 * 200 + 12) == Approx(365.0 / 265));
  double total = 0;
  for (int hour = 0; hour < 8760; ++hour) total += away.hour_share(hour);
  CHECK(total == Approx(365));
}

TEST_CASE("bad profiles are refused by hour and reason") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS((void)DrawProfile::from_hours(std::vector<double>(23, 1.0)), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)DrawProfile::from_hours(std::vector<double>(8784, 1.0)), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)DrawProfile::from_hours(std::vector<double>(24, 0.0)), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)DrawProfile::from_hours({}), errors::ValueOutOfRange);
  for (const double bad : {-1.0, nan, std::numeric_limits<double>::infinity()}) {
    std::vector<double> day(24, 1.0);
    day[5] = bad;
    try {
      (void)DrawProfile::from_hours(day);
      FAIL("not refused");
    } catch (const errors::ValueOutOfRange& error) {
      CHECK(std::string(error.what()).find("hour 5") != std::string::npos);
    }
  }
  for (const int step : {0, -15, 7, 45, 61, 120}) {
    CHECK_THROWS_AS((void)DrawProfile::family().day_steps(step), errors::ValueOutOfRange);
  }
  CHECK_THROWS_AS((void)DrawProfile::family().hour_share(8760), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)DrawProfile::family().hour_share(-1), errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)federal_pattern_named("large"), errors::UnknownName);
}
