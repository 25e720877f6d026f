// Trials: one household's purchase many times over, with prices, weather, use and costs drawn anew each time.
//
// The hot water is worked out on a grid of uses and suns, by either method, once; trials read it by straight lines
// between the grid's points. Everything else of a trial is what an appraisal does: incentives, dated cash flow,
// measures and a loan.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/whatif/draws.hpp"

namespace warmledger::whatif {

/// How the price of a fuel may leave its base path. With x = 0 in year 1 and x(t) = persistence x(t-1) + volatility
/// e(t), e standard normal, the price of year t is that of the base path times exp(x(t) - variance of x(t) / 2): its
/// expected value is the base path. A persistence of 1 is a random walk, below 1 the price comes back to its path.
struct PriceRisk {
  prices::Fuel fuel = prices::Fuel::electricity;
  double volatility = 0;   ///< of the yearly change of the logarithm, 0 to 2
  double persistence = 1;  ///< 0 to 1
};

/// Inputs that are drawn once a trial, in the order of RiskModel::correlation.
enum class Input {
  installed_cost,  ///< times the offer's
  hot_water,       ///< times the household's use
  upkeep,          ///< times the planned upkeep and part replacements
  system_life,     ///< times the package's life; rounded to whole years, 1 or more
  heater_left      ///< times the years that the existing heater has left; rounded to whole years where it is drawn
};
inline constexpr std::size_t input_count = 5;
[[nodiscard]] std::string_view name_of(Input input);

struct RiskModel {
  std::array<Distribution, input_count> inputs{};
  std::vector<double> correlation;        ///< of the inputs' normal scores, input_count x input_count; empty: none
  std::vector<PriceRisk> prices;          ///< each fuel at most once
  std::vector<double> price_correlation;  ///< of their e, as many rows as prices; empty: none
  /// Deviation of a year's sun over that of the typical year, 0 to 0.5. No month gets clearer than 0.8 of the sun
  /// outside the atmosphere, or than it is in the typical year.
  double sun_deviation = 0;
  std::vector<double> sun_years;  ///< instead: observed years over the typical one, drawn with equal chance; 0.3 to 1.7
  std::vector<std::pair<std::string, double>> gone;  ///< id of an incentive and the chance that it is gone, 0 to 1
};

/// What a trial tells; names and meanings in trial_columns().
enum class TrialColumn {
  installed_cost,
  incentives,
  due_at_install,
  first_year_saving,
  net_savings,
  simple_payback,
  discounted_payback,
  loan_amount,
  paid_at_install,
  net_savings_with_loan,
  lowest_bill_month,
  worst_month,
  deepest,
  installed_cost_times,
  hot_water_times,
  upkeep_times,
  system_life,
  heater_left,
  sun_times,
  fuel_price_times,
  incentives_gone
};
inline constexpr std::size_t trial_column_count = 21;
struct TrialColumnText {
  std::string_view name;
  std::string_view unit;
  std::string_view meaning;
};
[[nodiscard]] std::span<const TrialColumnText> trial_columns();

/// One column a member of TrialColumn, one row a trial; a payback that is not reached is infinite here and only here.
using TrialTable = std::array<std::vector<double>, trial_column_count>;

/// A household under a program, ready for trials. Immutable: threads may share it. The appraiser has to outlive it.
class Prospect {
 public:
  /// Appraises the household and works out the grid. `loan`: id of a loan; none: the best one of the appraisal, if
  /// any; empty text: bought in cash. Throws what appraise() throws; ValueOutOfRange, UnknownName or DuplicateName for
  /// the model; UnknownName for a loan that the program has not, NotAvailable for one that does not lend here.
  Prospect(const appraisal::Appraiser& appraiser, const catalog::Household& household, hotwater::Detail detail,
           RiskModel model, const std::optional<std::string>& loan = {}, unsigned threads = 0);

  /// Numbers between 0 and 1 that a trial takes: one for each input, one for each incentive that may be gone, and for
  /// each year of the study one for the sun and one for each price of a fuel that is bought (which year 1 does not
  /// use); where prices are correlated, for each price.
  [[nodiscard]] std::size_t dimensions() const noexcept { return dimensions_; }

  /// Trials `first` ... `first + count - 1`: the same whatever else is asked for, and for any `threads` (0: one for
  /// each core). Draws are keyed by `seed`, the household's identifier and the trial.
  [[nodiscard]] TrialTable run(std::uint64_t seed, std::uint64_t first, std::size_t count, unsigned threads = 0) const;
  /// Trials from given numbers, strictly between 0 and 1: `dimensions()` for each. Throws ValueOutOfRange.
  [[nodiscard]] TrialTable run(std::span<const double> uniforms, unsigned threads = 0) const;

  [[nodiscard]] const appraisal::Appraisal<double>& base() const noexcept { return base_; }
  /// Index into Program::loans of the loan in use.
  [[nodiscard]] std::optional<std::size_t> loan() const noexcept { return loan_; }

 private:
  /// Dollars of the first year's bills, by month after the install date, at the prices of that date.
  struct Bills {
    std::array<double, 12> without{};
    std::array<double, 12> with{};
    std::array<double, 12> pump{};
    double saving_kwh = 0;
    double saving_therm = 0;
    double solar_share = 0;
  };
  class Worker;

  void lay_grid(const catalog::Household& household, const appraisal::Home& home, hotwater::Detail detail,
                unsigned threads);
  void take_loan(const std::optional<std::string>& wanted);

  const appraisal::Appraiser* appraiser_;
  RiskModel model_;
  appraisal::Appraisal<double> base_;
  appraisal::Course course_;
  std::uint64_t key_ = 0;
  std::size_t dimensions_ = 0;
  std::vector<double> input_root_;
  std::vector<double> price_root_;
  std::vector<std::size_t> gone_;                                   ///< index of each rule that may be gone
  std::vector<double> use_nodes_;                                   ///< times the household's use
  std::vector<double> sun_nodes_;                                   ///< times the typical year's sun
  std::vector<Bills> grid_;                                         ///< by use, then sun
  std::array<std::vector<double>, prices::fuel_count> base_index_;  ///< of years 1 ... study; empty: fuel not bought
  std::array<std::size_t, prices::fuel_count> price_of_{};          ///< index into model_.prices, or none
  std::vector<double> price_shift_;                                 ///< half the variance of x, by year and price
  std::vector<double> inflation_;                                   ///< index of year 0 ... study
  double monthly_rate_ = 0;
  double last_discount_ = 1;  ///< of the end of the study
  std::optional<std::size_t> loan_;
  loans::LoanTerms terms_;
  bool loan_in_proportion_ = false;   ///< payments are proportional to the amount
  std::vector<double> loan_per_usd_;  ///< flows of month 1 ... study of a dollar lent, what is owed at the end included
  std::vector<double> bills_per_usd_;  ///< the payments alone
  double loan_worth_per_usd_ = 0;      ///< present value of loan_per_usd_
};

}  // namespace warmledger::whatif
