// Formulas of the ledger as small pure templates: what a month or year costs. N is double, the 50-digit Decimal, or
// several numbers side by side, as in prices/formulas.hpp; nothing branches on an amount.
#pragma once

#include <algorithm>
#include <array>
#include <span>

#include "warmledger/dates/dates.hpp"

namespace warmledger::ledger {

using std::max;
using std::min;

/// The bill of a month `index` times dearer than in the first year, as a flow: money paid is negative.
template <class N>
[[nodiscard]] N fuel_flow(const N& year_one_usd, const N& index) {
  return N(0) - year_one_usd * index;
}

/// Upkeep or a replacement of `usd` at today's prices, as a flow; `inflation_index` is that of its day.
template <class N>
[[nodiscard]] N upkeep_flow(const N& usd, const N& inflation_index) {
  return N(0) - usd * inflation_index;
}

/// Straight-line worth, dollars of the day with `inflation_index`, of something that cost `usd` and is `age_years` of
/// its `life_years` old: nothing after its life, no more than it cost, and no debt where it cost less than nothing.
template <class N>
[[nodiscard]] N remaining_value(const N& usd, const N& age_years, const N& life_years, const N& inflation_index) {
  const N left = min(N(1), N(max(N(0), N(N(1) - age_years / life_years))));
  return N(max(N(0), usd)) * left * inflation_index;
}

/// Share of a calendar month (0 is January) that is over on the billing day, in a year of 365 days.
[[nodiscard]] inline double share_over(int month, int billing_day) {
  return min(1.0, static_cast<double>(billing_day - 1) / dates::days_in_month_365(month + 1));
}

/// A calendar year's amounts as twelve bills from `install_date`: bill k covers month k after it, by days. The same
/// rule holds at both ends of a bill, so nothing is lost.
template <class N>
[[nodiscard]] std::array<N, 12> split_by_bills(std::span<const N, 12> calendar, dates::Date install_date) {
  std::array<N, 12> bills;
  const int month = dates::month_of(install_date) - 1;
  const int day = dates::day_of(install_date);
  for (int k = 0; k < 12; ++k) {
    const int begins = (month + k) % 12;
    const int ends = (begins + 1) % 12;
    bills[static_cast<std::size_t>(k)] = N(1.0 - share_over(begins, day)) * calendar[static_cast<std::size_t>(begins)] +
                                         N(share_over(ends, day)) * calendar[static_cast<std::size_t>(ends)];
  }
  return bills;
}

}  // namespace warmledger::ledger
