#include "warmledger/incentives/tax.hpp"

#include <algorithm>
#include <cstdlib>

#include "warmledger/errors/errors.hpp"

namespace warmledger::incentives {

double schedule_tax_usd(const TaxTable& table, double income_usd) {
  errors::require_in_range("income_usd", income_usd, 0, 1e12, "dollars");
  const double taxable = std::max(0.0, income_usd - table.standard_deduction_usd);
  double tax = 0;
  double from = 0;
  for (const TaxTable::Bracket& bracket : table.brackets) {
    if (taxable <= from) break;
    tax += (std::min(taxable, bracket.up_to_usd) - from) * bracket.rate;
    from = bracket.up_to_usd;
  }
  return tax;
}

const TaxTable* TaxTables::find(int year, FilingStatus status) const {
  const TaxTable* best = nullptr;
  for (const TaxTable& table : tables_) {
    if (table.status != status) continue;
    // The latest year not after the one asked for; when all are later, the earliest.
    const bool better = best == nullptr || (table.year <= year ? (best->year > year || table.year > best->year)
                                                               : (best->year > year && table.year < best->year));
    if (better) best = &table;
  }
  return best;
}

}  // namespace warmledger::incentives
