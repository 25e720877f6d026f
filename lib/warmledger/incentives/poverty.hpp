// Poverty: the federal poverty guidelines, and a household's income as a multiple of them.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/dates/dates.hpp"

namespace warmledger::incentives {

/// The three areas for which guidelines are published: the 48 contiguous states with the District of Columbia, Alaska,
/// Hawaii. None is published for the territories.
enum class PovertyRegion { contiguous, alaska, hawaii };

[[nodiscard]] std::string_view name_of(PovertyRegion region);
[[nodiscard]] PovertyRegion poverty_region_named(std::string_view name);  ///< throws UnknownName
/// Region of a state by its two capital letters; empty for a territory (PR, GU, VI, AS, MP), where the office that runs
/// a program says which guideline it takes. Two letters that are no state give `contiguous` as little as anything else:
/// only the 50 states and DC have a region.
[[nodiscard]] std::optional<PovertyRegion> poverty_region_of(std::string_view state);

/// One published table: 42 USC 9902(2), the notice named in `source`.
struct PovertyGuideline {
  dates::Date valid_from{};
  PovertyRegion region = PovertyRegion::contiguous;
  std::array<double, 8> usd{};  ///< a year, for 1 to 8 persons
  double each_more_usd = 0;     ///< for each person above 8
  std::string source;
};

/// The guideline for a household of `persons`, dollars a year. Throws ValueOutOfRange below 1 or above 1000 persons.
[[nodiscard]] double poverty_guideline_usd(const PovertyGuideline& guideline, int persons);
/// `multiple` times the guideline (2.0 is 200 %), dollars a year, not rounded beyond the cent.
[[nodiscard]] double poverty_limit_usd(const PovertyGuideline& guideline, double multiple, int persons);
/// Income over the guideline: 1.5 is 150 %.
[[nodiscard]] double poverty_multiple(const PovertyGuideline& guideline, double yearly_income_usd, int persons);

class PovertyTables {
 public:
  PovertyTables() = default;
  explicit PovertyTables(std::vector<PovertyGuideline> tables);
  /// The latest table of the region that holds on `date`; nullptr when the first begins later. Never one of a later
  /// year: a limit that was not yet published decides nothing.
  [[nodiscard]] const PovertyGuideline* find(dates::Date date, PovertyRegion region) const;
  [[nodiscard]] const std::vector<PovertyGuideline>& tables() const noexcept { return tables_; }

 private:
  std::vector<PovertyGuideline> tables_;
};

}  // namespace warmledger::incentives
