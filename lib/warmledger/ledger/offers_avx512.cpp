// The months of eight offers side by side for AVX-512: eight doubles a register. Compiled with -mavx512f -mavx512dq
// (lib/CMakeLists.txt); empty on other processors.
#if defined(__AVX512F__) && defined(__AVX512DQ__)
#define WARMLEDGER_OFFERS avx512
#define WARMLEDGER_OFFERS_PACKED
#include "warmledger/ledger/offers_kernel.hpp"

namespace warmledger::ledger::offers {
extern const Kernels avx512_kernels;
const Kernels avx512_kernels{&avx512::run, &avx512::only_rate};
}  // namespace warmledger::ledger::offers
#endif
