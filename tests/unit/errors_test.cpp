#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "warmledger/errors/errors.hpp"

using namespace warmledger;

TEST_CASE("a sentence names file, row, key, value and what is allowed, and leaves out what is unknown") {
  CHECK(errors::sentence({{"county.csv", {}, 12, "occupants"}, "-2", "is out of range", "1 to 20 persons"}) ==
        "county.csv, row 12, occupants: -2 is out of range; allowed: 1 to 20 persons");
  CHECK(errors::sentence({{"p.toml", 7, {}, "study_years"}, "", "is missing", ""}) ==
        "p.toml, line 7, study_years: is missing");
  CHECK(errors::sentence({{}, "x", "is wrong", ""}) == "x is wrong");
}

TEST_CASE("located fills in only what is unknown") {
  const errors::MissingValue error({{"", {}, {}, "id"}, "", "is missing", ""});
  CHECK(error.located("a.toml", 3).where.file == "a.toml");
  CHECK(error.located("a.toml", 3).where.line == 3);
  const errors::MissingValue placed({{"b.toml", 9, {}, "id"}, "", "is missing", ""});
  CHECK(placed.located("a.toml", 3).where.file == "b.toml");
  CHECK(placed.located("a.toml", 3).where.line == 9);
}

TEST_CASE("require_in_range refuses what is outside, NaN and infinities, and takes both ends") {
  CHECK_NOTHROW(errors::require_in_range("tilt_deg", 0, 0, 90, "degrees"));
  CHECK_NOTHROW(errors::require_in_range("tilt_deg", 90, 0, 90, "degrees"));
  CHECK_THROWS_WITH_AS(errors::require_in_range("tilt_deg", 90.5, 0, 90, "degrees"),
                       "tilt_deg: 90.5 is out of range; allowed: 0 to 90 degrees", errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS(errors::require_in_range("x", std::nan(""), 0, 1), "x: NaN is out of range; allowed: 0 to 1",
                       errors::ValueOutOfRange);
  CHECK_THROWS_AS(errors::require_in_range("x", std::numeric_limits<double>::infinity(), 0, 1),
                  errors::ValueOutOfRange);
  CHECK_THROWS_AS(errors::require_in_range("x", -std::numeric_limits<double>::infinity(), 0, 1),
                  errors::ValueOutOfRange);
}

TEST_CASE("plain_number writes everyday numbers without exponents") {
  CHECK(errors::plain_number(1500) == "1500");
  CHECK(errors::plain_number(0.1) == "0.1");
  CHECK(errors::plain_number(100000000) == "100000000");
  CHECK(errors::plain_number(-3.25) == "-3.25");
  CHECK(errors::plain_number(0) == "0");
  CHECK(errors::plain_number(-0.0) == "-0");
  CHECK(errors::plain_number(123456789012345) ==
        "123456789012345");  // more digits than asked for: all of a whole number
  CHECK(errors::plain_number(0.00001234) == "1.234e-05");
  CHECK(errors::plain_number(1e15) == "1e+15");
  CHECK(errors::plain_number(2.0 / 3, 4) == "0.6667");
}

TEST_CASE("nearest_name finds a slip and not a stranger") {
  const std::vector<std::string> fuels{"electricity", "natural_gas", "propane", "heating_oil"};
  CHECK(errors::nearest_name("natural gass", fuels) == "natural_gas");
  CHECK(errors::nearest_name("propan", fuels) == "propane");
  CHECK(errors::nearest_name("wood", fuels).empty());
  CHECK(errors::nearest_name("x", std::vector<std::string>{}).empty());
}

TEST_CASE("unknown_name lists the choices and asks about the nearest") {
  const auto error = errors::unknown_name("tenure", "ownr", {"owner", "renter"});
  CHECK(std::string(error.what()) == "tenure: \"ownr\" is not known (did you mean owner?); allowed: owner, renter");
}
