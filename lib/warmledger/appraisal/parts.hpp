// The parts of an appraisal, one source file a subject. Inside this room only.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/appraisal/home.hpp"

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

/// Measures of the purchase in cash.
template <class N>
[[nodiscard]] Measures<N> measure(const ledger::Ledger<N>& book, const catalog::Household& household,
                                  const catalog::Program& program);

/// The purchase with each of the program's loans; none when nothing is due at install.
template <class N>
[[nodiscard]] std::vector<LoanResult<N>> with_loans(const ledger::Ledger<N>& book, const Measures<N>& measures,
                                                    const catalog::Program& program);

/// Sets the best loan and the decision.
template <class N>
void decide(Appraisal<N>& appraisal, const catalog::Program& program);

}  // namespace warmledger::appraisal
