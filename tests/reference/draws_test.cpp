// The generator and the normal distribution against published values.
#include <array>
#include <cstdint>

#include <doctest/doctest.h>

#include "warmledger/whatif/draws.hpp"

using namespace warmledger::whatif;

TEST_SUITE("draws") {
  // Known answers that the authors of Salmon, Moraes, Dror & Shaw (2011) ship with their generators, philox4x64 with 10
  // rounds: from memory. tests/python/test_whatif_risk.py holds the same blocks to NumPy's generator.
  TEST_CASE("Philox4x64-10 gives its known answers") {
    using Block = std::array<std::uint64_t, 4>;
    CHECK(philox({0, 0, 0, 0}, {0, 0}) ==
          Block{0x16554d9eca36314cULL, 0xdb20fe9d672d0fdcULL, 0xd7e772cee186176bULL, 0x7e68b68aec7ba23bULL});
    const std::uint64_t ones = ~0ULL;
    CHECK(philox({ones, ones, ones, ones}, {ones, ones}) ==
          Block{0x87b092c3013fe90bULL, 0x438c3c67be8d0224ULL, 0x9cc7d7c69cd777b6ULL, 0xa09caebf594f0ba0ULL});
  }

  // Wichura (1988), algorithm AS 241, section "Accuracy": test values of PPND16, from memory; the same to 16 digits by
  // SciPy's ndtri in tests/python/test_whatif_risk.py.
  TEST_CASE("the normal quantile gives its published test values") {
    CHECK(normal_quantile(0.25) == doctest::Approx(-0.6744897501960817).epsilon(1e-15));
    CHECK(normal_quantile(0.001) == doctest::Approx(-3.090232306167814).epsilon(1e-15));
    CHECK(normal_quantile(1e-20) == doctest::Approx(-9.262340089798408).epsilon(1e-15));
    CHECK(normal_quantile(0.5) == 0);
  }
}
