// The kernel for AVX2: four doubles a register. Compiled with -mavx2 (lib/CMakeLists.txt); empty on other processors.
#if defined(__AVX2__)
#define WARMLEDGER_KERNEL avx2
#include "warmledger/hotwater/kernel.hpp"

namespace warmledger::hotwater::kernel {
extern const Kernels avx2_kernels;
const Kernels avx2_kernels{8, &avx2::run_plan<1>, &avx2::run_plan<8>};
}  // namespace warmledger::hotwater::kernel
#endif
