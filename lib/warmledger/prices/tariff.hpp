// Tariff: what a utility charges by season, period of the day and block of the month's use, with its fixed charge.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "warmledger/prices/formulas.hpp"

namespace warmledger::prices {

/// Which months, January first.
using Months = std::array<bool, 12>;
inline constexpr Months every_month{true, true, true, true, true, true, true, true, true, true, true, true};

enum class Days { all, weekdays, weekends };

/// A rate by the season and the time of use. Of the rates of a tariff the first that fits an hour is charged.
struct Rate {
  std::string name;
  double usd_per_unit = 0;  ///< -100 to 100
  Months months = every_month;
  Days days = Days::all;
  int from_hour = 0;  ///< 0 to 23, local clock
  int to_hour = 24;   ///< 1 to 24; at or before from_hour: past midnight
};

/// Units of a month up to a limit, counted from the end of the block before it in the same months. A block is charged
/// beside the rate of the hour; a negative price is a credit (a baseline allowance).
struct BlockRate {
  std::optional<double> up_to_units;  ///< end of the block in units a month; none: no end
  double usd_per_unit = 0;            ///< -100 to 100
  Months months = every_month;
};

/// A tariff as it is written. Without rates the blocks hold the whole price; without blocks the rates do.
struct Tariff {
  std::string title;
  std::string source;
  double fixed_usd_month = 0;    ///< paid whatever is used: no saving touches it
  double other_units_month = 0;  ///< what the home uses besides its hot water, where the household does not say
  std::vector<Rate> rates;
  std::vector<BlockRate> blocks;
};

/// Throws ValueOutOfRange or Contradiction naming the member: an hour of a month that no rate fits, blocks that do not
/// rise, a month whose blocks end, a tariff without any price.
void check(const Tariff& tariff);

/// Shares of a week's hours: neither weather nor draws know the day of the week.
inline constexpr double weekday_share = 5.0 / 7.0;

using HourValues = std::array<double, 24>;

/// A tariff made ready: price of each hour of each month, and the blocks of each month.
struct RateTable {
  Tariff tariff;
  std::array<HourValues, 12> usd_per_unit{};  ///< by month and hour of the day, mean of the days of the week
  std::array<std::vector<Block>, 12> blocks;  ///< by month
  bool by_hour = false;                       ///< whether the price differs between hours of a day
};
/// Checks the tariff and lays it out.
[[nodiscard]] std::shared_ptr<const RateTable> table_of(const Tariff& tariff);

/// Mean price of a month's hours (0 is January), weighted by the energy in them; the plain mean where there is none.
[[nodiscard]] double mean_rate(const RateTable& table, std::size_t month, std::span<const double, 24> energy);

/// A whole bill of one month (0 is January), dollars: fixed charge, rates and blocks. `usd_per_unit` is the mean rate
/// of the units' hours.
template <class N>
[[nodiscard]] N month_bill(const RateTable& table, std::size_t month, const N& units, const N& usd_per_unit) {
  return N(table.tariff.fixed_usd_month) + units * usd_per_unit + block_charge<N>(table.blocks[month], units);
}

/// Units of a month's whole bill of `usd`, by halving; 0 if the fixed charge alone is as much. Throws ValueOutOfRange
/// when not even a million units cost so much.
[[nodiscard]] double units_of_bill(const RateTable& table, std::size_t month, double usd, double usd_per_unit);

}  // namespace warmledger::prices
