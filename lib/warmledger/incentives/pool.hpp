// Pools: sums of money that run out, and who is funded from them.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace warmledger::incentives {

/// Who is funded first.
enum class PoolOrder {
  first_come,            ///< the order of the sheet
  need_first,            ///< the lowest income over the area median for its size
  most_saved_per_dollar  ///< the most first-year saving for a dollar of the pool
};
[[nodiscard]] std::string_view name_of(PoolOrder order);

struct Pool {
  std::string id;
  std::string title;
  double usd = 0;
  PoolOrder order = PoolOrder::first_come;
  /// Whether a household that asks for more than is left is passed over for one that asks for less. If not, all who
  /// come after it wait.
  bool passes_over = false;
};

/// What one household asks of a pool. Households that ask for nothing make no request.
struct Request {
  std::size_t row = 0;  ///< of the sheet; breaks every tie, the earlier first
  double usd = 0;       ///< above 0
  double income_share = 0;
  double first_year_saving_usd = 0;
};

/// What became of a request, at the same place as the request.
struct Funding {
  bool funded = false;
  std::size_t place = 0;       ///< in the order of the pool, from 1
  double left_before_usd = 0;  ///< of the pool when its turn came
};

/// Spends a pool: in its order, each request in whole or not at all; the sum of what is funded never exceeds the pool.
[[nodiscard]] std::vector<Funding> fund(const Pool& pool, std::span<const Request> requests);

}  // namespace warmledger::incentives
