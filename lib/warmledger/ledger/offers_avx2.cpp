// The months of eight offers side by side for AVX2: four doubles a register. Compiled with -mavx2 (lib/CMakeLists.txt);
// empty on other processors.
#if defined(__AVX2__)
#define WARMLEDGER_OFFERS avx2
#define WARMLEDGER_OFFERS_PACKED
#include "warmledger/ledger/offers_kernel.hpp"

namespace warmledger::ledger::offers {
extern const Kernels avx2_kernels;
const Kernels avx2_kernels{&avx2::run, &avx2::only_rate};
}  // namespace warmledger::ledger::offers
#endif
