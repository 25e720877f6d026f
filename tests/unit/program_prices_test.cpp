#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "warmledger/catalog/program.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;

namespace {

const catalog::Catalog& data() {
  static const catalog::Catalog read = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  return read;
}

catalog::Program with(const std::string& more) {
  return catalog::parse_program(R"(title = "prices"
install_date = 2026-09-01
[economics]
real_discount_rate = 0.03
inflation_rate = 0.02
[income]
area_median_income_usd = 80000
source = "test"
[[package]]
id = "p"
title = "p"
collector = "flat-plate-selective"
collector_count = 2
storage_gal = 80
loop = "drain_back"
material_usd = 1000
labor_usd = 1000
)" + more,
                                "p.toml", data());
}

std::string refused(const std::string& more) {
  try {
    (void)with(more);
  } catch (const errors::Error& error) {
    return error.what();
  }
  return {};
}

bool names(const std::string& sentence, std::string_view part) {
  const bool found = sentence.find(part) != std::string::npos;
  CHECK_MESSAGE(found, sentence);
  return found;
}

}  // namespace

TEST_CASE("a tariff is read whole") {
  const catalog::Program p = with(R"(
[[tariff]]
fuel = "electricity"
title = "T"
source = "utility's sheet"
fixed_usd_month = 11
other_units_month = 450
[[tariff.rate]]
name = "evening"
usd_per_unit = 0.3
months = [6, 7, 8, 9]
days = "weekdays"
from_hour = 16
to_hour = 21
[[tariff.rate]]
name = "rest"
usd_per_unit = 0.12
[[tariff.block]]
up_to_units_month = 300
usd_per_unit = -0.02
[[tariff.block]]
usd_per_unit = 0
[prices.electricity]
real_escalation = 0.01
[own_bills]
least_scale = 0.7
most_scale = 1.5
)");
  REQUIRE(p.tariffs[0] != nullptr);
  CHECK(p.tariffs[1] == nullptr);
  const prices::RateTable& table = *p.tariffs[0];
  CHECK(table.by_hour);
  CHECK(table.tariff.fixed_usd_month == 11);
  CHECK(table.tariff.other_units_month == 450);
  CHECK(table.usd_per_unit[6][17] == doctest::Approx((5 * 0.3 + 2 * 0.12) / 7).epsilon(1e-12));
  CHECK(table.usd_per_unit[0][17] == 0.12);
  CHECK(table.blocks[3].size() == 2);
  CHECK(p.escalation[0].yearly_rate == doctest::Approx(1.01 * 1.02 - 1).epsilon(1e-12));
  CHECK(p.least_own_bill_scale == 0.7);
  CHECK(p.most_own_bill_scale == 1.5);
}

TEST_CASE("price series: each key by its own name, and beyond their end inflation") {
  const auto index = [](const std::string& line, int year) {
    return prices::price_indices<double>(with("[prices.propane]\n" + line).escalation[2], 20)
        .at(static_cast<std::size_t>(year - 1));
  };
  CHECK(index("nominal_escalation_by_year = [0.1, 0]", 2) == doctest::Approx(1.1).epsilon(1e-12));
  CHECK(index("nominal_escalation_by_year = [0.1, 0]", 5) == doctest::Approx(1.1 * 1.02 * 1.02).epsilon(1e-12));
  CHECK(index("real_escalation_by_year = [0.1]", 2) == doctest::Approx(1.1 * 1.02).epsilon(1e-12));
  CHECK(index("real_price_index_by_year = [2, 3]", 2) == doctest::Approx(1.5 * 1.02).epsilon(1e-12));
  CHECK(names(refused("[prices.propane]\nreal_price_index_by_year = [1, 0]"),
              "line 19, prices.propane.real_price_index_by_year: 0 is out of range"));
  CHECK(names(refused("[prices.propane]\nnominal_escalation_by_year = [\"a\"]"),
              "prices.propane.nominal_escalation_by_year: \"a\" is not a number"));
  CHECK(names(refused("[prices.propane]\nnominal_escalation_by_year = [0.1]\nreal_escalation = 0.1"), "stands beside"));
  CHECK(names(refused("[prices.propane]\nescalation_region = \"nowhere\""),
              "prices.propane.escalation_region: \"nowhere\" has no price indices of this fuel"));
}

TEST_CASE("tariffs that cannot be are refused with file, line and key") {
  const std::string head = "[[tariff]]\nfuel = \"electricity\"\ntitle = \"T\"\nsource = \"s\"\n";
  CHECK(names(refused(head), "p.toml, line 18, tariff: has no price"));
  CHECK(names(refused(head + "[[tariff.block]]\nusd_per_unit = 0.1"),
              "tariff.other_units_month: is missing beside blocks"));
  CHECK(names(refused(head + "[[tariff.rate]]\nname = \"a\"\nusd_per_unit = 0.1\nmonths = [1, 1]"),
              "tariff.rate.months: 1 stands twice"));
  CHECK(names(refused(head + "[[tariff.rate]]\nname = \"a\"\nusd_per_unit = 0.1\nmonths = [13]"),
              "tariff.rate.months: 13 is out of range"));
  CHECK(names(refused(head + "[[tariff.rate]]\nname = \"a\"\nusd_per_unit = 0.1\nmonths = [1]"),
              "rate: does not say what hour 0 to 1 of a weekday in February costs"));
  const std::string whole = head + "[[tariff.rate]]\nname = \"a\"\nusd_per_unit = 0.1\n";
  CHECK(names(refused(whole + whole), "tariff.fuel: electricity has a tariff already"));
  CHECK(names(refused(whole + "[prices.electricity]\nusd_per_unit = 0.2\nsource = \"s\""),
              "prices.electricity.usd_per_unit: 0.2 stands beside a [[tariff]]"));
}

TEST_CASE("a package without upkeep takes the schedule of its kind, or none where the program says so") {
  const catalog::Program p = with("");
  REQUIRE_FALSE(p.packages[0].upkeep.empty());
  for (const prices::Upkeep& item : p.packages[0].upkeep)
    CHECK(item.source.find("common practice") != std::string::npos);
  CHECK(with("standard_upkeep = false\n").packages[0].upkeep.empty());
  CHECK(data().upkeep.at(hotwater::Loop::pressurized_glycol).size() >= 4);
}
