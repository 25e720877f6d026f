// Ledger: the money of one household, dated and categorised, with the system and without it.
//
// Month 0 is the install date; month m is m months later. Money received is positive, money paid negative, in dollars
// of the day (nominal). A line is a run of amounts that one rule or term made, at even steps of months, so a bill of
// 300 months or a single rebate is one line with one reason. Amounts of all lines lie in one array, and reasons become
// text when someone asks: screening builds hundreds of thousands of ledgers.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/climate/climate.hpp"
#include "warmledger/dates/dates.hpp"
#include "warmledger/loans/schedule.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/prices/fuels.hpp"
#include "warmledger/prices/tariff.hpp"
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
  remaining_value,   ///< worth at the end of the study
  fixed_charge,      ///< of a tariff, the same with and without: no saving touches it
  tax_saving         ///< lower tax for loan interest, where the loan's rule says so
};
inline constexpr std::size_t category_count = 11;
[[nodiscard]] std::string_view name_of(Category category);

/// What made a line; explain() turns it into a sentence.
enum class Cause : std::uint8_t {
  text,            ///< a reason given in words; detail is its number
  installed_cost,  ///< the plan's installed cost
  award,           ///< detail: which of the plan's awards
  fuel_without,    ///< the plan's purchases
  fuel_with,
  fuel_after_life,  ///< with the system worn out
  pump,
  fixed_charge,     ///< detail: the fuel
  upkeep,           ///< detail: which of the plan's upkeep items
  heater_replaced,  ///< detail: 1 on the install date
  heater_left,      ///< remaining value of the heater
  system_left       ///< remaining value of the system
};

/// Amounts made by one cause.
struct Line {
  World world = World::without;
  Category category = Category::fuel;
  Cause cause = Cause::text;
  int detail = 0;
  int first_month = 0;
  int step_months = 1;     ///< 1 or more
  std::size_t offset = 0;  ///< of its amounts in the ledger's array
  std::size_t count = 0;
};

/// A line with its reason in words, for those that add to a ledger from outside.
template <class N>
struct Series {
  World world = World::without;
  Category category = Category::fuel;
  std::string reason;  ///< the rule or term that made these amounts
  int first_month = 0;
  int step_months = 1;  ///< 1 or more
  std::vector<N> amounts;
};

/// One amount of a line, unfolded.
template <class N>
struct Entry {
  int month = 0;
  dates::Date date{};
  World world = World::without;
  Category category = Category::fuel;
  N amount{};
  std::size_t line = 0;  ///< whose reason is reasons(plan, ledger)[line]
};

template <class N>
class Ledger {
 public:
  Ledger() = default;
  Ledger(dates::Date start, int years) : start_(start), years_(years) {}

  [[nodiscard]] dates::Date start() const noexcept { return start_; }
  [[nodiscard]] int years() const noexcept { return years_; }
  [[nodiscard]] int months() const noexcept { return years_ * 12; }
  [[nodiscard]] const std::vector<Line>& lines() const noexcept { return lines_; }
  [[nodiscard]] std::span<const N> amounts(const Line& line) const {
    return std::span<const N>(amounts_).subspan(line.offset, line.count);
  }
  /// The words of a line whose cause is Cause::text.
  [[nodiscard]] const std::string& text(const Line& line) const {
    return texts_.at(static_cast<std::size_t>(line.detail));
  }

  /// Adds a series; amounts past the study are cut off. Throws ValueOutOfRange for a month before 0 or a step below 1.
  void add(Series<N> series);
  /// Adds a line of `line.count` amounts, fewer where the study ends; offset is set here. The room for its amounts,
  /// all 0, to be filled before the next line is added.
  std::span<N> add(Line line);
  /// Makes room for so many lines and amounts.
  void reserve(std::size_t lines, std::size_t amounts);

  /// Sum of every month 0 ... months() in one world, all categories.
  [[nodiscard]] std::vector<N> flows(World world) const;
  /// Sum of every month of one category in one world; also of months 0 ... `last_month` only.
  [[nodiscard]] std::vector<N> flows(World world, Category category) const;
  [[nodiscard]] std::vector<N> flows(World world, Category category, int last_month) const;
  /// with minus without, month by month.
  [[nodiscard]] std::vector<N> difference() const;
  /// difference() of one category.
  [[nodiscard]] std::vector<N> difference(Category category) const;
  /// Every amount with its date and line: by month, then world, category and order of adding.
  [[nodiscard]] std::vector<Entry<N>> entries() const;
  /// Greatest amount, in any month, by which the categories miss the world's total, or with minus without misses the
  /// difference: 0 but for rounding in the last digits.
  [[nodiscard]] N largest_imbalance() const;

 private:
  dates::Date start_{};
  int years_ = 0;
  std::vector<Line> lines_;
  std::vector<N> amounts_;
  std::vector<std::string> texts_;
};

/// Yearly sums of monthly flows: element 0 is month 0, element y the months of year y.
template <class N>
[[nodiscard]] std::vector<N> by_year(std::span<const N> monthly);

/// What turns dollars of month 0, 1, ... into dollars of the install date: (1 + inflation)^(-month/12).
template <class N>
[[nodiscard]] std::vector<N> deflators(double inflation_rate, int months);
/// Monthly nominal flows in dollars of the install date.
template <class N>
[[nodiscard]] std::vector<N> constant_dollars(std::span<const N> monthly, double inflation_rate);

/// A payment of an incentive.
struct Award {
  dates::Date date{};
  double usd = 0;  ///< whole cents
  std::string reason;
  std::size_t rule = 0;  ///< whose payment it is, among the rules that were worked out
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
    double usd_per_unit = 0;   ///< on the install date; not used beside a tariff
    bool as_if_price = false;  ///< a what-if, and not the price that holds
    prices::Escalation escalation;
    std::shared_ptr<const prices::RateTable> tariff = nullptr;  ///< on the install date
    climate::Monthly rate_usd_per_unit{};  ///< with a tariff: mean price of the hours in which the units are taken
    climate::Monthly other_units{};  ///< with a tariff: units already on the same bill, which fill its first blocks
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

/// What a purchase costs in each calendar month at the prices of the install date, dollars. With a tariff: what its
/// units add to the bill of the other units.
template <class N>
[[nodiscard]] std::array<N, 12> year_one_usd(const Plan::Purchase& purchase);

/// The two worlds, paid in cash.
///
/// Bills: month m is billed at its end for the days since month m - 1, so an install on the 10th takes each calendar
/// month's cost by days; twelve bills always hold one year. Prices are those of the install date in year 1 and change
/// once a year. A tariff's fixed charge is paid alike in both worlds. Upkeep and replacements rise with inflation from
/// the install date. Heaters are replaced when worn out, in both worlds, by one like it. After its life the system
/// saves nothing (the with world then burns what the without world burns and, if it has no heater of its own, buys
/// one). Remaining values at the end of the study are straight line, in dollars of that day (common practice); the
/// system's on its cost after incentives, so that what others paid is not counted as the household's saving.
template <class N>
[[nodiscard]] Ledger<N> build(const Plan& plan);

/// Why a line is there: the rule or term that made it, with the price and how it moves.
template <class N>
[[nodiscard]] std::string explain(const Plan& plan, const Ledger<N>& ledger, const Line& line);
/// explain() of every line, in their order.
template <class N>
[[nodiscard]] std::vector<std::string> reasons(const Plan& plan, const Ledger<N>& ledger);

/// A loan by the months of a study, received positive, paid negative.
template <class N>
struct LoanMonths {
  N advance{};
  N charges{};              ///< points, fees and what the dealer adds to the price
  std::vector<N> payments;  ///< in month 0 (nothing), 1, 2 ...: each in the month that ends on its day or after it
  N owed_at_end{};          ///< what is still owed at the end of the study, paid at once
};
/// A loan that outlasts the study is thus counted whole. `payments` ends with the last of them, or with the study.
template <class N>
[[nodiscard]] LoanMonths<N> loan_months(const loans::Schedule<N>& schedule, dates::Date study_start, int study_months);
/// The same months added up: months 0 ... study_months.
template <class N>
[[nodiscard]] std::vector<N> flows_of(LoanMonths<N> loan, int study_months);

/// The same as series of the with world: advance, charges, payments, and what is owed at the end.
template <class N>
[[nodiscard]] std::array<Series<N>, 4> loan_series(const loans::Schedule<N>& schedule, const std::string& title,
                                                   dates::Date study_start, int study_months);

/// Lower tax for a loan's interest, as a series of the with world: each calendar year's interest times `tax_rate`
/// (0 to 1), on 15 April of the year after, for what arrives within the study. Only for a loan whose rule says that its
/// interest may be deducted (26 U.S.C. 163(h): secured by the home and spent on improving it, and the household
/// itemizes); ask a tax preparer.
template <class N>
[[nodiscard]] Series<N> interest_deduction(const loans::Schedule<N>& schedule, const std::string& title,
                                           double tax_rate, dates::Date install_date, int study_months);

/// Months from `install_date` to the first monthly day on or after `date`; 0 if that is earlier.
[[nodiscard]] int month_on_or_after(dates::Date install_date, dates::Date date);

/// A calendar year's energies as twelve bills from `install_date`: bill k covers month k after it.
[[nodiscard]] climate::Monthly bills_from(const climate::Monthly& calendar, dates::Date install_date);

}  // namespace warmledger::ledger
