// Sums: a ledger's months added up, all in one pass over its lines.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "warmledger/ledger/ledger.hpp"

namespace warmledger::ledger {

/// Months 0 ... months() of a ledger, each series number by number what Ledger::difference and Ledger::flows say.
template <class N>
class Sums {
 public:
  Sums() = default;
  explicit Sums(const Ledger<N>& book);

  /// with minus without of one category.
  [[nodiscard]] std::span<const N> difference(Category category) const {
    return row(row_of_[static_cast<std::size_t>(category)]);
  }
  /// with minus without of all categories but remaining values: those are worth, not money that comes in, and pay
  /// nothing back.
  [[nodiscard]] std::span<const N> cash() const { return row(cash_row); }
  /// The same of one world.
  [[nodiscard]] std::span<const N> cash(World world) const { return row(world_row + static_cast<std::size_t>(world)); }
  /// Remaining values of one world.
  [[nodiscard]] std::span<const N> remaining(World world) const {
    return row(remaining_row + static_cast<std::size_t>(world));
  }

 private:
  static constexpr std::size_t zero_row = 0;  ///< of every category without a line
  static constexpr std::size_t cash_row = 1;
  static constexpr std::size_t world_row = 2;
  static constexpr std::size_t remaining_row = 4;
  static constexpr std::size_t first_category_row = 6;

  [[nodiscard]] std::span<const N> row(std::size_t index) const {
    return std::span<const N>(amounts_).subspan(index * months_, months_);
  }
  void add(std::size_t row, const Line& line, std::span<const N> amounts, bool negative);

  std::size_t months_ = 0;
  std::vector<N> amounts_;  ///< row after row
  std::array<std::size_t, category_count> row_of_{};
};

}  // namespace warmledger::ledger
