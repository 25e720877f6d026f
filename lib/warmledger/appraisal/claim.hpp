// Claim: what a household claims of the incentives, and the money that comes of it.
#pragma once

#include <span>

#include "warmledger/appraisal/home.hpp"
#include "warmledger/catalog/household.hpp"
#include "warmledger/catalog/program.hpp"
#include "warmledger/hotwater/year.hpp"
#include "warmledger/incentives/stack.hpp"

namespace warmledger::appraisal {

/// What the rules need to know of a household with a package on its roof; no pool is closed.
[[nodiscard]] incentives::Claim claim_of(const catalog::Household& household, const catalog::Package& package,
                                         const Home& home, const hotwater::SolarSystem& system,
                                         const hotwater::Year& year, double installed_cost_usd,
                                         const catalog::Program& program);

/// Another installed cost in a claim: what is split of it is split as before.
void set_installed_cost(incentives::Claim& claim, double installed_cost_usd);

/// Calls receive(date, usd, rule, is_tax) for every payment of the outcomes, and for the income tax on them (negative),
/// in their order.
template <class Receive>
void for_each_receipt(std::span<const incentives::Outcome> outcomes, Receive&& receive) {
  for (const incentives::Outcome& outcome : outcomes) {
    for (const incentives::Payment& payment : outcome.payments) receive(payment.date, payment.usd, outcome.rule, false);
    for (const incentives::Payment& tax : outcome.taxes) receive(tax.date, -tax.usd, outcome.rule, true);
  }
}

/// Property tax on the value that the system adds, dollars of the install date, whole cents.
struct PropertyTax {
  double usd_year = 0;        ///< from year 1 on
  double usd_year_after = 0;  ///< more, from `first_year_after` on: what an exemption keeps away until it ends
  int first_year_after = 1;
};
/// None where the program names no rate.
[[nodiscard]] PropertyTax property_tax_of(double installed_cost_usd, const incentives::TaxRules& tax,
                                          const incentives::Stack& stack,
                                          std::span<const incentives::Outcome> outcomes);

}  // namespace warmledger::appraisal
