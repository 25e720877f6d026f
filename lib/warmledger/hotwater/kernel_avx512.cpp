// The kernel for AVX-512: eight doubles a register. Compiled with -mavx512f -mavx512dq (lib/CMakeLists.txt); empty on
// other processors.
#if defined(__AVX512F__) && defined(__AVX512DQ__)
#define WARMLEDGER_KERNEL avx512
#include "warmledger/hotwater/kernel.hpp"

namespace warmledger::hotwater::kernel {
extern const Kernels avx512_kernels;
const Kernels avx512_kernels{16, &avx512::run_plan<1>, &avx512::run_plan<16>};
}  // namespace warmledger::hotwater::kernel
#endif
