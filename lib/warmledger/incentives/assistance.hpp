// Assistance: programs a household is already in. Where a rule says so, being in one of them stands in place of proof
// of income (categorical eligibility).
#pragma once

#include <array>
#include <bitset>
#include <string>
#include <string_view>

namespace warmledger::incentives {

/// Means-tested programs by what they give, so that one word fits every state's name for it.
enum class Assistance {
  food,                   ///< food stamps: 7 USC ch. 51
  heating,                ///< help with energy bills: 42 USC 8621
  weatherization,         ///< 42 USC 6861
  medicaid,               ///< 42 USC 1396
  cash,                   ///< help to families with children: 42 USC 601
  supplemental_security,  ///< income for the aged, blind and disabled: 42 USC 1381
  housing,                ///< vouchers, public or assisted housing: 42 USC 1437
  school_meals,           ///< free or reduced-price meals: 42 USC 1758
  women_infants_children  ///< food for mothers and infants: 42 USC 1786
};
inline constexpr std::size_t assistance_count = 9;
inline constexpr std::array<Assistance, assistance_count> all_assistance{
    Assistance::food,     Assistance::heating,      Assistance::weatherization,
    Assistance::medicaid, Assistance::cash,         Assistance::supplemental_security,
    Assistance::housing,  Assistance::school_meals, Assistance::women_infants_children};

/// Any number of them.
using AssistanceSet = std::bitset<assistance_count>;

[[nodiscard]] std::string_view name_of(Assistance assistance);
[[nodiscard]] Assistance assistance_named(std::string_view name);  ///< throws UnknownName
/// All the words, parted by ", ".
[[nodiscard]] std::string_view assistance_words();
/// Words parted by semicolons, blanks around them ignored; empty: none. Throws UnknownName, DuplicateName.
[[nodiscard]] AssistanceSet assistance_from(std::string_view words);
/// The words of a set, parted by "; ".
[[nodiscard]] std::string words_of(const AssistanceSet& set);

}  // namespace warmledger::incentives
