// The months of eight offers side by side for any processor: the registers of the baseline.
#define WARMLEDGER_OFFERS base
#define WARMLEDGER_OFFERS_PACKED
#include "warmledger/ledger/offers_kernel.hpp"

namespace warmledger::ledger::offers {
extern const Kernels base_kernels;
const Kernels base_kernels{&base::run, &base::only_rate};
}  // namespace warmledger::ledger::offers
