// Draws: random numbers that depend on nothing but who asks for them, and the distributions they are turned into.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

namespace warmledger::whatif {

/// A block of the counter-based generator Philox4x64-10 (Salmon, Moraes, Dror & Shaw 2011, "Parallel random numbers: as
/// easy as 1, 2, 3"): a function of counter and key alone, so any draw can be made at any time by any thread.
[[nodiscard]] std::array<std::uint64_t, 4> philox(std::array<std::uint64_t, 4> counter,
                                                  std::array<std::uint64_t, 2> key);

/// 64 bits of a text (FNV-1a): the part of the key that a household's identifier makes.
[[nodiscard]] std::uint64_t key_of(std::string_view text);

/// Numbers strictly between 0 and 1 for a trial of a household: draw d is lane d % 4 of the block with counter
/// (d / 4, trial, 0, 0) and key (seed, household).
void fill_uniforms(std::uint64_t seed, std::uint64_t household, std::uint64_t trial, std::span<double> uniforms);

/// Value below which a standard normal number falls with probability `u`, strictly between 0 and 1. Wichura 1988,
/// algorithm AS 241 (PPND16), about 16 digits.
[[nodiscard]] double normal_quantile(double u);
/// Probability that a standard normal number is below z.
[[nodiscard]] double normal_probability(double z);

enum class Shape {
  fixed,       ///< first
  uniform,     ///< first to second
  triangular,  ///< first to third, most likely second
  normal,      ///< mean first, standard deviation second
  lognormal    ///< median first, standard deviation of the logarithm second
};
[[nodiscard]] std::string_view name_of(Shape shape);
[[nodiscard]] Shape shape_named(std::string_view name);  ///< throws UnknownName

/// How a number may come out. What falls outside low ... high is moved to the bound.
struct Distribution {
  Shape shape = Shape::fixed;
  double first = 1;
  double second = 0;
  double third = 0;
  double low = 0;
  double high = 1e6;
};
/// Throws ValueOutOfRange naming `name` for parameters out of order, a negative deviation, a median of 0 or less, or
/// bounds that hold no value.
void check(const Distribution& distribution, std::string_view name);
/// The value whose standard normal score is `z`.
[[nodiscard]] double value_at(const Distribution& distribution, double z);
/// Expected value, bounds left out.
[[nodiscard]] double mean_of(const Distribution& distribution);

/// Lower triangle L, row by row, with L L' = the correlation matrix (row by row, `size` x `size`). Throws
/// ValueOutOfRange naming `name` where the matrix is not symmetric with ones on its diagonal, or not positive definite.
[[nodiscard]] std::vector<double> correlation_root(std::span<const double> matrix, std::size_t size,
                                                   std::string_view name);

}  // namespace warmledger::whatif
