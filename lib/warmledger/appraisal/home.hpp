// Home: everything about a household that no package changes, with every default settled.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "warmledger/appraisal/scratch.hpp"
#include "warmledger/catalog/household.hpp"
#include "warmledger/catalog/program.hpp"

namespace warmledger::appraisal {

struct Home {
  climate::Atlas::Found station;
  double tilt_deg = 0;
  double azimuth_deg = 0;  ///< of the roof: 0 south, west positive
  double shading_share = 0;
  hotwater::Demand demand;
  hotwater::Heater heater;
  std::optional<double> lift_m;
  double heater_years_left = 0;
  std::array<prices::Price, prices::fuel_count> price;
  std::array<bool, prices::fuel_count> on_tariff{};          ///< the program's tariff is charged instead of price
  std::array<prices::Price, prices::fuel_count> bill_price;  ///< by which own bills were paid: price, but for a what-if
  std::array<bool, prices::fuel_count> bill_on_tariff{};
  double income_share = 0;
  double liability_usd = 0;
  bool liability_estimated = false;
  std::optional<double> state_liability_usd;  ///< empty: not known
  std::optional<double> local_liability_usd;
  bool state_liability_estimated = false;
  bool local_liability_estimated = false;
  const incentives::TaxTable* federal_table = nullptr;  ///< of the install year; owned by the catalogue
  std::vector<std::size_t> candidates;     ///< packages to appraise: the one asked for, or those offered for its size
  std::vector<std::string> defaults_used;  ///< "what = value (why)"
};

/// The climate of a household's place. Throws an errors::Error naming the column at fault.
[[nodiscard]] climate::Atlas::Found find_climate(const catalog::Household& household, const catalog::Program& program,
                                                 const catalog::Catalog& catalog, Scratch& scratch);

/// Throws an errors::Error naming the column at fault: unknown place, package or heater, a rating that cannot be.
[[nodiscard]] Home settle(const catalog::Household& household, const catalog::Program& program,
                          const catalog::Catalog& catalog, Scratch& scratch);

/// Why the household and roof do not suit a package, in words; empty if they do.
[[nodiscard]] std::vector<std::string> misfits(const catalog::Household& household, const catalog::Program& program,
                                               const catalog::Package& package, const Home& home);

}  // namespace warmledger::appraisal
