// The parts of an appraisal, one source file a subject. Inside this room only.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/appraisal/home.hpp"
#include "warmledger/ledger/sums.hpp"

namespace warmledger::appraisal {

/// `kwh` in sold units of the fuel.
[[nodiscard]] double sold_units(double kwh, prices::Fuel fuel, const prices::FuelTable& fuels);

/// When in the day the energies of a year fall, and what else stands on the household's bills.
struct Bills {
  OwnBill own;
  std::optional<climate::Monthly> other_units;        ///< of the heater's fuel, from the bill of the whole home
  std::shared_ptr<const hotwater::HoursOfDay> hours;  ///< where a price changes with the hour
};

/// Scales `year` to the household's own bills, within the program's bounds, and finds the rest of its use. Above 1 the
/// added use is bought in both worlds: the sun is not multiplied by a bill. Below 1 both worlds shrink alike. `hours`
/// as simulated; where there is none (monthly method) draws and daylight place the energy in the day.
[[nodiscard]] Bills bills_of(const catalog::Household& household, const Home& home, const catalog::Program& program,
                             const prices::FuelTable& fuels, std::shared_ptr<const hotwater::HoursOfDay> hours,
                             hotwater::Year& year);

/// Everything the ledger needs of a household with a package; awards are added by the caller. `year`, `system` as in
/// an appraisal.
[[nodiscard]] ledger::Plan plan_of(const catalog::Household& household, const catalog::Package& package,
                                   const Home& home, const hotwater::Year& year, const Bills& bills,
                                   const catalog::Program& program, const catalog::Catalog& catalog);

/// Measures of the purchase in cash, but those of measure_more. `sums` are the ledger's, here and below.
template <class N>
[[nodiscard]] Measures<N> measure(const ledger::Ledger<N>& book, const ledger::Sums<N>& sums,
                                  const catalog::Household& household, const catalog::Program& program);

/// Bills with minus without by fuel, indexed by prices::Fuel; empty for a fuel that neither world buys. Together they
/// are the ledger's fuel and pump electricity.
template <class N>
using BillsByFuel = std::array<std::vector<N>, prices::fuel_count>;
template <class N>
[[nodiscard]] BillsByFuel<N> bills_by_fuel(const Appraisal<N>& appraisal, const ledger::Sums<N>& sums);

/// Adds lasting paybacks, internal rates, annual value, levelised cost and break-even values: of the package that was
/// chosen only, because nothing is chosen by them.
template <class N>
void measure_more(Appraisal<N>& appraisal, const ledger::Sums<N>& sums, const BillsByFuel<N>& bills,
                  const catalog::Program& program);

/// The five cost tests of the purchase in cash, from Program::cost_tests, which must be there.
template <class N>
[[nodiscard]] std::array<economics::CostTestOutcome<N>, economics::cost_test_count> cost_tests(
    const Appraisal<N>& appraisal, const ledger::Sums<N>& sums, BillsByFuel<N>&& bills, const catalog::Program& program,
    const incentives::Stack& stack, const catalog::Catalog& catalog);

/// The purchase with each of the program's loans; none when nothing is due at install.
template <class N>
[[nodiscard]] std::vector<LoanResult<N>> with_loans(const Appraisal<N>& appraisal, const ledger::Sums<N>& sums,
                                                    const catalog::Household& household,
                                                    const catalog::Program& program);

/// Sets the best loan and the decision.
template <class N>
void decide(Appraisal<N>& appraisal, const catalog::Program& program);

}  // namespace warmledger::appraisal
