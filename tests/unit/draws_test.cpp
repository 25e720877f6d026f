// Draws: the same number for the same question, and the distributions they are turned into.
#include "warmledger/whatif/draws.hpp"

#include <array>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using namespace warmledger::whatif;

TEST_SUITE("draws") {
  TEST_CASE("a draw depends on seed, household and trial alone") {
    std::array<double, 11> once{};
    std::array<double, 7> shorter{};
    std::array<double, 11> other{};
    fill_uniforms(5, key_of("A-1"), 77, once);
    fill_uniforms(5, key_of("A-1"), 77, shorter);
    for (std::size_t d = 0; d < shorter.size(); ++d) CHECK(once[d] == shorter[d]);
    struct Asked {
      std::uint64_t seed;
      const char* household;
      std::uint64_t trial;
    };
    for (const Asked& asked : {Asked{6, "A-1", 77}, Asked{5, "A-2", 77}, Asked{5, "A-1", 78}}) {
      fill_uniforms(asked.seed, key_of(asked.household), asked.trial, other);
      for (std::size_t d = 0; d < once.size(); ++d) CHECK(once[d] != other[d]);
    }
    for (const double u : once) {
      CHECK(u > 0);
      CHECK(u < 1);
    }
  }

  TEST_CASE("distributions have the quantiles and means that their formulas give") {
    const Distribution triangle{Shape::triangular, 1, 2, 5, 0, 100};
    // A quarter of the area lies below the mode: (2 - 1) / (5 - 1).
    CHECK(value_at(triangle, normal_quantile(0.25)) == doctest::Approx(2).epsilon(1e-12));
    CHECK(mean_of(triangle) == doctest::Approx(8.0 / 3));
    const Distribution even{Shape::uniform, 2, 4, 0, 0, 100};
    CHECK(value_at(even, normal_quantile(0.3)) == doctest::Approx(2.6).epsilon(1e-12));
    CHECK(mean_of(even) == 3);
    const Distribution bell{Shape::normal, 10, 2, 0, 0, 100};
    CHECK(value_at(bell, 1.5) == 13);
    CHECK(mean_of(bell) == 10);
    const Distribution skewed{Shape::lognormal, 2, 0.5, 0, 0, 100};
    CHECK(value_at(skewed, 0) == 2);
    CHECK(value_at(skewed, 2) == doctest::Approx(2 * std::exp(1.0)));
    CHECK(mean_of(skewed) == doctest::Approx(2 * std::exp(0.125)));
    const Distribution point{Shape::fixed, 3, 0, 0, 0, 100};
    CHECK(value_at(point, -4) == 3);
    const Distribution held{Shape::normal, 10, 2, 0, 9, 11};
    CHECK(value_at(held, -3) == 9);
    CHECK(value_at(held, 3) == 11);
    const Distribution flat{Shape::triangular, 2, 2, 2, 0, 100};
    CHECK(value_at(flat, 1) == 2);
  }

  TEST_CASE("parameters out of order are refused") {
    for (const Distribution& wrong :
         {Distribution{Shape::uniform, 4, 2, 0, 0, 100}, Distribution{Shape::triangular, 1, 0.5, 2, 0, 100},
          Distribution{Shape::normal, 1, -1, 0, 0, 100}, Distribution{Shape::lognormal, 0, 1, 0, 0, 100},
          Distribution{Shape::fixed, 1, 0, 0, 5, 4}, Distribution{Shape::normal, NAN, 1, 0, 0, 4}}) {
      CHECK_THROWS_AS(check(wrong, "upkeep"), errors::ValueOutOfRange);
    }
    CHECK_THROWS_AS((void)shape_named("beta"), errors::UnknownName);
  }

  TEST_CASE("the root of a correlation matrix gives the matrix back") {
    const std::vector<double> matrix{1, 0.5, -0.2, 0.5, 1, 0.3, -0.2, 0.3, 1};
    const std::vector<double> root = correlation_root(matrix, 3, "correlation");
    for (std::size_t i = 0; i < 3; ++i) {
      for (std::size_t j = 0; j < 3; ++j) {
        double product = 0;
        for (std::size_t k = 0; k < 3; ++k) product += root[i * 3 + k] * root[j * 3 + k];
        CHECK(product == doctest::Approx(matrix[i * 3 + j]).epsilon(1e-12));
      }
    }
    CHECK_THROWS_AS((void)correlation_root(std::vector<double>{1, 2, 2, 1}, 2, "c"), errors::ValueOutOfRange);
    CHECK_THROWS_AS((void)correlation_root(std::vector<double>{1, 0.1, 0.2, 1}, 2, "c"), errors::ValueOutOfRange);
    CHECK_THROWS_AS((void)correlation_root(std::vector<double>{1, 0.9, -0.9, 0.9, 1, 0.9, -0.9, 0.9, 1}, 3, "c"),
                    errors::ValueOutOfRange);
    CHECK_THROWS_AS((void)correlation_root(std::vector<double>{1, 0.9}, 2, "c"), errors::ValueOutOfRange);
    // Perfect correlation is possible.
    const std::vector<double> same = correlation_root(std::vector<double>{1, 1, 1, 1}, 2, "c");
    CHECK(same[2] == 1);
    CHECK(same[3] == 0);
  }
}
