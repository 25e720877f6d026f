// Cost tests for program managers: the five perspectives of the California Standard Practice Manual (2001 edition,
// total resource cost clarified in 2007). Which item enters which test, and on which side, is the table below.
//
// Status of the table: the costs and benefits of the total resource and administrator tests were read in commission
// decisions that quote or describe the manual; the participant and ratepayer columns and the societal column beyond
// "total resource with outside effects" are from memory. Two items are readings of ours: money to the participant from
// outside the program is treated as the manual treats a tax credit, and a rebate of a utility that does not run the
// program as a cost of its ratepayers alone.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/economics/measures.hpp"

namespace warmledger::economics {

enum class CostTest { participant, administrator, ratepayer_impact, total_resource, societal };
inline constexpr std::size_t cost_test_count = 5;

/// What a program does to money. Amounts are present values in dollars, zero or more.
enum class CostItem {
  avoided_supply,     ///< energy, capacity, transmission and distribution the utility need not supply
  bill_reduction,     ///< what the participant no longer pays; lost revenue of the utility
  bill_increase,      ///< what the participant pays more, for a fuel used more; revenue of the utility
  incentive,          ///< rebate from the program to the participant
  tax_credit,         ///< from a government, or anybody else outside the program, to the participant
  administration,     ///< running the program
  participant_cost,   ///< equipment, installation, upkeep and removal less salvage, before incentive and credit
  increased_supply,   ///< supply of a fuel used more
  outside_benefit,    ///< good to people outside the deal (cleaner air, say)
  outside_cost,       ///< harm to people outside the deal
  avoided_equipment,  ///< equipment and upkeep that the participant need not buy, where that is more than what is
                      ///< bought
  utility_rebate      ///< from a utility that does not run the program, to the participant: its ratepayers bear it
};
inline constexpr std::size_t cost_item_count = 12;

/// How an item enters a test.
enum class Entry {
  none,         ///< not at all: a transfer within the perspective, or not its money
  benefit,      ///< adds to benefits
  cost,         ///< adds to costs
  reduces_cost  ///< taken off costs; unlike a benefit it changes the ratio's denominator
};

struct CostTestRow {
  CostItem item;
  std::string_view name;  ///< a key: "avoided_supply"
  std::string_view title;
  std::array<Entry, cost_test_count> entries;  ///< in the order of CostTest
};

/// Which item enters which test: read it, print it (cost_test_table), compute from it (cost_test).
inline constexpr std::array<CostTestRow, cost_item_count> cost_test_rows{{
    // participant, administrator, ratepayer impact, total resource, societal
    {CostItem::avoided_supply,
     "avoided_supply",
     "Avoided supply cost",
     {Entry::none, Entry::benefit, Entry::benefit, Entry::benefit, Entry::benefit}},
    {CostItem::bill_reduction,
     "bill_reduction",
     "Participant bill reduction",
     {Entry::benefit, Entry::none, Entry::cost, Entry::none, Entry::none}},
    {CostItem::bill_increase,
     "bill_increase",
     "Participant bill increase",
     {Entry::cost, Entry::none, Entry::benefit, Entry::none, Entry::none}},
    {CostItem::incentive,
     "incentive",
     "Incentive or rebate",
     {Entry::benefit, Entry::cost, Entry::cost, Entry::none, Entry::none}},
    {CostItem::tax_credit,
     "tax_credit",
     "Tax credit or other money from outside",
     {Entry::benefit, Entry::none, Entry::none, Entry::reduces_cost, Entry::none}},
    {CostItem::administration,
     "administration",
     "Program administration",
     {Entry::none, Entry::cost, Entry::cost, Entry::cost, Entry::cost}},
    {CostItem::participant_cost,
     "participant_cost",
     "Participant equipment and upkeep",
     {Entry::cost, Entry::none, Entry::none, Entry::cost, Entry::cost}},
    {CostItem::increased_supply,
     "increased_supply",
     "Increased supply cost",
     {Entry::none, Entry::cost, Entry::cost, Entry::cost, Entry::cost}},
    {CostItem::outside_benefit,
     "outside_benefit",
     "Benefit outside the deal",
     {Entry::none, Entry::none, Entry::none, Entry::none, Entry::benefit}},
    {CostItem::outside_cost,
     "outside_cost",
     "Cost outside the deal",
     {Entry::none, Entry::none, Entry::none, Entry::none, Entry::cost}},
    {CostItem::avoided_equipment,
     "avoided_equipment",
     "Participant equipment not bought",
     {Entry::benefit, Entry::none, Entry::none, Entry::benefit, Entry::benefit}},
    {CostItem::utility_rebate,
     "utility_rebate",
     "Rebate of a utility, not the program's",
     {Entry::benefit, Entry::none, Entry::cost, Entry::none, Entry::none}},
}};

/// "participant", "administrator", "ratepayer_impact", "total_resource", "societal".
[[nodiscard]] std::string_view name_of(CostTest test);
/// Inverse of name_of; throws UnknownName with the nearest.
[[nodiscard]] CostTest cost_test_named(std::string_view name);
/// The item of a row's name; throws UnknownName with the nearest.
[[nodiscard]] CostItem cost_item_named(std::string_view name);
/// "Participant", "Program administrator", "Ratepayer impact", "Total resource cost", "Societal".
[[nodiscard]] std::string_view title(CostTest test);
/// Whose discount rate is usual for a test's present values (from memory): the participant's, the administrator's
/// (three tests), or society's, lower.
[[nodiscard]] std::string_view usual_discount_rate(CostTest test);
/// "-", "benefit", "cost" or "less cost".
[[nodiscard]] std::string_view title(Entry entry);
[[nodiscard]] constexpr Entry entry_of(CostItem item, CostTest test) {
  return cost_test_rows[static_cast<std::size_t>(item)].entries[static_cast<std::size_t>(test)];
}
/// cost_test_rows as plain text: a header line and a line for each item, columns parted by " | ".
[[nodiscard]] std::string cost_test_table();

/// Present value of each item in dollars, zero or more, at the discount rate of the test it is used in.
template <class N>
struct ItemAmounts {
  std::array<N, cost_item_count> amounts{};
  [[nodiscard]] N& operator[](CostItem item) { return amounts[static_cast<std::size_t>(item)]; }
  [[nodiscard]] const N& operator[](CostItem item) const { return amounts[static_cast<std::size_t>(item)]; }
};

template <class N>
struct CostTestResult {
  N benefits{};      ///< dollars
  N costs{};         ///< dollars; below 0 only when credits exceed every cost
  N net{};           ///< benefits less costs
  Measure<N> ratio;  ///< benefits over costs; none when costs are not positive
};

/// One test. Throws ValueOutOfRange naming the item whose amount is negative or not finite.
template <class N>
[[nodiscard]] CostTestResult<N> cost_test(CostTest test, const ItemAmounts<N>& amounts);
/// All five in the order of CostTest, from amounts at one discount rate.
template <class N>
[[nodiscard]] std::array<CostTestResult<N>, cost_test_count> cost_tests(const ItemAmounts<N>& amounts);

/// A stream of money that enters as one item when its present value is positive and as another when it is negative.
template <class N>
struct CostStream {
  CostItem when_positive = CostItem::participant_cost;
  CostItem when_negative = CostItem::participant_cost;  ///< the same item: negative is then an error
  std::vector<N> flows;                                 ///< at times 0, 1, 2, ...
  std::string missing;  ///< not empty: why the flows are not known; a test that they enter has no result
};

/// A test's result, or why there is none.
template <class N>
struct CostTestOutcome {
  std::optional<CostTestResult<N>> result;
  std::string why_none;
};

/// All five from streams, each test at its own rate per period of the flows. What is wrong with one test (a rate that
/// is no rate, a stream that is missing) takes away that test only.
template <class N>
[[nodiscard]] std::array<CostTestOutcome<N>, cost_test_count> cost_tests(std::span<const CostStream<N>> streams,
                                                                         const std::array<N, cost_test_count>& rates);

}  // namespace warmledger::economics
