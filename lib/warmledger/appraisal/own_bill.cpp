#include <algorithm>
#include <numeric>

#include <fmt/format.h>

#include "warmledger/appraisal/parts.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/hotwater/demand_profile.hpp"

namespace warmledger::appraisal {

namespace {

using Months = climate::Monthly;

/// Where in the day the energies of the monthly method fall: draws as a family's, pumps from eight to four (common
/// practice).
hotwater::HoursOfDay hours_by_draws(const hotwater::Year& year) {
  hotwater::HoursOfDay hours;
  const hotwater::DrawProfile profile = hotwater::DrawProfile::family();
  for (std::size_t m = 0; m < 12; ++m) {
    for (std::size_t h = 0; h < 24; ++h) {
      const double share = profile.hour_share(static_cast<int>(h));
      hours.backup_kwh[m][h] = year.backup_with_kwh[m] * share;
      hours.fuel_without_kwh[m][h] = year.fuel_without_kwh[m] * share;
      hours.pump_kwh[m][h] = h >= 8 && h < 16 ? year.pump_kwh[m] / 8 : 0;
    }
  }
  return hours;
}

/// One number for a year, or twelve, as twelve.
Months by_month(const std::vector<double>& given) {
  Months months{};
  for (std::size_t m = 0; m < 12; ++m) months[m] = given.size() == 12 ? given[m] : given.front() / 12;
  return months;
}

double sum(const Months& months) {
  return std::accumulate(months.begin(), months.end(), 0.0);
}

/// A household's water heating as it was simulated, and what it would cost.
struct Simulated {
  Months units{};
  Months rate{};  ///< mean price of its hours
  Months other{};
  const prices::RateTable* tariff = nullptr;

  [[nodiscard]] double usd(double scale) const {
    double total = 0;
    for (std::size_t m = 0; m < 12; ++m) {
      total += tariff == nullptr ? scale * units[m] * rate[m]
                                 : prices::added_charge<double>(tariff->blocks[m], scale * units[m], rate[m], other[m]);
    }
    return total;
  }
  /// The scale at which water heating costs `wanted_usd`; `most` if it does not get there.
  [[nodiscard]] double scale_of(double wanted_usd, double most) const {
    if (usd(most) <= wanted_usd) return most;
    double low = 0;
    double high = most;
    for (int k = 0; k < 80; ++k) {
      const double middle = (low + high) / 2;
      (usd(middle) < wanted_usd ? low : high) = middle;
    }
    return (low + high) / 2;
  }
};

/// Units of the whole home by month from its bill in dollars.
Months units_of_home_bill(const std::vector<double>& bill_usd, const Simulated& simulated) {
  Months units = by_month(bill_usd);
  for (std::size_t m = 0; m < 12; ++m) {
    units[m] = simulated.tariff == nullptr ? units[m] / simulated.rate[m]
                                           : prices::units_of_bill(*simulated.tariff, m, units[m], simulated.rate[m]);
  }
  return units;
}

void scale_energies(double scale, bool same_fuel, hotwater::Year& year, hotwater::HoursOfDay* hours) {
  for (std::size_t m = 0; m < 12; ++m) {
    const double without = year.fuel_without_kwh[m];
    const double backup = year.backup_with_kwh[m];
    const double added =
        std::max(0.0, scale - 1) * (same_fuel ? without : year.load_kwh[m] / hotwater::element_efficiency);
    const double kept = std::min(scale, 1.0);
    year.fuel_without_kwh[m] = scale * without;
    year.backup_with_kwh[m] = kept * backup + added;
    if (hours == nullptr) continue;
    for (std::size_t h = 0; h < 24; ++h) {
      double& without_hour = hours->fuel_without_kwh[m][h];
      double& backup_hour = hours->backup_kwh[m][h];
      backup_hour = kept * backup_hour + (without > 0 ? added * without_hour / without : 0);
      without_hour *= scale;
    }
  }
}

}  // namespace

Bills bills_of(const catalog::Household& household, const Home& home, const catalog::Program& program,
               const prices::FuelTable& fuels, std::shared_ptr<const hotwater::HoursOfDay> hours,
               hotwater::Year& year) {
  Bills bills;
  const auto slot = static_cast<std::size_t>(year.fuel_without);
  const auto by_hour = [&](prices::Fuel fuel) {
    const auto at = static_cast<std::size_t>(fuel);
    return (home.on_tariff[at] || home.bill_on_tariff[at]) && program.tariffs[at]->by_hour;
  };
  const bool timed = by_hour(year.fuel_without) || by_hour(year.backup_fuel) || by_hour(prices::Fuel::electricity);
  if (timed)
    bills.hours =
        hours != nullptr ? std::move(hours) : std::make_shared<const hotwater::HoursOfDay>(hours_by_draws(year));
  const bool any = !household.water_heating_units.empty() || !household.water_heating_bill_usd.empty() ||
                   !household.home_fuel_units.empty() || !household.home_fuel_bill_usd.empty();
  if (!any) return bills;

  Simulated simulated;
  // The bill was paid at the prices that hold, whatever a what-if takes them to be.
  simulated.tariff = home.bill_on_tariff[slot] ? program.tariffs[slot].get() : nullptr;
  static constexpr std::array<double, 24> even{};
  for (std::size_t m = 0; m < 12; ++m) {
    simulated.units[m] = sold_units(year.fuel_without_kwh[m], year.fuel_without, fuels);
    simulated.rate[m] =
        simulated.tariff == nullptr
            ? home.bill_price[slot].usd_per_unit
            : prices::mean_rate(*simulated.tariff, m, bills.hours ? bills.hours->fuel_without_kwh[m] : even);
    simulated.other[m] = simulated.tariff == nullptr ? 0 : simulated.tariff->tariff.other_units_month;
  }
  const double yearly = sum(simulated.units);
  const std::string_view unit = prices::unit_of(year.fuel_without);
  std::optional<Months> whole_home;
  if (!household.home_fuel_units.empty()) whole_home = by_month(household.home_fuel_units);
  if (!household.home_fuel_bill_usd.empty()) whole_home = units_of_home_bill(household.home_fuel_bill_usd, simulated);
  if (yearly <= 0) {
    bills.own.text = "own bill not used: the simulated heater takes nothing";
    return bills;
  }
  if (whole_home) {
    for (std::size_t m = 0; m < 12; ++m) simulated.other[m] = std::max(0.0, (*whole_home)[m] - simulated.units[m]);
  }

  double wanted = 1;
  std::string source = "the whole home's bill";
  if (!household.water_heating_units.empty()) {
    const double own = std::accumulate(household.water_heating_units.begin(), household.water_heating_units.end(), 0.0);
    wanted = own / yearly;
    source = fmt::format("own water heating of {:.0f} {} a year", own, unit);
  } else if (!household.water_heating_bill_usd.empty()) {
    const double own =
        std::accumulate(household.water_heating_bill_usd.begin(), household.water_heating_bill_usd.end(), 0.0);
    wanted = simulated.scale_of(own, 100);
    source = fmt::format("own water heating bill of {} a year", money::dollars(own));
  }
  const double least = program.least_own_bill_scale;
  double scale = std::clamp(wanted, least, program.most_own_bill_scale);
  std::string held = scale != wanted
                         ? fmt::format("; {:.2f} would be needed, the program's bounds are {} to {}", wanted,
                                       errors::plain_number(least), errors::plain_number(program.most_own_bill_scale))
                         : "";
  if (whole_home) {
    // A bill of months binds in each month, one of a year in the sum.
    const bool monthly = household.home_fuel_units.size() == 12 || household.home_fuel_bill_usd.size() == 12;
    double most = sum(*whole_home) / yearly;
    for (std::size_t m = 0; m < 12 && monthly; ++m) {
      if (simulated.units[m] > 0) most = std::min(most, (*whole_home)[m] / simulated.units[m]);
    }
    if (scale > most) {
      scale = std::max(most, least);
      held += fmt::format("; held to {:.2f} by the whole home's bill", scale);
      if (most < least) held += fmt::format(", which would ask for {:.2f}: look at the bill", most);
    }
  }
  bills.own.scale = scale;
  bills.own.text =
      fmt::format("simulated {:.0f} {} a year scaled by {:.2f} to {}{}", yearly, unit, scale, source, held);
  if (scale != 1) {
    std::shared_ptr<hotwater::HoursOfDay> scaled =
        bills.hours ? std::make_shared<hotwater::HoursOfDay>(*bills.hours) : nullptr;
    scale_energies(scale, year.backup_fuel == year.fuel_without, year, scaled.get());
    bills.hours = std::move(scaled);
  }
  if (whole_home) {
    bills.other_units.emplace();
    for (std::size_t m = 0; m < 12; ++m)
      (*bills.other_units)[m] = std::max(0.0, (*whole_home)[m] - scale * simulated.units[m]);
  }
  return bills;
}

}  // namespace warmledger::appraisal
