// Offers: the money of one household's offer from a few figures, and of many offers at once.
//
// The same months as build() lays out entry by entry (a test holds the two together), for the case that screening and
// what-ifs ask most: bills of a year that rise with fuel prices, one upkeep a year, incentives, replacements, a level
// loan, all measures. Many offers are worked out eight side by side on the instruction set that the processor has.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/economics/measures.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::ledger {

/// An amount that comes or goes once: positive is received. Nominal dollars.
struct DatedAmount {
  int month = 0;  ///< after the install date, 0 or more; past the study it is left out
  double usd = 0;
};

/// One offer. Dollars; rates yearly, nominal and decimal; prices of the first year are those of the install date.
struct Offer {
  double installed_cost_usd = 0;               ///< 0 to 1e12, rounded to cents
  std::array<double, 12> bills_without_usd{};  ///< first year's heater bills, month 1 ... 12 after the install date
  std::array<double, 12> bills_with_usd{};     ///< backup bills with the system
  std::array<double, 12> pump_usd{};           ///< pump electricity
  double fuel_escalation = 0;                  ///< -0.5 to 1
  double electricity_escalation = 0;           ///< of the pumps' price, -0.5 to 1
  double inflation_rate = 0;                   ///< -0.5 to 1
  double nominal_discount_rate = 0;            ///< -0.9 to 2
  double upkeep_usd_year = 0;                  ///< at the end of each year, dollars of the install date
  int system_life_years = 20;                  ///< 1 to 100: nothing is saved after it
  double heat_saved_kwh_year = 0;              ///< purchased energy saved, for the levelised cost
  double fuel_price_usd = 0;                   ///< of one unit on the install date; 0: no break-even price
  double loan_usd = 0;                         ///< lent on the install date, rounded to cents; 0: no loan
  double loan_yearly_rate = 0;                 ///< 0 to 1, charged monthly as rate / 12
  int loan_term_months = 120;                  ///< 1 to 600
  std::array<DatedAmount, 8> incentives{};     ///< received; unused ones are 0
  /// Part replacements: paid (positive), in dollars of the install date; they rise with inflation.
  std::array<DatedAmount, 4> replacements{};
};

/// Every measure of an offer. Present values at the install date, monthly flows discounted at the monthly rate that
/// compounds to the yearly one; measures as in appraisal::Measures and data/methods.md.
template <class N>
struct OfferMeasures {
  N net_cost{};
  N due_at_install{};
  N first_year_saving{};
  N savings_present_value{};
  N investment_present_value{};
  N net_savings{};
  N life_cycle_cost_without{};  ///< the heater's bills
  N life_cycle_cost_with{};
  N equivalent_annual_value{};
  economics::Measure<N> simple_payback_years;
  economics::Measure<N> discounted_payback_years;
  economics::Measure<N> lasting_simple_payback_years;
  economics::Measure<N> lasting_discounted_payback_years;
  economics::Measure<N> savings_to_investment;
  economics::Measure<N> adjusted_internal_rate_of_return;
  economics::Measure<N> internal_rate_of_return;  ///< of yearly sums; none when there is no rate or there are several
  economics::Measure<N> levelised_cost_usd_per_kwh;
  economics::Measure<N> break_even_fuel_price_usd;
  economics::Measure<N> break_even_installed_cost_usd;
  N loan_payment{};
  N loan_interest{};  ///< within the study
  N net_savings_with_loan{};
  N average_month_net{};  ///< first year: bill saving less payments, a month
  N lowest_month_net{};
  N months_out_of_pocket{};  ///< months whose payment exceeds the bill saving
  N deepest_point{};         ///< lowest running sum of all cash with the loan
  N owed_at_end{};           ///< balance at the end of the study, counted as paid then
};

/// All measures of one offer over `study_years` (1 to 50). N is double or money::Decimal.
/// Throws ValueOutOfRange naming the member.
template <class N>
[[nodiscard]] OfferMeasures<N> measures_of(const Offer& offer, int study_years);

/// Members of OfferMeasures as columns: names in the order of the members.
inline constexpr std::size_t offer_measure_count = 27;
[[nodiscard]] std::span<const std::string_view> offer_measure_names();

/// Many offers: one column a measure, one row an offer. Undefined is NaN here and only here: `reason` tells why.
struct OfferTable {
  std::array<std::vector<double>, offer_measure_count> columns;
  /// For each measure and offer: 0, or 1 + an index into `reasons`.
  std::array<std::vector<std::uint8_t>, offer_measure_count> why_none;
  std::vector<std::string> reasons;
};

/// measures_of(offers[i]) for every i, the same bits whatever the instruction set, threads and neighbours; internal
/// rates within 1e-12 of it. `threads` 0: one for each processor. An offer out of range throws ValueOutOfRange with
/// its row (from 1).
[[nodiscard]] OfferTable measures_of(std::span<const Offer> offers, int study_years, unsigned threads = 0);

}  // namespace warmledger::ledger
