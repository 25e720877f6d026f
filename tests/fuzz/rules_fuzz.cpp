// Fuzz: the reader of incentive rules takes any bytes, and gives rules or one of this library's errors. What it gives,
// the engine must be able to work out within the cost.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "warmledger/catalog/catalog.hpp"
#include "warmledger/catalog/program.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/stack.hpp"

namespace warmledger::catalog {
std::vector<incentives::Rule> parse_rules(std::string_view content, std::string_view name);
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace warmledger;
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  try {
    const incentives::Stack stack(catalog::parse_rules(text, "fuzz"));
    incentives::Claim claim;
    claim.install_date = dates::make_date(2026, 9, 1);
    claim.installed_cost_usd = 8000;
    claim.material_usd = 5000;
    claim.yearly_income_usd = 50000;
    claim.occupants = 4;
    claim.tax_liability_usd = 1200;
    claim.certified = true;
    incentives::IncomeRules income;
    income.area_median_income_usd = 80000;
    double total = 0;
    for (const incentives::Outcome& outcome : stack.work_out(claim, income)) {
      total += outcome.amount_usd;
      (void)stack.explain(outcome, claim);
    }
    if (!(total >= 0 && total <= claim.installed_cost_usd + 1e-6)) std::abort();
  } catch (const errors::Error&) {
    return 0;
  }
  return 0;
}
