#include "warmledger/whatif/draws.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::whatif {

namespace {

constexpr std::array<std::string_view, 5> shapes{"fixed", "uniform", "triangular", "normal", "lognormal"};

__extension__ using Wide = unsigned __int128;  // of GCC and Clang on every 64-bit machine

/// High and low half of a product of 64 bits by 64 bits.
std::array<std::uint64_t, 2> product(std::uint64_t a, std::uint64_t b) {
  const Wide wide = Wide{a} * b;
  return {static_cast<std::uint64_t>(wide >> 64U), static_cast<std::uint64_t>(wide)};
}

double horner(std::span<const double> coefficients, double x) {
  double value = 0;
  for (const double coefficient : coefficients) value = value * x + coefficient;
  return value;
}

}  // namespace

std::array<std::uint64_t, 4> philox(std::array<std::uint64_t, 4> counter, std::array<std::uint64_t, 2> key) {
  for (int round = 0; round < 10; ++round) {
    const auto first = product(0xD2E7470EE14C6C93ULL, counter[0]);
    const auto second = product(0xCA5A826395121157ULL, counter[2]);
    counter = {second[0] ^ counter[1] ^ key[0], second[1], first[0] ^ counter[3] ^ key[1], first[1]};
    key[0] += 0x9E3779B97F4A7C15ULL;
    key[1] += 0xBB67AE8584CAA73BULL;
  }
  return counter;
}

std::uint64_t key_of(std::string_view text) {
  std::uint64_t hash = 0xCBF29CE484222325ULL;
  for (const char letter : text) {
    hash ^= static_cast<unsigned char>(letter);
    hash *= 0x100000001B3ULL;
  }
  return hash;
}

void fill_uniforms(std::uint64_t seed, std::uint64_t household, std::uint64_t trial, std::span<double> uniforms) {
  for (std::size_t d = 0; d < uniforms.size(); d += 4) {
    const std::array<std::uint64_t, 4> block = philox({d / 4, trial, 0, 0}, {seed, household});
    for (std::size_t lane = 0; lane < 4 && d + lane < uniforms.size(); ++lane) {
      // 53 bits and a half: neither 0 nor 1 can come out.
      uniforms[d + lane] = (static_cast<double>(block.at(lane) >> 11U) + 0.5) * 0x1p-53;
    }
  }
}

double normal_quantile(double u) {
  static constexpr std::array<double, 8> a{2509.0809287301226727, 33430.575583588128105, 67265.770927008700853,
                                           45921.953931549871457, 13731.693765509461125, 1971.5909503065514427,
                                           133.14166789178437745, 3.387132872796366608};
  static constexpr std::array<double, 8> b{
      5226.495278852545925,  28729.085735721942674, 39307.89580009271061,  21213.794301586595867,
      5394.1960214247511077, 687.1870074920579083,  42.313330701600911252, 1.0};
  static constexpr std::array<double, 8> c{7.7454501427834140764e-4, 0.0227238449892691845833, 0.24178072517745061177,
                                           1.27045825245236838258,   3.64784832476320460504,   5.7694972214606914055,
                                           4.6303378461565452959,    1.42343711074968357734};
  static constexpr std::array<double, 8> d{
      1.05075007164441684324e-9, 5.475938084995344946e-4, 0.0151986665636164571966, 0.14810397642748007459,
      0.68976733498510000455,    1.6763848301838038494,   2.05319162663775882187,   1.0};
  static constexpr std::array<double, 8> e{
      2.01033439929228813265e-7, 2.71155556874348757815e-5, 0.0012426609473880784386, 0.026532189526576123093,
      0.29656057182850489123,    1.7848265399172913358,     5.4637849111641143699,    6.6579046435011037772};
  static constexpr std::array<double, 8> f{
      2.04426310338993978564e-15, 1.4215117583164458887e-7, 1.8463183175100546818e-5, 7.868691311456132591e-4,
      0.0148753612908506148525,   0.13692988092273580531,   0.59983220655588793769,   1.0};
  const double q = u - 0.5;
  if (std::abs(q) <= 0.425) {
    const double r = 0.180625 - q * q;
    return q * horner(a, r) / horner(b, r);
  }
  const double tail = std::sqrt(-std::log(q < 0 ? u : 1 - u));
  const double z =
      tail <= 5 ? horner(c, tail - 1.6) / horner(d, tail - 1.6) : horner(e, tail - 5) / horner(f, tail - 5);
  return q < 0 ? -z : z;
}

double normal_probability(double z) {
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

std::string_view name_of(Shape shape) {
  return shapes.at(static_cast<std::size_t>(shape));
}

Shape shape_named(std::string_view name) {
  const auto* const found = std::find(shapes.begin(), shapes.end(), name);
  if (found == shapes.end())
    throw errors::unknown_name("shape", name, {shapes[0], shapes[1], shapes[2], shapes[3], shapes[4]});
  return static_cast<Shape>(found - shapes.begin());
}

void check(const Distribution& distribution, std::string_view name) {
  const auto refuse = [&](const std::string& found, const std::string& allowed) {
    throw errors::ValueOutOfRange({{{}, {}, {}, std::string(name)}, found, "is out of range", allowed});
  };
  for (const double number :
       {distribution.first, distribution.second, distribution.third, distribution.low, distribution.high}) {
    if (!std::isfinite(number)) refuse(fmt::format("{}", number), "finite numbers");
  }
  if (distribution.low > distribution.high)
    refuse(fmt::format("{} to {}", distribution.low, distribution.high), "a lower bound that is not above the upper");
  switch (distribution.shape) {
    case Shape::fixed:
      return;
    case Shape::uniform:
      if (distribution.second < distribution.first)
        refuse(fmt::format("uniform {} to {}", distribution.first, distribution.second), "low, then high");
      return;
    case Shape::triangular:
      if (distribution.second < distribution.first || distribution.third < distribution.second)
        refuse(fmt::format("triangular {}, {}, {}", distribution.first, distribution.second, distribution.third),
               "low, most likely, high");
      return;
    case Shape::normal:
      if (distribution.second < 0) refuse(fmt::format("{}", distribution.second), "a deviation of 0 or more");
      return;
    case Shape::lognormal:
      if (distribution.second < 0 || distribution.first <= 0)
        refuse(fmt::format("lognormal {}, {}", distribution.first, distribution.second),
               "a median above 0 and a deviation of 0 or more");
      return;
  }
}

double value_at(const Distribution& distribution, double z) {
  double value = distribution.first;
  switch (distribution.shape) {
    case Shape::fixed:
      break;
    case Shape::uniform:
      value = distribution.first + (distribution.second - distribution.first) * normal_probability(z);
      break;
    case Shape::triangular: {
      const double width = distribution.third - distribution.first;
      if (width <= 0) break;
      const double rise = distribution.second - distribution.first;
      const double fall = distribution.third - distribution.second;
      const double u = normal_probability(z);
      value = u * width < rise ? distribution.first + std::sqrt(u * width * rise)
                               : distribution.third - std::sqrt((1 - u) * width * fall);
      break;
    }
    case Shape::normal:
      value = distribution.first + distribution.second * z;
      break;
    case Shape::lognormal:
      value = distribution.first * std::exp(distribution.second * z);
      break;
  }
  return std::clamp(value, distribution.low, distribution.high);
}

double mean_of(const Distribution& distribution) {
  switch (distribution.shape) {
    case Shape::uniform:
      return (distribution.first + distribution.second) / 2;
    case Shape::triangular:
      return (distribution.first + distribution.second + distribution.third) / 3;
    case Shape::lognormal:
      return distribution.first * std::exp(distribution.second * distribution.second / 2);
    case Shape::fixed:
    case Shape::normal:
      break;
  }
  return distribution.first;
}

std::vector<double> correlation_root(std::span<const double> matrix, std::size_t size, std::string_view name) {
  const auto refuse = [&](const std::string& found, const std::string& what) {
    throw errors::ValueOutOfRange({{{}, {}, {}, std::string(name)}, found, what, "a correlation matrix"});
  };
  if (matrix.size() != size * size) refuse(fmt::format("{} numbers", matrix.size()), "has the wrong size");
  for (std::size_t i = 0; i < size; ++i) {
    for (std::size_t j = 0; j <= i; ++j) {
      const double here = matrix[i * size + j];
      if (!(std::abs(here) <= 1) || here != matrix[j * size + i] || (i == j && here != 1))
        refuse(fmt::format("{} in row {}, column {}", here, i + 1, j + 1),
               "is no correlation, or the matrix is not symmetric with ones on its diagonal");
    }
  }
  std::vector<double> root(size * size, 0.0);
  for (std::size_t i = 0; i < size; ++i) {
    for (std::size_t j = 0; j <= i; ++j) {
      double rest = matrix[i * size + j];
      for (std::size_t k = 0; k < j; ++k) rest -= root[i * size + k] * root[j * size + k];
      if (i == j) {
        // Perfectly correlated inputs leave nothing but rounding here.
        if (rest < -1e-12) refuse(fmt::format("row {}", i + 1), "makes the correlations impossible together");
        root[i * size + i] = std::sqrt(std::max(0.0, rest));
      } else {
        root[i * size + j] = root[j * size + j] > 1e-9 ? rest / root[j * size + j] : 0.0;
      }
    }
  }
  return root;
}

}  // namespace warmledger::whatif
