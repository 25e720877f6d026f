// Appraisal: one household in full: its system, year, incentives, ledger, measures, loans, decision and cautions.
#pragma once

#include <array>
#include <exception>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/appraisal/energy.hpp"
#include "warmledger/appraisal/home.hpp"
#include "warmledger/appraisal/scratch.hpp"
#include "warmledger/catalog/catalog.hpp"
#include "warmledger/catalog/household.hpp"
#include "warmledger/catalog/program.hpp"
#include "warmledger/economics/cost_tests.hpp"
#include "warmledger/economics/internal_rate.hpp"
#include "warmledger/economics/measures.hpp"
#include "warmledger/economics/more_measures.hpp"
#include "warmledger/hotwater/cautions.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/hotwater/year.hpp"
#include "warmledger/incentives/stack.hpp"
#include "warmledger/ledger/ledger.hpp"
#include "warmledger/loans/ability.hpp"

namespace warmledger::appraisal {

/// What a program manager can act on, best first.
enum class Decision {
  pays_in_cash,     ///< meets every threshold of the program
  pays_with_loan,   ///< does not, but with a loan nothing is due at install, the first year's average month costs the
                    ///< household nothing, and the net savings with the loan are not negative
  needs_more_help,  ///< would meet every threshold with a stated sum more at install
  does_not_pay,     ///< not with any sum the program would give
  not_suitable      ///< the roof or household does not suit a system, whatever the figures
};
[[nodiscard]] std::string_view name_of(Decision decision);

/// Measures of the purchase in cash. Nominal dollars and nominal yearly rates; present values at the install date with
/// monthly flows discounted at the monthly rate that compounds to the program's yearly nominal one.
template <class N>
struct Measures {
  N installed_cost{};
  N incentives{};                ///< received within the study, in all
  N net_cost{};                  ///< installed_cost - incentives
  N due_at_install{};            ///< installed cost less incentives that arrive on the install date
  N first_year_cost_without{};   ///< fuel of the existing heater, year 1
  N first_year_cost_with{};      ///< fuel of the backup and pump electricity, year 1
  N first_year_saving{};         ///< the one less the other
  N savings_present_value{};     ///< fuel, pump and upkeep, with against without
  N investment_present_value{};  ///< cost less incentives, replacements and remaining values, with against without
  N net_savings{};               ///< life-cycle cost without less life-cycle cost with
  N life_cycle_cost_without{};
  N life_cycle_cost_with{};
  economics::Measure<N> simple_payback_years;  ///< both paybacks leave remaining values out: no money comes in
  economics::Measure<N> discounted_payback_years;
  economics::Measure<N> savings_to_investment;
  economics::Measure<N> adjusted_internal_rate_of_return;  ///< nominal, a year
  economics::Measure<N> water_heating_burden_without;      ///< year-1 water heating cost over income
  economics::Measure<N> water_heating_burden_with;
  economics::Measure<N> energy_burden_without;  ///< all household energy over income, where bills are known
  economics::Measure<N> energy_burden_with;
  /// Sum which, paid at install without lowering any other incentive, makes every threshold hold; 0 if they hold.
  economics::Measure<N> extra_help;

  economics::Measure<N> lasting_simple_payback_years;  ///< recovered for good: a later replacement can undo the first
  economics::Measure<N> lasting_discounted_payback_years;
  /// Every yearly nominal rate at which net savings are zero, and why there is none or that there are several.
  economics::InternalRates<N> internal_rates;
  economics::Measure<N> internal_rate_of_return;  ///< where there is exactly one
  N equivalent_annual_value{};  ///< net savings as an even amount at the end of each year of the study
  /// Present value of all extra costs but purchased fuel, over that of the solar heat: an even price of a kWh of heat
  /// in money of the day, to set against what the backup heater's heat costs.
  economics::Measure<N> levelised_cost_of_heat;
  /// Price of a sold unit of the existing fuel in year 1 at which net savings are zero, all its prices moving together.
  economics::Measure<N> break_even_fuel_price;
  /// Installed cost at which net savings are zero, incentives unchanged in dollars.
  economics::Measure<N> break_even_installed_cost;
};

/// The purchase with one of the program's loans.
template <class N>
struct LoanResult {
  std::size_t loan = 0;  ///< index into Program::loans
  loans::Schedule<N> schedule;
  N paid_by_household_at_install{};   ///< what neither incentives at install nor the loan cover, and fees paid in cash
  N average_month_net{};              ///< first year's saving less the payments of the loan's costliest year, over 12
  N lowest_month_net{};               ///< lowest of the first twelve months, bill saving less the payment
  N net_savings{};                    ///< net savings in cash, plus the present value of advance, charges and payments
  bool pays_from_month_one = false;   ///< nothing at install, and average_month_net not negative
  N owed_at_end{};                    ///< when the study ends; net_savings counts it as paid then
  N sponsor_cost{};                   ///< what the payer of a buy-down pays the lender
  loans::Ratio<N> coverage;           ///< first year's saving over the payments of the loan's costliest year
  loans::Purse<N> purse;              ///< of everything but remaining values, loan included
  loans::Ratio<N> debt_ratio_before;  ///< debt payments over income; none where the debts are not known
  loans::Ratio<N> debt_ratio_after;   ///< with the loan's costliest year
  loans::Ratio<N> energy_burden;      ///< bills after the saving, and the loan's costliest year, over income
  std::optional<double> bought_down_rate = std::nullopt;  ///< yearly rate, where an incentive lowers the loan's
};

/// What a household's own bills did to its simulated energies.
struct OwnBill {
  double scale = 1;  ///< of the energy without the system; 1 where no bill is given
  std::string text;  ///< what was done and why; empty where no bill is given
};

template <class N>
struct Appraisal {
  std::string household_id;
  std::size_t package = 0;  ///< index into Program::packages
  hotwater::SolarSystem system;
  hotwater::Heater heater;
  hotwater::Demand demand;
  hotwater::Year year;
  std::optional<hotwater::SimulatedYear> simulated;  ///< by Detail::hourly
  const climate::Climate* climate = nullptr;         ///< owned by the catalogue
  double distance_km = 0;                            ///< from the household's place to the weather station
  incentives::Claim claim;
  bool liability_estimated = false;
  std::string income_tier;
  double income_share = 0;                      ///< of the area median for its size
  std::vector<incentives::Outcome> incentives;  ///< every rule, in working order
  ledger::Plan plan;
  ledger::Ledger<N> ledger;  ///< in cash
  Measures<N> measures;
  std::vector<LoanResult<N>> loans;  ///< every loan of the program that lends this sum
  double co2_saved_kg_year = 0;
  Decision decision = Decision::does_not_pay;
  std::optional<std::size_t> best_loan;  ///< index into loans: the best average month
  std::vector<std::string> unsuitable;   ///< reasons, empty if suitable
  std::vector<hotwater::Caution> cautions;
  std::vector<std::string> defaults_used;  ///< everything that was assumed, "what = value (why)"
  hotwater::Plant plant;                   ///< the rest of what was simulated
  /// In the order of economics::CostTest; none where the program asks for no tests.
  std::optional<std::array<economics::CostTestOutcome<N>, economics::cost_test_count>> cost_tests;
  OwnBill own_bill;  ///< year holds the scaled energies, simulated those as simulated
};

/// A household's appraisal, or the error that kept it from one.
template <class N>
struct Attempt {
  std::optional<Appraisal<N>> appraisal;
  std::exception_ptr failure;  ///< holds an errors::Error
};

/// A household with every default settled, before its energies are known.
struct Prepared {
  Home home;
  std::vector<Job> jobs;       ///< of home.candidates, one each
  std::exception_ptr failure;  ///< holds an errors::Error; no jobs then
};

/// What a household buys with a package and without it, before incentives, and what it may claim of them.
struct Course {
  hotwater::Year year;  ///< scaled to the household's own bills
  OwnBill own_bill;
  ledger::Plan plan;
  incentives::Claim claim;
};

/// Appraises households under one program. Any number of threads may share it, each with a Scratch of its own or with
/// one that the Appraiser lends.
class Appraiser {
 public:
  /// Throws what catalog::check(program) and incentives::Stack throw.
  Appraiser(std::shared_ptr<const catalog::Program> program, std::shared_ptr<const catalog::Catalog> catalog);

  /// Appraises one household. N is double or money::Decimal. Throws an errors::Error naming the column at fault
  /// (unknown place, package or heater; a set temperature below the mains).
  template <class N>
  [[nodiscard]] Appraisal<N> appraise(const catalog::Household& household, hotwater::Detail detail,
                                      Scratch& scratch) const;
  template <class N = double>
  [[nodiscard]] Appraisal<N> appraise(const catalog::Household& household,
                                      hotwater::Detail detail = hotwater::Detail::hourly) const {
    return scratches_->lend([&](Scratch& scratch) { return appraise<N>(household, detail, scratch); });
  }

  /// Appraises many at once; by hourly simulation that is several times faster than one by one, because systems run
  /// side by side. One attempt for each household, in order; each is the same bits as appraise() gives alone. Bit i of
  /// `closed_pools`: pool i of the program has no money for these households.
  template <class N>
  [[nodiscard]] std::vector<Attempt<N>> appraise_many(std::span<const catalog::Household* const> households,
                                                      hotwater::Detail detail, Scratch& scratch,
                                                      std::uint64_t closed_pools = 0) const;

  /// The two halves of appraise_many, for those who work out energies elsewhere: a household settled, and the rest once
  /// the energies of its jobs are known (years_of, one for each job, in order).
  [[nodiscard]] Prepared prepare(const catalog::Household& household, Scratch& scratch) const;
  template <class N>
  [[nodiscard]] Attempt<N> conclude(const catalog::Household& household, Prepared&& prepared,
                                    std::vector<Energy>&& energies, incentives::Work& work,
                                    std::uint64_t closed_pools = 0) const;
  /// A household's course with package `package` of the program as `system`, under the energies of its job.
  [[nodiscard]] Course course(const catalog::Household& household, const Home& home, std::size_t package,
                              const hotwater::SolarSystem& system, hotwater::Year year,
                              const std::optional<hotwater::SimulatedYear>& simulated) const;
  /// Whether a price changes with the hour, so that energies need their hours of the day.
  [[nodiscard]] bool wants_hours_of_day() const;

  /// The climate that the household's years are made of; nullptr where its place is not known. Households of one
  /// climate and roof, appraised after each other with one Scratch, share their weather.
  [[nodiscard]] const climate::Climate* climate_of(const catalog::Household& household, Scratch& scratch) const;

  /// Throws what appraise() by hourly simulation would throw, without simulating anything.
  void check(const catalog::Household& household, Scratch& scratch) const;

  /// The decision's reason in one or two sentences with the figures behind it.
  template <class N>
  [[nodiscard]] std::string reason(const Appraisal<N>& appraisal) const;

  /// The measures under another timing convention: Timing::monthly gives appraisal.measures; the others take the sum of
  /// each year at its end, middle or start, and remaining values at the end of the study under all. What no timing
  /// touches (cost, first-year saving, burdens, and extra_help, which follows the thresholds) stays.
  template <class N>
  [[nodiscard]] Measures<N> measures_under(const Appraisal<N>& appraisal, economics::Timing timing) const;

  [[nodiscard]] const catalog::Program& program() const noexcept { return *program_; }
  [[nodiscard]] const catalog::Catalog& catalog() const noexcept { return *catalog_; }
  [[nodiscard]] const incentives::Stack& stack() const noexcept { return stack_; }

 private:
  std::shared_ptr<const catalog::Program> program_;
  std::shared_ptr<const catalog::Catalog> catalog_;
  incentives::Stack stack_;
  std::shared_ptr<ScratchPool> scratches_ = std::make_shared<ScratchPool>();
};

}  // namespace warmledger::appraisal
