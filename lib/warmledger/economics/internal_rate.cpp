#include "warmledger/economics/internal_rate.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <limits>
#include <optional>
#include <thread>

#include <fmt/format.h>

#include "warmledger/economics/checks.hpp"
#include "warmledger/economics/roots.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::economics {

using money::Decimal;

namespace {

/// The flows without zeros at either end (they shift time, not rates), scaled to a largest size of 1.
template <class To, class N>
std::vector<To> trimmed(std::span<const N> flows) {
  std::size_t first = 0;
  while (flows[first] == N(0)) ++first;
  std::size_t end = flows.size();
  while (flows[end - 1] == N(0)) --end;
  To largest(0);
  for (const N& flow : flows) largest = std::max(largest, To(flow < N(0) ? N(-flow) : flow));
  std::vector<To> kept;
  kept.reserve(end - first);
  for (std::size_t k = first; k < end; ++k) kept.push_back(To(To(flows[k]) / largest));
  return kept;
}

std::vector<double> log_factors(std::span<const double> flows) {
  const std::vector<double> c = trimmed<double>(flows);
  if (const std::optional<double> only = only_root(c)) return {*only};
  if (Roots<double> found = every_root(c, 0.0)) return *std::move(found);
  const Decimal touching(4 * std::numeric_limits<double>::epsilon());
  const Roots<Decimal> fine = every_root(trimmed<Decimal>(flows), touching);
  std::vector<double> found;
  for (const Decimal& y : *fine) found.push_back(money::to_double(y));
  return found;
}

std::vector<Decimal> log_factors(std::span<const Decimal> flows) {
  const std::vector<Decimal> c = trimmed<Decimal>(flows);
  if (const std::optional<Decimal> only = only_root(c)) return {*only};
  return *every_root(c, Decimal("1e-44"));
}

}  // namespace

template <class N>
InternalRates<N> internal_rates(std::span<const N> flows) {
  using boost::multiprecision::expm1;
  using std::expm1;
  require_flows(flows);
  InternalRates<N> result;
  int last = 0;
  for (const N& flow : flows) {
    const int here = sign(flow);
    if (here == 0) continue;
    if (last != 0 && here != last) ++result.sign_changes;
    last = here;
  }
  if (result.sign_changes == 0) {
    result.statement = flows.empty() ? "there are no flows"
                       : last == 0   ? "all flows are zero"
                                     : "all flows have one sign: nothing is both paid and received";
    return result;
  }
  for (const N& y : log_factors(flows)) {
    const N rate = N(expm1(N(-y)));
    // A factor so large that the rate rounds to -1 is a total loss, and so small that it overflows is no number.
    if (rate > N(-1) && is_finite(rate)) result.rates.push_back(rate);
  }
  if (result.rates.empty()) result.statement = "no rate above -1 makes the net present value zero";
  if (result.rates.size() > 1) result.statement = "several rates make the net present value zero";
  return result;
}

template <class N>
Measure<N> internal_rate_of_return(const InternalRates<N>& rates) {
  if (rates.rates.size() == 1) return {rates.rates.front(), {}};
  return {std::nullopt, rates.statement};
}

template <class N>
Measure<N> internal_rate_of_return(std::span<const N> flows) {
  return internal_rate_of_return(internal_rates(flows));
}

std::vector<InternalRates<double>> internal_rates_by_row(std::span<const double> flows, std::size_t columns,
                                                         unsigned threads) {
  if (columns == 0 || flows.size() % columns != 0) {
    throw errors::Contradiction({{"", {}, {}, "flows"},
                                 fmt::format("{} amounts in rows of {}", flows.size(), columns),
                                 "do not fill whole rows",
                                 "rows of one length, 1 or more"});
  }
  const std::size_t rows = flows.size() / columns;
  for (std::size_t row = 0; row < rows; ++row)
    require_flows(flows.subspan(row * columns, columns), fmt::format("flows[{}]", row));
  std::vector<InternalRates<double>> results(rows);
  constexpr std::size_t chunk = 256;
  std::atomic<std::size_t> next{0};
  // All flows are finite now, so nothing throws in a thread but want of memory.
  const auto work = [&] {
    for (std::size_t first = next.fetch_add(chunk); first < rows; first = next.fetch_add(chunk)) {
      for (std::size_t row = first; row < std::min(first + chunk, rows); ++row)
        results[row] = internal_rates(flows.subspan(row * columns, columns));
    }
  };
  const unsigned wanted = threads != 0 ? threads : std::max(1U, std::thread::hardware_concurrency());
  {
    std::vector<std::jthread> team;
    const std::size_t useful = std::min<std::size_t>(wanted, (rows + chunk - 1) / chunk);
    for (std::size_t t = 1; t < useful; ++t) team.emplace_back(work);
    work();
  }
  return results;
}

#define WARMLEDGER_INSTANTIATE(N)                                          \
  template InternalRates<N> internal_rates<N>(std::span<const N>);         \
  template Measure<N> internal_rate_of_return<N>(const InternalRates<N>&); \
  template Measure<N> internal_rate_of_return<N>(std::span<const N>);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::economics
