// Ledger: the money of one household, dated and categorised, with the system and without it.
//
// Month 0 is the install date; month m is m months later. Money received is positive, money paid negative, in dollars
// of the day (nominal). A series is a run of amounts that one rule or term made, at even steps of months, so a bill of
// 300 months or a single rebate is one series with one reason.
#pragma once

#include <array>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/climate/climate.hpp"
#include "warmledger/dates/dates.hpp"
#include "warmledger/loans/schedule.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/prices/fuels.hpp"
#include "warmledger/prices/upkeep.hpp"

namespace warmledger::ledger {

/// The two courses a household can take.
enum class World { without, with };
[[nodiscard]] std::string_view name_of(World world);

enum class Category {
  installed_cost,    ///< paid to the installer
  incentive,         ///< rebates and credits received
  loan_advance,      ///< received from the lender
  loan_payment,      ///< paid to the lender
  fuel,              ///< of the water heater, electricity included
  pump_electricity,  ///< of the collector pumps
  upkeep,            ///< tests and service that come back
  replacement,       ///< of parts and of worn-out heaters
  remaining_value    ///< worth at the end of the study
};
inline constexpr std::size_t category_count = 9;
[[nodiscard]] std::string_view name_of(Category category);

template <class N>
struct Series {
  World world = World::without;
  Category category = Category::fuel;
  std::string reason;  ///< the rule or term that made these amounts
  int first_month = 0;
  int step_months = 1;  ///< 1 or more
  std::vector<N> amounts;
};

/// One amount of a series, unfolded.
template <class N>
struct Entry {
  int month = 0;
  dates::Date date{};
  World world = World::without;
  Category category = Category::fuel;
  N amount{};
  const std::string* reason = nullptr;
};

template <class N>
class Ledger {
 public:
  Ledger() = default;
  Ledger(dates::Date start, int years) : start_(start), years_(years) {}

  [[nodiscard]] dates::Date start() const noexcept { return start_; }
  [[nodiscard]] int years() const noexcept { return years_; }
  [[nodiscard]] int months() const noexcept { return years_ * 12; }
  [[nodiscard]] const std::vector<Series<N>>& series() const noexcept { return series_; }

  /// Adds a series; amounts past the study are cut off. Throws ValueOutOfRange for a month before 0 or a step below 1.
  void add(Series<N> series);

  /// Sum of every month 0 ... months() in one world, all categories.
  [[nodiscard]] std::vector<N> flows(World world) const;
  /// Sum of every month of one category in one world.
  [[nodiscard]] std::vector<N> flows(World world, Category category) const;
  /// with minus without, month by month.
  [[nodiscard]] std::vector<N> difference() const;
  /// difference() of one category.
  [[nodiscard]] std::vector<N> difference(Category category) const;
  /// Every amount with its date and reason: by month, then world, category and order of adding.
  [[nodiscard]] std::vector<Entry<N>> entries() const;

 private:
  dates::Date start_{};
  int years_ = 0;
  std::vector<Series<N>> series_;
};

/// Yearly sums of monthly flows: element 0 is month 0, element y the months of year y.
template <class N>
[[nodiscard]] std::vector<N> by_year(std::span<const N> monthly);

/// Monthly nominal flows in dollars of the install date: divided by (1 + inflation)^(month/12).
template <class N>
[[nodiscard]] std::vector<N> constant_dollars(std::span<const N> monthly, double inflation_rate);

/// A payment of an incentive.
struct Award {
  dates::Date date{};
  double usd = 0;  ///< whole cents
  std::string reason;
};

/// Everything the two worlds need, with nothing left to look up. Energies are of the calendar months.
struct Plan {
  dates::Date install_date{};
  int study_years = 20;  ///< 1 to 50
  double inflation_rate = 0;
  double installed_cost_usd = 0;
  std::string installed_cost_reason;
  std::vector<Award> awards;

  /// Purchased energy of a year, in sold units of its fuel, and what a unit costs.
  struct Purchase {
    prices::Fuel fuel = prices::Fuel::electricity;
    climate::Monthly units{};
    double usd_per_unit = 0;  ///< on the install date
    prices::Escalation escalation;
  };
  Purchase fuel_without;
  Purchase fuel_with;
  Purchase pump;

  int system_life_years = 20;          ///< savings end then; what is left at the end of the study has a value
  std::vector<prices::Upkeep> upkeep;  ///< of the system, with

  double heater_years_left = 0;  ///< of the existing heater on the install date
  double heater_life_years = 13;
  double heater_replacement_usd = 0;  ///< dollars of the install date
  bool heater_stays = true;           ///< false when the system replaces the existing heater (one tank)
};

/// Throws ValueOutOfRange naming the member.
void check(const Plan& plan);

/// The two worlds, paid in cash.
///
/// Bills: month m is billed at its end for the days since month m - 1, so an install on the 10th takes each calendar
/// month's energy by days; twelve bills always hold one year. Prices are those of the install date in year 1 and rise
/// once a year. Upkeep and replacements rise with inflation from the install date. Heaters are replaced when worn out,
/// in both worlds, by one like it. After its life the system saves nothing (the with world then burns what the without
/// world burns and, if it has no heater of its own, buys one). Remaining values at the end of the study are straight
/// line, in dollars of that day (common practice); the system's on its cost after incentives, so that what others paid
/// is not counted as the household's saving.
template <class N>
[[nodiscard]] Ledger<N> build(const Plan& plan);

/// The lender's advance, the payments within `study_months`, and the balance still owed then, paid at once, as series
/// of the with world. A loan that outlasts the study is thus counted whole.
template <class N>
[[nodiscard]] std::array<Series<N>, 3> loan_series(const loans::Schedule<N>& schedule, const std::string& title,
                                                   int study_months);

/// A calendar year's energies as twelve bills from `install_date`: bill k covers month k after it.
[[nodiscard]] climate::Monthly bills_from(const climate::Monthly& calendar, dates::Date install_date);

}  // namespace warmledger::ledger
