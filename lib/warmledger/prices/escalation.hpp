// Escalation: how the price of a fuel moves over the years of a study.
#pragma once

#include <memory>
#include <span>
#include <string>
#include <vector>

namespace warmledger::prices {

/// A fuel price over the years of a study, nominal. Year 1 is charged at the price of the install date.
struct Escalation {
  double yearly_rate = 0;  ///< each year above the one before it, after `by_year` ends; may be negative, above -1
  /// Price index of year 1, 2, ...; the first is 1. None: yearly_rate from year 2 on. Shared, never changed.
  std::shared_ptr<const std::vector<double>> by_year = nullptr;
};

/// Throws ValueOutOfRange naming yearly_rate or the year of an index that is not above 0.
void check(const Escalation& escalation);

/// Price index of year 1, 2, ... `years` of a study; the first is 1.
template <class N>
[[nodiscard]] std::vector<N> price_indices(const Escalation& escalation, int years);
/// The same into room that is there already: one index for each element.
template <class N>
void fill_price_indices(const Escalation& escalation, std::span<N> indices);

/// Indices of year 1, 2, ... from the rise into year 2, 3, ...: one more than there are rates.
[[nodiscard]] std::vector<double> indices_from_rises(std::span<const double> rises);
/// Nominal indices from real ones (in dollars of constant value, as the federal annual supplement to NIST Handbook 135
/// prints them): divided by the first, and times (1 + inflation)^(year - 1).
[[nodiscard]] std::vector<double> nominal_indices(std::span<const double> real_indices, double inflation_rate);

/// "unchanged", "rising 3 % a year", "falling 1 % a year", "following its yearly series, ... after year 20".
[[nodiscard]] std::string in_words(const Escalation& escalation);

/// Real price indices of one fuel in one region by calendar year, one for each year from `first_year` on.
struct EscalationTable {
  std::string region;
  int first_year = 0;
  std::vector<double> real_indices;
  std::string source;
};
/// Nominal escalation of a study that begins in `start_year`. Before the table's first year and after its last one the
/// real price stands still. The index of the start year is 1.
[[nodiscard]] Escalation escalation_from(const EscalationTable& table, int start_year, double inflation_rate);

}  // namespace warmledger::prices
