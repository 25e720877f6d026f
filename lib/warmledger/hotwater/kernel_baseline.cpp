// The kernel for what every machine of the kind has (x86-64: SSE2).
#define WARMLEDGER_KERNEL baseline
#include "warmledger/hotwater/kernel.hpp"

namespace warmledger::hotwater::kernel {
extern const Kernels baseline_kernels;
const Kernels baseline_kernels{4, &baseline::run_plan<1>, &baseline::run_plan<4>};
}  // namespace warmledger::hotwater::kernel
