#include "warmledger/prices/tariff.hpp"

#include <algorithm>
#include <numeric>

#include <fmt/format.h>

#include "warmledger/dates/dates.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::prices {

namespace {

bool in_hour(const Rate& rate, int hour) {
  return rate.from_hour < rate.to_hour ? hour >= rate.from_hour && hour < rate.to_hour
                                       : hour >= rate.from_hour || hour < rate.to_hour;
}

/// The first rate that fits, or null.
const Rate* rate_at(const Tariff& tariff, std::size_t month, int hour, bool weekend) {
  const auto found = std::find_if(tariff.rates.begin(), tariff.rates.end(), [&](const Rate& rate) {
    return rate.months[month] && in_hour(rate, hour) && rate.days != (weekend ? Days::weekdays : Days::weekends);
  });
  return found == tariff.rates.end() ? nullptr : &*found;
}

std::string month_text(std::size_t month) {
  return std::string(dates::month_name(static_cast<int>(month) + 1));
}

std::vector<Block> blocks_of(const Tariff& tariff, std::size_t month) {
  std::vector<Block> blocks;
  double from = 0;
  for (const BlockRate& rate : tariff.blocks) {
    if (!rate.months[month]) continue;
    const double to = rate.up_to_units.value_or(endless);
    if (to <= from) {
      throw errors::Contradiction({{"", {}, {}, "up_to_units_month"},
                                   rate.up_to_units ? errors::plain_number(to) : "",
                                   fmt::format("does not rise above the block before it in {}", month_text(month)),
                                   "blocks in rising order, the endless one last"});
    }
    blocks.push_back({from, to, rate.usd_per_unit});
    from = to;
  }
  if (!blocks.empty() && from < endless) {
    throw errors::MissingValue(
        {{"", {}, {}, "block"},
         "",
         fmt::format("for use above {} in {} is missing", errors::plain_number(from), month_text(month)),
         "a last block without up_to_units_month"});
  }
  return blocks;
}

}  // namespace

void check(const Tariff& tariff) {
  errors::require_in_range("fixed_usd_month", tariff.fixed_usd_month, 0, 1e6, "dollars a month");
  errors::require_in_range("other_units_month", tariff.other_units_month, 0, 1e9, "units a month");
  for (const Rate& rate : tariff.rates) {
    errors::require_in_range("usd_per_unit", rate.usd_per_unit, -100, 100, "dollars");
    errors::require_in_range("from_hour", rate.from_hour, 0, 23, "hours");
    errors::require_in_range("to_hour", rate.to_hour, 1, 24, "hours");
  }
  for (const BlockRate& block : tariff.blocks) {
    errors::require_in_range("usd_per_unit", block.usd_per_unit, -100, 100, "dollars");
    if (block.up_to_units) errors::require_in_range("up_to_units_month", *block.up_to_units, 1e-6, 1e9, "units");
  }
  if (tariff.rates.empty() && tariff.blocks.empty()) {
    throw errors::MissingValue(
        {{"", {}, {}, "tariff"}, "", "has no price", "one rate or more, one block or more, or both"});
  }
  for (std::size_t month = 0; month < 12; ++month) {
    if (blocks_of(tariff, month).empty() && tariff.rates.empty()) {
      throw errors::MissingValue({{"", {}, {}, "block"},
                                  "",
                                  fmt::format("is missing in {}", month_text(month)),
                                  "blocks or rates in every month"});
    }
    if (tariff.rates.empty()) continue;
    for (const bool weekend : {false, true}) {
      for (int hour = 0; hour < 24; ++hour) {
        if (rate_at(tariff, month, hour, weekend) != nullptr) continue;
        throw errors::MissingValue({{"", {}, {}, "rate"},
                                    "",
                                    fmt::format("does not say what hour {} to {} of a {} in {} costs", hour, hour + 1,
                                                weekend ? "weekend day" : "weekday", month_text(month)),
                                    "rates that hold every hour; a last one without months, days and hours takes the "
                                    "rest"});
      }
    }
  }
}

std::shared_ptr<const RateTable> table_of(const Tariff& tariff) {
  check(tariff);
  auto table = std::make_shared<RateTable>();
  table->tariff = tariff;
  for (std::size_t month = 0; month < 12; ++month) {
    table->blocks[month] = blocks_of(tariff, month);
    if (tariff.rates.empty()) continue;
    for (std::size_t hour = 0; hour < 24; ++hour) {
      const double weekday = rate_at(tariff, month, static_cast<int>(hour), false)->usd_per_unit;
      const double weekend = rate_at(tariff, month, static_cast<int>(hour), true)->usd_per_unit;
      // Equal prices stay exactly what they are.
      table->usd_per_unit[month][hour] = weekend + weekday_share * (weekday - weekend);
    }
    const HourValues& hours = table->usd_per_unit[month];
    table->by_hour = table->by_hour || std::any_of(hours.begin(), hours.end(), [&](double h) { return h != hours[0]; });
  }
  return table;
}

double mean_rate(const RateTable& table, std::size_t month, std::span<const double, 24> energy) {
  const HourValues& rates = table.usd_per_unit[month];
  const double whole = std::accumulate(energy.begin(), energy.end(), 0.0);
  // Over the first hour's rate, so that equal rates give exactly that rate.
  double above = 0;
  for (std::size_t hour = 0; hour < 24; ++hour)
    above += (rates[hour] - rates[0]) * (whole > 0 ? energy[hour] / whole : 1.0 / 24.0);
  return rates[0] + above;
}

double units_of_bill(const RateTable& table, std::size_t month, double usd, double usd_per_unit) {
  const auto bill = [&](double units) { return month_bill<double>(table, month, units, usd_per_unit); };
  if (usd <= bill(0)) return 0;
  double low = 0;
  double high = 1e6;
  if (bill(high) < usd) {
    throw errors::ValueOutOfRange({{"", {}, {}, "bill"},
                                   errors::plain_number(usd),
                                   "is more than a million units cost",
                                   "dollars of one month's bill"});
  }
  for (int k = 0; k < 100; ++k) {
    const double middle = (low + high) / 2;
    (bill(middle) < usd ? low : high) = middle;
  }
  return (low + high) / 2;
}

}  // namespace warmledger::prices
