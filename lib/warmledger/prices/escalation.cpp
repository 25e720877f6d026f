#include "warmledger/prices/escalation.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::prices {

void check(const Escalation& escalation) {
  errors::require_in_range("yearly_rate", escalation.yearly_rate, -0.9, 2, "(0.02 is 2 %)");
  if (escalation.by_year == nullptr) return;
  const std::vector<double>& indices = *escalation.by_year;
  for (std::size_t year = 0; year < indices.size(); ++year) {
    errors::require_in_range(fmt::format("price index of year {}", year + 1), indices[year], 1e-6, 1e6);
  }
}

template <class N>
void fill_price_indices(const Escalation& escalation, std::span<N> indices) {
  const N growth = N(1) + N(escalation.yearly_rate);
  const std::size_t given = escalation.by_year == nullptr ? 0 : std::min(escalation.by_year->size(), indices.size());
  N index(1);
  for (std::size_t year = 0; year < indices.size(); ++year) {
    if (year < given) {
      index = N((*escalation.by_year)[year]);
    } else if (year > 0) {
      index *= growth;
    }
    indices[year] = index;
  }
}

template <class N>
std::vector<N> price_indices(const Escalation& escalation, int years) {
  std::vector<N> indices(static_cast<std::size_t>(std::max(years, 0)));
  fill_price_indices(escalation, std::span<N>(indices));
  return indices;
}

std::vector<double> indices_from_rises(std::span<const double> rises) {
  std::vector<double> indices{1.0};
  indices.reserve(rises.size() + 1);
  for (const double rise : rises) indices.push_back(indices.back() * (1 + rise));
  return indices;
}

std::vector<double> nominal_indices(std::span<const double> real_indices, double inflation_rate) {
  std::vector<double> indices;
  indices.reserve(real_indices.size());
  double general = 1;
  for (const double real : real_indices) {
    indices.push_back(real / real_indices.front() * general);
    general *= 1 + inflation_rate;
  }
  return indices;
}

std::string in_words(const Escalation& escalation) {
  const double percent = std::round(escalation.yearly_rate * 1e6) / 1e4;
  std::string constant = percent == 0  ? "unchanged"
                         : percent > 0 ? fmt::format("rising {} % a year", errors::plain_number(percent))
                                       : fmt::format("falling {} % a year", errors::plain_number(-percent));
  if (escalation.by_year == nullptr || escalation.by_year->size() < 2) return constant;
  return fmt::format("following its yearly price series, {} after year {}", constant, escalation.by_year->size());
}

Escalation escalation_from(const EscalationTable& table, int start_year, double inflation_rate) {
  const auto last = static_cast<int>(table.real_indices.size()) - 1;
  std::vector<double> real;
  for (int at = start_year - table.first_year; at <= last; ++at)
    real.push_back(table.real_indices[static_cast<std::size_t>(std::max(at, 0))]);
  if (real.empty()) return {inflation_rate, nullptr};
  return {inflation_rate, std::make_shared<const std::vector<double>>(nominal_indices(real, inflation_rate))};
}

template std::vector<double> price_indices<double>(const Escalation&, int);
template std::vector<money::Decimal> price_indices<money::Decimal>(const Escalation&, int);
template void fill_price_indices<double>(const Escalation&, std::span<double>);
template void fill_price_indices<money::Decimal>(const Escalation&, std::span<money::Decimal>);

}  // namespace warmledger::prices
