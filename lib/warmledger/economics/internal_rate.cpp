#include "warmledger/economics/internal_rate.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstdint>
#include <limits>
#include <string>
#include <thread>
#include <type_traits>

#include <fmt/format.h>
#include <boost/math/tools/toms748_solve.hpp>

#include "warmledger/economics/checks.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::economics {

using money::Decimal;

namespace {

template <class N>
N magnitude(const N& value) {
  return value < N(0) ? N(-value) : value;
}

template <class N>
int sign(const N& value) {
  return value > N(0) ? 1 : value < N(0) ? -1 : 0;
}

/// Sum of c[k] x^k at x = exp(y), times a positive factor that keeps every power at or below 1: for y above 0 it is
/// taken from the other end, in 1 / x.
template <class N>
N value_at(const std::vector<N>& c, const N& y) {
  using boost::multiprecision::exp;
  using std::exp;
  const bool forward = y <= N(0);
  const std::size_t last = c.size() - 1;
  const auto term = [&](std::size_t k) -> const N& { return c[forward ? k : last - k]; };
  const N x = N(exp(forward ? y : N(-y)));
  const N x2 = N(x * x);
  const N x4 = N(x2 * x2);
  // Horner's rule on every fourth term: four short chains in place of one long one.
  std::array<N, 4> lanes{N(0), N(0), N(0), N(0)};
  std::size_t k = c.size();
  for (; k % 4 != 0; --k) lanes[(k - 1) % 4] = term(k - 1);
  for (; k > 0; k -= 4) {
    for (std::size_t lane = 0; lane < 4; ++lane) lanes[lane] = N(lanes[lane] * x4 + term(k - 4 + lane));
  }
  return N((lanes[0] + x2 * lanes[2]) + x * (lanes[1] + x2 * lanes[3]));
}

template <class N>
N size_at(const std::vector<N>& c, const N& y) {
  std::vector<N> sizes;
  sizes.reserve(c.size());
  for (const N& coefficient : c) sizes.push_back(magnitude(coefficient));
  return value_at(sizes, y);
}

/// Isolates and solves the positive roots x = exp(y) of sums with few sign changes.
template <class N>
class RootFinder {
 public:
  /// `touching`: a turning point whose value is below this share of the summed sizes counts as a root.
  explicit RootFinder(const N& touching) : touching_(touching) {}

  /// y of the distinct positive roots, descending in y (so ascending in rate).
  std::vector<N> roots(const std::vector<N>& flows) {
    std::vector<N> found = solve_level(flows, 0);
    std::reverse(found.begin(), found.end());
    return found;
  }
  /// Some sign could not be told from rounding, or coefficients left the range of N.
  [[nodiscard]] bool unclear() const { return unclear_; }

 private:
  std::vector<N> solve_level(const std::vector<N>& c, int level) {
    // The first sign change: last coefficient of one sign at `below`, first of the other at `above`.
    std::size_t below = 0;
    while (c[below] == N(0)) ++below;
    std::size_t above = below + 1;
    for (; above < c.size(); ++above) {
      if (sign(c[above]) == -sign(c[below])) break;
      if (c[above] != N(0)) below = above;
    }
    if (above >= c.size()) return {};
    if (is_last_change(c, above)) return {root_beyond(c, N(0), 0, 0)};

    const N middle = N(N(static_cast<double>(below + above)) / N(2));
    std::vector<N> derived(c.size());
    N largest(0);
    for (std::size_t k = 0; k < c.size(); ++k) {
      derived[k] = N(c[k] * (N(static_cast<double>(k)) - middle));
      largest = std::max(largest, magnitude(derived[k]));
    }
    for (std::size_t k = 0; k < c.size(); ++k) {
      derived[k] /= largest;
      if (c[k] != N(0) && k * 2 != below + above && magnitude(derived[k]) < std::numeric_limits<N>::min()) {
        unclear_ = true;
        return {};
      }
    }
    const std::vector<N> turning = solve_level(derived, level + 1);
    if (unclear_) return {};
    return between(c, turning, level);
  }

  static bool is_last_change(const std::vector<N>& c, std::size_t above) {
    return std::none_of(c.begin() + static_cast<std::ptrdiff_t>(above), c.end(),
                        [&](const N& later) { return sign(later) == -sign(c[above]); });
  }

  /// Roots of c given the ascending turning points of c times a power.
  std::vector<N> between(const std::vector<N>& c, const std::vector<N>& turning, int level) {
    if (turning.empty()) {
      // Monotone throughout: a root exactly if the ends differ.
      if (end_sign(c, false) == end_sign(c, true)) return {};
      return {root_beyond(c, N(0), 0, 0)};
    }
    const N steps = N(static_cast<double>(2 * c.size() + 4) + level);
    const N rounding = N(steps * std::numeric_limits<N>::epsilon());
    std::vector<int> signs;
    for (const N& y : turning) {
      const N value = value_at(c, y);
      const N share = N(magnitude(value) / size_at(c, y));
      // Also where the sign is clear but two rates lie so near that rounding would show in their ninth digit.
      const N doubtful = level == 0 ? N(std::max(N(4 * rounding), N(1e-9))) : N(4 * rounding);
      if (std::is_same_v<N, double> && share <= doubtful) {
        unclear_ = true;
        return {};
      }
      const N limit = level == 0 ? std::max(touching_, rounding) : rounding;
      signs.push_back(share <= limit ? 0 : sign(value));
    }
    std::vector<N> found;
    if (signs.front() != 0 && signs.front() != end_sign(c, false)) {
      found.push_back(root_beyond(c, turning.front(), signs.front(), -1));
    }
    for (std::size_t k = 0; k < turning.size(); ++k) {
      // Neighbours that both touch zero are one multiple root that rounding has split.
      if (signs[k] == 0 && (k == 0 || signs[k - 1] != 0)) found.push_back(turning[k]);
      if (k + 1 < turning.size() && signs[k] * signs[k + 1] < 0) {
        found.push_back(bracketed(c, turning[k], turning[k + 1]));
      }
    }
    if (signs.back() != 0 && signs.back() != end_sign(c, true)) {
      found.push_back(root_beyond(c, turning.back(), signs.back(), 1));
    }
    return found;
  }

  /// Sign of the sum as x goes to 0, or to infinity.
  static int end_sign(const std::vector<N>& c, bool at_infinity) {
    const auto nonzero = [](const N& value) { return value != N(0); };
    return at_infinity ? sign(*std::find_if(c.rbegin(), c.rend(), nonzero))
                       : sign(*std::find_if(c.begin(), c.end(), nonzero));
  }

  /// The one root on the far side of `from`, in direction -1 or 1; direction 0 looks on the side that has it.
  static N root_beyond(const std::vector<N>& c, const N& from, int sign_here, int direction) {
    if (direction == 0) {
      sign_here = sign(value_at(c, from));
      if (sign_here == 0) return from;
      direction = sign_here == end_sign(c, true) ? -1 : 1;
    }
    N inner = from;
    // The steps end: far enough out only the end coefficient is left in the sum.
    for (N reach = N(1) / N(16);; reach *= N(2)) {
      N outer = N(from + N(direction) * reach);
      const int there = sign(value_at(c, outer));
      if (there == 0) return outer;
      if (there != sign_here) return bracketed(c, std::min(inner, outer), std::max(inner, outer));
      inner = outer;
    }
  }

  static N bracketed(const std::vector<N>& c, const N& low, const N& high) {
    const N epsilon = std::numeric_limits<N>::epsilon();
    // The solver keeps twice epsilon away from the ends of its bracket, so a tighter demand would never be met.
    // Near y = 0 the rounding of exp(y), a fraction of epsilon, is the floor.
    const auto close = [&](const N& a, const N& b) {
      return N(b - a) <= N(epsilon * std::max(magnitude(a), magnitude(b)) * N(10) + epsilon / N(8));
    };
    std::uintmax_t most = 400;
    const auto [a, b] =
        boost::math::tools::toms748_solve([&](const N& y) { return value_at(c, y); }, low, high, close, most);
    return N((a + b) / N(2));
  }

  N touching_;
  bool unclear_ = false;
};

/// The flows without zeros at either end (they shift time, not rates), scaled to a largest size of 1.
template <class To, class N>
std::vector<To> trimmed(std::span<const N> flows) {
  std::size_t first = 0;
  while (flows[first] == N(0)) ++first;
  std::size_t end = flows.size();
  while (flows[end - 1] == N(0)) --end;
  To largest(0);
  for (const N& flow : flows) largest = std::max(largest, magnitude(To(flow)));
  std::vector<To> kept;
  kept.reserve(end - first);
  for (std::size_t k = first; k < end; ++k) kept.push_back(To(To(flows[k]) / largest));
  return kept;
}

std::vector<double> log_factors(std::span<const double> flows) {
  RootFinder<double> quick(0.0);
  std::vector<double> found = quick.roots(trimmed<double>(flows));
  if (!quick.unclear()) return found;
  RootFinder<Decimal> fine(Decimal(4 * std::numeric_limits<double>::epsilon()));
  found.clear();
  for (const Decimal& y : fine.roots(trimmed<Decimal>(flows))) found.push_back(money::to_double(y));
  return found;
}

std::vector<Decimal> log_factors(std::span<const Decimal> flows) {
  return RootFinder<Decimal>(Decimal("1e-44")).roots(trimmed<Decimal>(flows));
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
