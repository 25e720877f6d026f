// Incentives: rules as data. A rule says who pays, what it is a share of, when it holds, for whom, and when the money
// comes; the engine (stack.hpp) applies them. Nothing about a single program is written in code.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/dates/dates.hpp"
#include "warmledger/prices/fuels.hpp"

namespace warmledger::incentives {

/// rebate: money off or back, not through a tax return. credit: through a tax return.
enum class Kind { rebate, credit };
/// Where the facts of a rule come from.
enum class Standing { verified, from_memory, invented };
enum class Tenure { owner, renter };
enum class FilingStatus { single, joint, head_of_household };
/// What the amount is counted by.
enum class Basis { flat_usd, share_of_cost, usd_per_m2, usd_per_first_year_kwh };
/// install: on the install date. months_after: a number of months later. tax_filing: 15 April of the year after.
enum class Arrival { install, months_after, tax_filing };

[[nodiscard]] std::string_view name_of(Kind kind);
[[nodiscard]] std::string_view name_of(Standing standing);
[[nodiscard]] std::string_view name_of(Tenure tenure);
[[nodiscard]] std::string_view name_of(FilingStatus status);
[[nodiscard]] Tenure tenure_named(std::string_view name);               ///< throws UnknownName
[[nodiscard]] FilingStatus filing_status_named(std::string_view name);  ///< throws UnknownName
[[nodiscard]] Standing standing_named(std::string_view name);           ///< throws UnknownName

struct Rule {
  std::string id;
  std::string title;
  std::string payer;     ///< who pays, in words
  std::string citation;  ///< statute, order or program document
  Standing standing = Standing::invented;
  Kind kind = Kind::rebate;
  Basis basis = Basis::flat_usd;
  double amount = 0;              ///< dollars, share 0..1, dollars per m2 of gross collector area, or dollars per kWh
  std::optional<double> cap_usd;  ///< most that one household gets
  std::optional<dates::Date> valid_from;  ///< first and last install date for which it holds
  std::optional<dates::Date> valid_to;
  std::optional<double> least_income_share;  ///< of the area median income for the household's size: at least
  std::optional<double> most_income_share;   ///< at most
  std::vector<Tenure> tenures;               ///< empty: any
  std::vector<prices::Fuel> fuels;           ///< of the existing heater; empty: any
  std::vector<std::string> base_less;        ///< ids of rules whose amounts come off the cost before a share is taken
  bool refundable = false;                   ///< credit: paid out beyond the tax liability
  int carryforward_years = 0;  ///< credit: years after the first in which an unused part may still be taken
  Arrival arrival = Arrival::install;
  int arrival_months = 0;  ///< for months_after
};

/// Throws ValueOutOfRange, MissingValue or Contradiction naming the member, with the rule's id as the place.
void check(const Rule& rule);

}  // namespace warmledger::incentives
