// The parts of an appraisal, one source file a subject. Inside this room only.
#pragma once

#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/appraisal/home.hpp"

namespace warmledger::appraisal {

/// `kwh` in sold units of the fuel.
[[nodiscard]] double sold_units(double kwh, prices::Fuel fuel, const prices::FuelTable& fuels);

/// Everything the ledger needs of a household with a package; awards are added by the caller. `year`, `system` as in
/// an appraisal.
[[nodiscard]] ledger::Plan plan_of(const catalog::Household& household, const catalog::Package& package,
                                   const Home& home, const hotwater::Year& year, const catalog::Program& program,
                                   const catalog::Catalog& catalog);

/// Measures of the purchase in cash.
template <class N>
[[nodiscard]] Measures<N> measure(const ledger::Ledger<N>& book, const catalog::Household& household,
                                  const catalog::Program& program);

/// The purchase with each of the program's loans; none when nothing is due at install.
template <class N>
[[nodiscard]] std::vector<LoanResult<N>> with_loans(const ledger::Ledger<N>& book, const Measures<N>& measures,
                                                    const ledger::Plan& plan, const catalog::Household& household,
                                                    const catalog::Program& program);

/// Sets the best loan and the decision.
template <class N>
void decide(Appraisal<N>& appraisal, const catalog::Program& program);

}  // namespace warmledger::appraisal
