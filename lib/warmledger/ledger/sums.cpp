#include "warmledger/ledger/sums.hpp"

namespace warmledger::ledger {

using money::Decimal;

template <class N>
Sums<N>::Sums(const Ledger<N>& book) : months_(static_cast<std::size_t>(book.months()) + 1) {
  std::size_t rows = first_category_row;
  for (const Line& line : book.lines()) {
    std::size_t& row = row_of_[static_cast<std::size_t>(line.category)];
    if (row == zero_row) row = rows++;
  }
  amounts_.assign(rows * months_, N(0));
  for (const Line& line : book.lines()) {
    const std::span<const N> amounts = book.amounts(line);
    const auto world = static_cast<std::size_t>(line.world);
    const bool negative = line.world == World::without;
    add(row_of_[static_cast<std::size_t>(line.category)], line, amounts, negative);
    add(cash_row, line, amounts, negative);
    add(world_row + world, line, amounts, false);
    if (line.category == Category::remaining_value) add(remaining_row + world, line, amounts, false);
  }
  const auto last = [this](std::size_t row) -> N& { return amounts_[(row + 1) * months_ - 1]; };
  last(cash_row) -= difference(Category::remaining_value).back();
  for (const std::size_t world : {0U, 1U}) last(world_row + world) -= last(remaining_row + world);
}

template <class N>
void Sums<N>::add(std::size_t row, const Line& line, std::span<const N> amounts, bool negative) {
  N* to = amounts_.data() + row * months_ + line.first_month;
  const auto step = static_cast<std::size_t>(line.step_months);
  for (std::size_t k = 0; k < amounts.size(); ++k) {
    if (negative) {
      to[k * step] -= amounts[k];
    } else {
      to[k * step] += amounts[k];
    }
  }
}

template class Sums<double>;
template class Sums<Decimal>;

}  // namespace warmledger::ledger
