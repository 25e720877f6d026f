#include "warmledger/ledger/ledger.hpp"

#include <algorithm>
#include <tuple>
#include <utility>

#include "warmledger/economics/measures.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::ledger {

using money::Decimal;

std::string_view name_of(World world) {
  return world == World::without ? "without" : "with";
}

std::string_view name_of(Category category) {
  static constexpr std::array<std::string_view, category_count> names{
      "installed cost", "incentive",   "loan advance",    "loan payment", "fuel",      "pump electricity",
      "upkeep",         "replacement", "remaining value", "fixed charge", "tax saving"};
  return names.at(static_cast<std::size_t>(category));
}

template <class N>
std::span<N> Ledger<N>::add(Line line) {
  errors::require_in_range("first_month", line.first_month, 0, 1e6, "months");
  errors::require_in_range("step_months", line.step_months, 1, 1e6, "months");
  const int fitting = line.first_month > months() ? 0 : (months() - line.first_month) / line.step_months + 1;
  line.count = std::min(line.count, static_cast<std::size_t>(fitting));
  if (line.count == 0) return {};
  line.offset = amounts_.size();
  amounts_.resize(line.offset + line.count, N(0));
  lines_.push_back(line);
  return std::span<N>(amounts_).subspan(line.offset, line.count);
}

template <class N>
void Ledger<N>::add(Series<N> series) {
  const Line line{series.world,       series.category,    Cause::text, static_cast<int>(texts_.size()),
                  series.first_month, series.step_months, 0,           series.amounts.size()};
  const std::span<N> room = add(line);
  if (room.empty()) return;
  std::move(series.amounts.begin(), series.amounts.begin() + static_cast<std::ptrdiff_t>(room.size()), room.begin());
  texts_.push_back(std::move(series.reason));
}

template <class N>
void Ledger<N>::reserve(std::size_t lines, std::size_t amounts) {
  lines_.reserve(lines);
  amounts_.reserve(amounts);
}

namespace {

/// Sums months 0 ... `last_month` of the lines that `wanted` accepts; those of the without world are subtracted when
/// `as_difference`.
template <class N, class Wanted>
std::vector<N> sum_of(const Ledger<N>& ledger, int last_month, bool as_difference, const Wanted& wanted) {
  std::vector<N> sums(static_cast<std::size_t>(last_month) + 1, N(0));
  for (const Line& line : ledger.lines()) {
    if (!wanted(line)) continue;
    const bool negative = as_difference && line.world == World::without;
    auto month = static_cast<std::size_t>(line.first_month);
    for (const N& amount : ledger.amounts(line)) {
      if (month >= sums.size()) break;
      if (negative) {
        sums[month] -= amount;
      } else {
        sums[month] += amount;
      }
      month += static_cast<std::size_t>(line.step_months);
    }
  }
  return sums;
}

}  // namespace

template <class N>
std::vector<N> Ledger<N>::flows(World world) const {
  return sum_of(*this, months(), false, [world](const Line& line) { return line.world == world; });
}

template <class N>
std::vector<N> Ledger<N>::flows(World world, Category category) const {
  return flows(world, category, months());
}

template <class N>
std::vector<N> Ledger<N>::flows(World world, Category category, int last_month) const {
  return sum_of(*this, last_month, false,
                [=](const Line& line) { return line.world == world && line.category == category; });
}

template <class N>
std::vector<N> Ledger<N>::difference() const {
  return sum_of(*this, months(), true, [](const Line&) { return true; });
}

template <class N>
std::vector<N> Ledger<N>::difference(Category category) const {
  return sum_of(*this, months(), true, [category](const Line& line) { return line.category == category; });
}

template <class N>
std::vector<Entry<N>> Ledger<N>::entries() const {
  std::vector<Entry<N>> all;
  for (std::size_t index = 0; index < lines_.size(); ++index) {
    const Line& line = lines_[index];
    int month = line.first_month;
    for (const N& amount : amounts(line)) {
      if (amount != N(0))
        all.push_back({month, dates::add_months(start_, month), line.world, line.category, amount, index});
      month += line.step_months;
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Entry<N>& a, const Entry<N>& b) {
    return std::tuple(a.month, a.world, a.category) < std::tuple(b.month, b.world, b.category);
  });
  return all;
}

template <class N>
N Ledger<N>::largest_imbalance() const {
  N largest(0);
  const auto compare = [&largest](const std::vector<N>& a, const std::vector<N>& b) {
    for (std::size_t month = 0; month < a.size(); ++month)
      largest = std::max({largest, N(a[month] - b[month]), N(b[month] - a[month])});
  };
  const auto sum_categories = [](const auto& flows_of) {
    std::vector<N> sums = flows_of(Category::installed_cost);
    for (std::size_t c = 1; c < category_count; ++c) {
      const std::vector<N> part = flows_of(static_cast<Category>(c));
      for (std::size_t month = 0; month < sums.size(); ++month) sums[month] += part[month];
    }
    return sums;
  };
  for (const World world : {World::without, World::with})
    compare(sum_categories([&](Category category) { return flows(world, category); }), flows(world));
  compare(sum_categories([&](Category category) { return difference(category); }), difference());
  std::vector<N> apart = flows(World::with);
  const std::vector<N> without = flows(World::without);
  for (std::size_t month = 0; month < apart.size(); ++month) apart[month] -= without[month];
  compare(apart, difference());
  return largest;
}

template <class N>
std::vector<N> by_year(std::span<const N> monthly) {
  if (monthly.empty()) return {};
  std::vector<N> years((monthly.size() - 1 + 11) / 12 + 1, N(0));
  years[0] = monthly[0];
  for (std::size_t month = 1; month < monthly.size(); ++month) years[(month + 11) / 12] += monthly[month];
  return years;
}

template <class N>
std::vector<N> deflators(double inflation_rate, int months) {
  std::vector<N> out(static_cast<std::size_t>(std::max(months, -1) + 1));
  const N factor = N(1) / N(N(1) + economics::monthly_rate(N(inflation_rate)));
  N deflator(1);
  for (N& slot : out) {
    slot = deflator;
    deflator *= factor;
  }
  return out;
}

template <class N>
std::vector<N> constant_dollars(std::span<const N> monthly, double inflation_rate) {
  std::vector<N> constant = deflators<N>(inflation_rate, static_cast<int>(monthly.size()) - 1);
  for (std::size_t month = 0; month < monthly.size(); ++month) constant[month] *= monthly[month];
  return constant;
}

#define WARMLEDGER_INSTANTIATE(N)                         \
  template class Ledger<N>;                               \
  template std::vector<N> by_year<N>(std::span<const N>); \
  template std::vector<N> deflators<N>(double, int);      \
  template std::vector<N> constant_dollars<N>(std::span<const N>, double);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::ledger
