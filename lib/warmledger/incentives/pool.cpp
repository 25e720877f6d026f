#include "warmledger/incentives/pool.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "warmledger/errors/errors.hpp"

namespace warmledger::incentives {

std::string_view name_of(PoolOrder order) {
  static constexpr std::array<std::string_view, 3> names{"first_come", "need_first", "most_saved_per_dollar"};
  return names.at(static_cast<std::size_t>(order));
}

std::vector<Funding> fund(const Pool& pool, std::span<const Request> requests) {
  for (const Request& request : requests) errors::require_in_range("request, usd", request.usd, 0.01, 1e12, "dollars");
  std::vector<std::size_t> order(requests.size());
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(), [&](std::size_t i, std::size_t j) {
    const Request& a = requests[i];
    const Request& b = requests[j];
    if (pool.order == PoolOrder::need_first && a.income_share != b.income_share) return a.income_share < b.income_share;
    if (pool.order == PoolOrder::most_saved_per_dollar) {
      const double saved_a = a.first_year_saving_usd / a.usd;
      const double saved_b = b.first_year_saving_usd / b.usd;
      if (saved_a != saved_b) return saved_a > saved_b;
    }
    return a.row < b.row;
  });
  // In whole cents, so that a sum of many rebates is a sum.
  const auto cents = [](double usd) { return std::llround(usd * 100); };
  std::vector<Funding> out(requests.size());
  long long left = cents(pool.usd);
  bool closed = false;
  for (std::size_t place = 0; place < order.size(); ++place) {
    const long long asked = cents(requests[order[place]].usd);
    const bool funded = !closed && asked <= left;
    out[order[place]] = {funded, place + 1, static_cast<double>(left) / 100};
    if (funded) left -= asked;
    if (!funded && !pool.passes_over) closed = true;
  }
  return out;
}

}  // namespace warmledger::incentives
