#include "warmledger/economics/roots.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <type_traits>

#include <boost/math/tools/toms748_solve.hpp>

#include "warmledger/economics/checks.hpp"

namespace warmledger::economics {

using money::Decimal;

namespace {

template <class N>
N magnitude(const N& value) {
  return value < N(0) ? N(-value) : value;
}

/// A sum as a polynomial in the one of x and 1 / x that is at most 1, so that no power overflows: at y above 0 it is
/// taken from the other end. That divides it by x^last, which is positive.
template <class N>
class Inward {
 public:
  Inward(const std::vector<N>& c, const N& y) : c_(c), forward_(y <= N(0)), x_(x_of(forward_ ? y : N(-y))) {}

  [[nodiscard]] const N& operator[](std::size_t k) const { return c_[forward_ ? k : c_.size() - 1 - k]; }
  [[nodiscard]] std::size_t size() const { return c_.size(); }
  [[nodiscard]] const N& x() const { return x_; }
  [[nodiscard]] bool forward() const { return forward_; }

 private:
  static N x_of(const N& y) {
    using boost::multiprecision::exp;
    using std::exp;
    return N(exp(y));
  }

  const std::vector<N>& c_;
  bool forward_;
  N x_;
};

/// Value of a sum at its x, and x times its derivative.
template <class N>
struct Point {
  N value{};
  N slope{};
};

template <bool with_slope, class N>
Point<N> point_of(const Inward<N>& sum) {
  const N x = sum.x();
  const N x2 = N(x * x);
  const N x4 = N(x2 * x2);
  // Horner's rule on every fourth term: four short chains in place of one long one.
  std::array<N, 4> lanes{N(0), N(0), N(0), N(0)};
  std::array<N, 4> slopes = lanes;  // by x^4
  std::size_t k = sum.size();
  for (; k % 4 != 0; --k) lanes[(k - 1) % 4] = sum[k - 1];
  for (; k > 0; k -= 4) {
    for (std::size_t lane = 0; lane < 4; ++lane) {
      if constexpr (with_slope) slopes[lane] = N(slopes[lane] * x4 + lanes[lane]);
      lanes[lane] = N(lanes[lane] * x4 + sum[k - 4 + lane]);
    }
  }
  const auto joined = [&](const std::array<N, 4>& of) { return N((of[0] + x2 * of[2]) + x * (of[1] + x2 * of[3])); };
  Point<N> point{joined(lanes), N(0)};
  if constexpr (with_slope) {
    for (std::size_t lane = 0; lane < 4; ++lane)
      slopes[lane] = N(N(4) * x4 * slopes[lane] + N(static_cast<double>(lane)) * lanes[lane]);
    point.slope = joined(slopes);
  }
  return point;
}

/// Sum of c[k] x^k at x = exp(y), times a positive factor.
template <class N>
N value_at(const std::vector<N>& c, const N& y) {
  return point_of<false>(Inward<N>(c, y)).value;
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

/// The value of a sum at its x, with the error of Horner's rule taken back: as exact as in twice the digits (the
/// compensated scheme of Graillat, Langlois and Louvet, from memory). A fused multiplication and addition is rounded
/// once on every machine, so that the result does not depend on it.
double exact_value(const Inward<double>& sum) {
  double value = 0;
  double error = 0;
  for (std::size_t k = sum.size(); k > 0; --k) {
    const double product = value * sum.x();
    const double next = product + sum[k - 1];
    const double added = next - product;
    const double lost = (product - (next - added)) + (sum[k - 1] - added);
    error = error * sum.x() + (std::fma(value, sum.x(), -product) + lost);
    value = next;
  }
  return value + error;
}
Decimal exact_value(const Inward<Decimal>& sum) {
  return point_of<false>(sum).value;
}

/// Newton's steps from `y` until one of them, times the number of terms, is at most `enough`; none if they do not
/// settle.
template <class N>
std::optional<N> settled(const std::vector<N>& c, N y, double enough) {
  constexpr int most_steps = 30;
  const N small = N(N(enough) / N(static_cast<double>(c.size())));
  for (int k = 0; k < most_steps; ++k) {
    const Inward<N> sum(c, y);
    const Point<N> point = point_of<true>(sum);
    const N step = N(point.value / (sum.forward() ? point.slope : N(-point.slope)));
    if (!is_finite(step)) return std::nullopt;
    y -= step;
    if (magnitude(step) <= small) return y;
  }
  return std::nullopt;
}

/// A place to start from: sixteen terms become two, as a straight line between their places divides them, and a sum of
/// fewer terms has nearly the same root.
template <class N>
N guess(const std::vector<N>& c) {
  constexpr std::size_t wide = 16;
  constexpr std::size_t few = 48;  // so few terms cost no more than the search for a better place
  if (c.size() <= few) return N(0);
  std::vector<N> fewer(c.size() / wide + 2, N(0));
  for (std::size_t k = 0; k < c.size(); ++k) {
    const N later = N(c[k] * N(static_cast<double>(k % wide) / wide));
    fewer[k / wide] += c[k] - later;
    fewer[k / wide + 1] += later;
  }
  return N(settled(fewer, guess(fewer), 1e-3).value_or(N(0)) / N(static_cast<double>(wide)));
}

/// Whether the running sums a little beyond `root`, in the powers of `sum`, keep their sign until the last, clear of
/// rounding.
template <class N>
bool only_last_turns(const Inward<N>& sum, const N& root) {
  using std::min;
  // Where they do, the slope is half of the summed sizes or more, so that this step shows in the last sum.
  const N x = N(root * N(1 + 1e-7));
  const bool positive = sum[0] > N(0);
  N power(1);
  N running(0);
  N nearest(std::numeric_limits<double>::max());
  N sizes(0);
  for (std::size_t k = 0; k < sum.size(); ++k) {
    if (k > 0) nearest = min(nearest, running);
    const N term = N(sum[k] * power);
    running += positive ? term : N(-term);
    sizes += magnitude(term);
    power *= x;
  }
  const N rounding = N(N(static_cast<double>(2 * sum.size() + 4)) * std::numeric_limits<N>::epsilon() * sizes);
  return rounding > std::numeric_limits<N>::min() && nearest > rounding && running < N(-rounding);
}

}  // namespace

template <class N>
std::optional<N> only_root(const std::vector<N>& c) {
  using boost::multiprecision::log, boost::multiprecision::log1p;
  using std::log, std::log1p;
  if (sign(c.front()) == sign(c.back())) return std::nullopt;  // an even number of roots
  // Newton's step doubles the digits: from an eighth of a quarter of them the last step below, of exact value, has all.
  const double epsilon = money::to_double(std::numeric_limits<N>::epsilon());
  const std::optional<N> near = settled(c, guess(c), std::sqrt(std::sqrt(epsilon)) / 8);
  if (!near) return std::nullopt;
  const Inward<N> sum(c, *near);
  const N step = N(sum.x() * (exact_value(sum) / point_of<true>(sum).slope));
  if (!is_finite(step) || !only_last_turns(sum, N(sum.x() - step))) return std::nullopt;
  // Near 1 it is taken off first, which is exact: the step then adds its digits to those of x.
  const N y = sum.x() > N(0.5) ? N(log1p(N((sum.x() - N(1)) - step))) : N(log(N(sum.x() - step)));
  return sum.forward() ? y : N(-y);
}

template <class N>
Roots<N> every_root(const std::vector<N>& c, const N& touching) {
  RootFinder<N> finder(touching);
  std::vector<N> found = finder.roots(c);
  if (finder.unclear()) return std::nullopt;
  return found;
}

#define WARMLEDGER_INSTANTIATE(N)                                \
  template std::optional<N> only_root<N>(const std::vector<N>&); \
  template Roots<N> every_root<N>(const std::vector<N>&, const N&);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::economics
