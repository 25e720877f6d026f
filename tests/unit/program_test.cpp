// The program file: a full one member by member, every refusal with its sentence, and the key table against the reader.
#include "warmledger/catalog/program.hpp"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <limits>
#include <string>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

using namespace warmledger;

namespace {

const catalog::Catalog& data() {
  static const catalog::Catalog read = catalog::read_catalog(WARMLEDGER_DATA_DIR);
  return read;
}

// Invented throughout.
const std::string full = R"(title = "Warm Water Program of an invented county"
note = "The county, its people and its program are invented."
install_date = 2026-09-01
study_years = 25
state = "CO"
jurisdictions = ["federal"]

[economics]
real_discount_rate = 0.03
inflation_rate = 0.02

[prices.electricity]
usd_per_unit = 0.15
source = "invented tariff"
nominal_escalation = 0.04

[prices.propane]
real_escalation = 0.01

[income]
area_median_income_usd = 90000
round_to_usd = 100
rounding = "up"
source = "invented"
[[income.tier]]
name = "low"
most_share = 0.8
includes_edge = false
[[income.tier]]
name = "moderate"
most_share = 1.2

[[place]]
name = "Upper Valley"
latitude_deg = 39.5
longitude_deg = -105.5

[[package]]
id = "two-panels"
title = "Two collectors, drain-back"
collector = "flat-plate-selective"
collector_count = 2
storage_gal = 80
loop = "drain_back"
exchanger_effectiveness = 0.55
flow_kg_s_m2 = 0.02
pump_w = 70
tank_ua_w_k = 2
material_usd = 5200
labor_usd = 3100.50
least_occupants = 3
most_occupants = 6
life_years = 22
[[package.upkeep]]
what = "pump replaced"
usd = 350
first_year = 10
every_years = 10
replaces = true
[[package.upkeep]]
what = "inspection"
usd = 90
first_year = 5
every_years = 5
[[package]]
id = "one-tank"
title = "One tank, glycol"
collector = "flat-plate-painted"
collector_count = 1
storage_l = 300
loop = "pressurized_glycol"
arrangement = "one_tank"
backup_share_of_tank = 0.4
material_usd = 4000
labor_usd = 2000

[[incentive]]
id = "county-rebate"
title = "County rebate"
payer = "the invented county"
citation = "invented"
standing = "invented"
kind = "rebate"
usd_per_ft2 = 10
cap_usd = 1500
valid_from = 2026-01-01
valid_to = 2027-12-31
least_income_share = 0
most_income_share = 1.2
tenures = ["owner"]
fuels = ["electricity", "propane"]
base_less = ["utility-rebate"]
arrival = "months_after"
arrival_months = 2

[[incentive]]
id = "utility-rebate"
title = "Utility rebate"
payer = "an invented utility"
citation = "invented"
standing = "invented"
kind = "rebate"
flat_usd = 500
lowers_base_of = ["state-credit", "federal-solar-water-heating-2022"]

[[incentive]]
id = "state-credit"
title = "State credit"
payer = "an invented state"
citation = "invented"
standing = "invented"
kind = "credit"
tax = "state"
share_of_cost = 0.1
refundable = true
carryforward_years = 3

[[incentive]]
id = "kwh-rebate"
title = "Per kWh"
payer = "an invented utility"
citation = "invented"
standing = "from memory"
kind = "rebate"
usd_per_first_year_kwh = 0.25

[[loan]]
id = "ten-years"
title = "Ten years at 4.5 %"
yearly_rate = 0.045
term_months = 120
largest_usd = 20000
rounding = "half_even"

[decision]
longest_simple_payback_years = 15
longest_discounted_payback_years = 20
least_net_savings_usd = 0
least_savings_to_investment = 1
largest_extra_help_usd = 2500

[suitability]
most_degrees_off_south = 45
most_shading_share = 0.25
least_occupants_for_glycol = 4
renters_served = true

[heater]
life_years = 12
replacement_usd = 1800
)";

// The shortest program that is taken.
const std::string shortest = R"(title = "t"
install_date = 2026-09-01
[economics]
nominal_discount_rate = 0.05
inflation_rate = 0.02
[income]
area_median_income_usd = 90000
source = "invented"
[[package]]
id = "p"
title = "p"
collector = "flat-plate-selective"
collector_count = 2
storage_gal = 80
loop = "drain_back"
material_usd = 1
labor_usd = 1
)";

catalog::Program parsed(const std::string& text) {
  return catalog::parse_program(text, "program.toml", data());
}

/// `text` with the first `from` replaced; fails if it does not occur.
std::string with(std::string text, std::string_view from, std::string_view to) {
  const std::size_t at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, from);
  return text.replace(at, from.size(), to);
}

/// The sentence of the error, without the file's name, which must come first.
template <class E>
std::string refused(const std::string& text) {
  try {
    (void)parsed(text);
  } catch (const E& error) {
    const std::string sentence = error.what();
    CHECK_MESSAGE(sentence.starts_with("program.toml"), sentence);
    return sentence.substr(std::min<std::size_t>(12, sentence.size()));
  } catch (const std::exception& error) {
    FAIL("an error of another type: " << error.what());
  }
  FAIL("nothing was thrown");
  return {};
}

using errors::Contradiction;
using errors::DuplicateName;
using errors::MalformedText;
using errors::MissingValue;
using errors::UnknownName;
using errors::ValueOutOfRange;

}  // namespace

TEST_CASE("program: every member of a full file") {
  const catalog::Program p = parsed(full);
  CHECK(p.title == "Warm Water Program of an invented county");
  CHECK(p.note == "The county, its people and its program are invented.");
  CHECK(dates::iso(p.install_date) == "2026-09-01");
  CHECK(p.study_years == 25);
  CHECK(p.state == "CO");
  CHECK(p.inflation_rate == 0.02);
  CHECK(p.nominal_discount_rate == doctest::Approx(1.03 * 1.02 - 1).epsilon(1e-14));
  CHECK(p.escalation[0].yearly_rate == 0.04);
  CHECK(p.escalation[1].yearly_rate == doctest::Approx(0.02).epsilon(1e-14));  // left out: inflation, that is real 0
  CHECK(p.escalation[2].yearly_rate == doctest::Approx(1.01 * 1.02 - 1).epsilon(1e-14));
  CHECK(p.prices[0]->usd_per_unit == 0.15);
  CHECK(p.prices[0]->source == "invented tariff");
  CHECK_FALSE(p.prices[1].has_value());
  CHECK_FALSE(p.prices[2].has_value());

  CHECK(p.income.area_median_income_usd == 90000);
  CHECK(p.income.round_to_usd == 100);
  CHECK(p.income.rounding == incentives::LimitRounding::up);
  CHECK(p.income.source == "invented");
  REQUIRE(p.income.tiers.size() == 2);
  CHECK(p.income.tiers[0].name == "low");
  CHECK(p.income.tiers[0].most_share == 0.8);
  CHECK_FALSE(p.income.tiers[0].includes_edge);
  CHECK(p.income.tiers[1].name == "moderate");
  CHECK(p.income.tiers[1].includes_edge);

  REQUIRE(p.places.size() == 1);
  CHECK(p.places[0].name == "Upper Valley");
  CHECK(p.places[0].latitude_deg == 39.5);
  CHECK(p.places[0].longitude_deg == -105.5);

  REQUIRE(p.packages.size() == 2);
  const catalog::Package& a = p.packages[0];
  CHECK(a.id == "two-panels");
  CHECK(a.title == "Two collectors, drain-back");
  CHECK(a.system.collector.optical_efficiency == data().collector("flat-plate-selective").collector.optical_efficiency);
  CHECK(a.system.collector_count == 2);
  CHECK(a.system.storage_l == doctest::Approx(302.83294272).epsilon(1e-12));
  CHECK(a.system.loop == hotwater::Loop::drain_back);
  CHECK(a.system.arrangement == hotwater::Arrangement::two_tank);
  CHECK(a.system.backup_share_of_tank == 0);
  CHECK(a.system.exchanger_effectiveness == 0.55);
  CHECK(a.system.flow_kg_s_m2 == 0.02);
  CHECK(a.system.pump_w == 70);
  CHECK(a.system.tank_ua_w_k == 2);
  CHECK(a.material_usd == 5200);
  CHECK(a.labor_usd == 3100.5);
  CHECK(a.installed_cost_usd() == 8300.5);
  CHECK(a.least_occupants == 3);
  CHECK(a.most_occupants == 6);
  CHECK(a.life_years == 22);
  REQUIRE(a.upkeep.size() == 2);
  CHECK(a.upkeep[0].what == "pump replaced");
  CHECK(a.upkeep[0].usd == 350);
  CHECK(a.upkeep[0].first_year == 10);
  CHECK(a.upkeep[0].replaces_part);
  CHECK_FALSE(a.upkeep[1].replaces_part);
  CHECK(a.upkeep[1].every_years == 5);
  const catalog::Package& b = p.packages[1];
  CHECK(b.system.storage_l == 300);
  CHECK(b.system.loop == hotwater::Loop::pressurized_glycol);
  CHECK(b.system.arrangement == hotwater::Arrangement::one_tank);
  CHECK(b.system.backup_share_of_tank == 0.4);
  CHECK(b.system.collector.loss_w_m2k == data().collector("flat-plate-painted").collector.loss_w_m2k);
  // A package that states no upkeep takes the schedule of its kind.
  REQUIRE_FALSE(b.upkeep.empty());
  CHECK(b.upkeep.front().source.ends_with("(common practice)"));

  REQUIRE(p.rules.size() == 8);
  const incentives::Rule& county = p.rules[0];
  CHECK(county.id == "county-rebate");
  CHECK(county.title == "County rebate");
  CHECK(county.payer == "the invented county");
  CHECK(county.citation == "invented");
  CHECK(county.standing == incentives::Standing::invented);
  CHECK(county.kind == incentives::Kind::rebate);
  CHECK(county.basis == incentives::Basis::usd_per_m2);
  CHECK(county.amount == doctest::Approx(107.6391042).epsilon(1e-9));  // 10 / 0.09290304
  CHECK(county.cap_usd == 1500.0);
  CHECK(dates::iso(*county.valid_from) == "2026-01-01");
  CHECK(dates::iso(*county.valid_to) == "2027-12-31");
  CHECK(county.least_income_share == 0.0);
  CHECK(county.most_income_share == 1.2);
  CHECK(county.tenures == std::vector{incentives::Tenure::owner});
  CHECK(county.fuels == std::vector{prices::Fuel::electricity, prices::Fuel::propane});
  CHECK(county.base_less == std::vector<std::string>{"utility-rebate"});
  CHECK(county.arrival == incentives::Arrival::months_after);
  CHECK(county.arrival_months == 2);
  CHECK(p.rules[1].basis == incentives::Basis::flat_usd);
  CHECK(p.rules[1].amount == 500);
  CHECK(p.rules[1].arrival == incentives::Arrival::install);
  CHECK_FALSE(p.rules[1].cap_usd.has_value());
  const incentives::Rule& credit = p.rules[2];
  CHECK(credit.kind == incentives::Kind::credit);
  CHECK(credit.basis == incentives::Basis::share_of_cost);
  CHECK(credit.amount == 0.1);
  CHECK(credit.refundable);
  CHECK(credit.carryforward_years == 3);
  CHECK(credit.arrival == incentives::Arrival::tax_filing);
  CHECK(credit.base_less == std::vector<std::string>{"utility-rebate"});  // said by the rebate's lowers_base_of
  CHECK(p.rules[3].basis == incentives::Basis::usd_per_first_year_kwh);
  CHECK(p.rules[3].standing == incentives::Standing::from_memory);
  CHECK(p.rules[7].id == "federal-solar-water-heating-2022");
  CHECK(p.rules[7].base_less == std::vector<std::string>{"utility-rebate"});
  CHECK(p.rules[6].base_less.empty());

  REQUIRE(p.loans.size() == 1);
  CHECK(p.loans[0].id == "ten-years");
  CHECK(p.loans[0].title == "Ten years at 4.5 %");
  CHECK(p.loans[0].yearly_rate == 0.045);
  CHECK(p.loans[0].term_months == 120);
  CHECK(p.loans[0].largest_usd == 20000);
  CHECK(p.loans[0].rounding == money::Rounding::half_even);

  CHECK(p.decision.longest_simple_payback_years == 15.0);
  CHECK(p.decision.longest_discounted_payback_years == 20.0);
  CHECK(p.decision.least_net_savings_usd == 0.0);
  CHECK(p.decision.least_savings_to_investment == 1.0);
  CHECK(p.decision.largest_extra_help_usd == 2500);
  CHECK(p.suitability.most_degrees_off_south == 45);
  CHECK(p.suitability.most_shading_share == 0.25);
  CHECK(p.suitability.least_occupants_for_glycol == 4);
  CHECK(p.suitability.renters_served);
  CHECK(p.heater_life_years == 12);
  CHECK(p.heater_replacement_usd == 1800);
}

TEST_CASE("program: what is left out gets the defaults of the key table and of the type") {
  const catalog::Program p = parsed(shortest);
  const catalog::Program plain;
  CHECK(p.study_years == plain.study_years);
  CHECK(p.income.round_to_usd == plain.income.round_to_usd);
  CHECK(p.income.rounding == plain.income.rounding);
  CHECK(p.heater_life_years == plain.heater_life_years);
  CHECK(p.heater_replacement_usd == plain.heater_replacement_usd);
  CHECK(p.suitability.most_degrees_off_south == plain.suitability.most_degrees_off_south);
  CHECK(p.suitability.most_shading_share == plain.suitability.most_shading_share);
  CHECK(p.suitability.least_occupants_for_glycol == plain.suitability.least_occupants_for_glycol);
  CHECK(p.suitability.renters_served == plain.suitability.renters_served);
  CHECK(p.decision.largest_extra_help_usd == 0);
  CHECK(p.decision.least_net_savings_usd == 0.0);  // no threshold is set: at least it must not lose
  const hotwater::SolarSystem system;
  CHECK(p.packages[0].system.exchanger_effectiveness == system.exchanger_effectiveness);
  CHECK(p.packages[0].system.flow_kg_s_m2 == system.flow_kg_s_m2);
  CHECK(p.packages[0].system.pump_w == system.pump_w);
  CHECK(p.packages[0].system.tank_ua_w_k == system.tank_ua_w_k);
  CHECK(p.packages[0].life_years == catalog::Package{}.life_years);
  CHECK(p.packages[0].most_occupants == catalog::Package{}.most_occupants);
  CHECK(p.nominal_discount_rate == 0.05);
  CHECK(p.rules.empty());
  CHECK(p.loans.empty());
  CHECK(p.state.empty());
  for (const auto& escalation : p.escalation) CHECK(escalation.yearly_rate == doctest::Approx(0.02).epsilon(1e-14));
}

TEST_CASE("program: an unknown key names the nearest known one") {
  CHECK(refused<UnknownName>(with(shortest, "install_date", "install_dat")) ==
        ", line 2, install_dat: is no key of this table (did you mean install_date?); allowed: economics, prices, "
        "income, place, package, incentive, loan, decision, suitability, heater, cost_tests, pool, as_if, "
        "as_if_prices, tax, tariff, "
        "own_bills, "
        "title, note, "
        "install_date, study_years, state, jurisdictions");
  CHECK(refused<UnknownName>(with(full, "storage_gal", "storage_galons"))
            .starts_with(", line 43, package.storage_galons: is no key of this table (did you mean storage_gal?); "
                         "allowed: upkeep, id, title"));
  CHECK(refused<UnknownName>(with(full, "[prices.propane]", "[prices.propan]")) ==
        ", line 17, prices.propan: is no key of this table (did you mean propane?); allowed: electricity, natural_gas, "
        "propane, heating_oil");
  CHECK(refused<UnknownName>(with(full, "[heater]", "[heaters]"))
            .starts_with(", line 148, heaters: is no key of this table (did you mean heater?)"));
  CHECK(refused<UnknownName>(with(full, "first_year = 10", "firstyear = 10"))
            .starts_with(", line 57, package.upkeep.firstyear: is no key of this table (did you mean first_year?)"));
  // The first of several in the file's order is named.
  CHECK(refused<UnknownName>("zzz = 1\naaa = 2\n" + shortest).starts_with(", line 1, zzz: "));
}

TEST_CASE("program: numbers out of range") {
  CHECK(refused<ValueOutOfRange>(with(full, "study_years = 25", "study_years = 0")) ==
        ", line 4, study_years: 0 is out of range; allowed: a whole number, 1 to 50 years");
  CHECK(refused<ValueOutOfRange>(with(full, "study_years = 25", "study_years = 500")) ==
        ", line 4, study_years: 500 is out of range; allowed: a whole number, 1 to 50 years");
  CHECK(refused<ValueOutOfRange>(with(full, "yearly_rate = 0.045", "yearly_rate = 40")) ==
        ", line 130, loan.yearly_rate: 40 is out of range; allowed: 0 to 1 (0.06 is 6 %)");
  CHECK(refused<ValueOutOfRange>(with(full, "material_usd = 5200", "material_usd = -5200")) ==
        ", line 49, package.material_usd: -5200 is out of range; allowed: 0 to 1000000 US dollars");
  CHECK(refused<ValueOutOfRange>(with(full, "flat_usd = 500", "flat_usd = -1"))
            .find("incentive.flat_usd: -1 is out of range; allowed: 0 to 1000000 US dollars") != std::string::npos);
  CHECK(refused<ValueOutOfRange>(with(full, "usd = 350", "usd = nan")) ==
        ", line 56, package.upkeep.usd: NaN is out of range; allowed: 0 to 1000000 US dollars");
  CHECK(refused<ValueOutOfRange>(with(full, "inflation_rate = 0.02", "inflation_rate = inf")) ==
        ", line 10, economics.inflation_rate: infinity is out of range; allowed: -0.2 to 0.5 (0.06 is 6 %)");
  CHECK(refused<ValueOutOfRange>(with(full, "inflation_rate = 0.02", "inflation_rate = -inf"))
            .find("-infinity is out of range") != std::string::npos);
  CHECK(refused<ValueOutOfRange>(with(full, "labor_usd = 3100.50", "labor_usd = 1e300"))
            .find("package.labor_usd: 1e+300 is out of range") != std::string::npos);
  CHECK(refused<ValueOutOfRange>(with(full, "usd_per_unit = 0.15", "usd_per_unit = 15")) ==
        ", line 13, prices.electricity.usd_per_unit: 15 is out of range; allowed: 0.01 to 5 US dollars per kWh");
  CHECK(refused<ValueOutOfRange>(with(full, "latitude_deg = 39.5", "latitude_deg = 395"))
            .find("place.latitude_deg: 395 is out of range; allowed: -90 to 90 degrees, north positive") !=
        std::string::npos);
  CHECK(refused<ValueOutOfRange>(with(full, "study_years = 25", "study_years = 9000000000000000000"))
            .find("is out of range") != std::string::npos);
}

TEST_CASE("program: every number key of the table refuses values beyond its ends") {
  // A value far outside is put in for each number that stands in the full file.
  int tried = 0;
  for (const catalog::ProgramKey& key : catalog::program_keys()) {
    if (key.type != "number" && key.type != "whole number") continue;
    const std::string assignment = fmt::format("\n{} = ", key.name);
    const std::size_t at = full.find(assignment);
    if (at == std::string::npos) continue;
    const std::size_t end = full.find('\n', at + 1);
    for (const char* value : {"-1000000000", "1000000000000"}) {
      std::string text = full;
      text.replace(at + assignment.size(), end - at - assignment.size(), value);
      CAPTURE(text.substr(at, 60));
      CHECK(refused<ValueOutOfRange>(text).find(fmt::format("{}: {} is out of range; allowed: ", key.name, value)) !=
            std::string::npos);
    }
    ++tried;
  }
  CHECK(tried > 40);
}

TEST_CASE("program: wrong types") {
  CHECK(refused<MalformedText>(with(full, "study_years = 25", "study_years = \"25\"")) ==
        ", line 4, study_years: \"25\" is not a whole number; allowed: a whole number, 1 to 50 years");
  CHECK(refused<MalformedText>(with(full, "study_years = 25", "study_years = 25.5")) ==
        ", line 4, study_years: 25.5 is not a whole number; allowed: a whole number, 1 to 50 years");
  CHECK(refused<MalformedText>(with(full, "labor_usd = 3100.50", "labor_usd = true")) ==
        ", line 50, package.labor_usd: true is not a number; allowed: 0 to 1000000 US dollars");
  CHECK(refused<MalformedText>(with(full, "install_date = 2026-09-01", "install_date = \"2026-09-01\"")) ==
        ", line 3, install_date: \"2026-09-01\" is not a date; allowed: a date from 2000-01-01 to 2100-12-31, written "
        "without quotes: 2026-09-01");
  CHECK(refused<MalformedText>(with(full, "install_date = 2026-09-01", "install_date = 2026-09-01T08:00:00"))
            .find("a date with a time is not a date") != std::string::npos);
  CHECK(refused<MalformedText>(with(full, "renters_served = true", "renters_served = 1"))
            .find("suitability.renters_served: 1 is neither true nor false; allowed: true or false") !=
        std::string::npos);
  CHECK(
      refused<MalformedText>(with(full, "jurisdictions = [\"federal\"]", "jurisdictions = \"federal\"")) ==
      ", line 6, jurisdictions: \"federal\" is not a list; allowed: a list of text: names of files in data/incentives");
  CHECK(refused<MalformedText>(with(full, "jurisdictions = [\"federal\"]", "jurisdictions = [1]")) ==
        ", line 6, jurisdictions: 1 is not text; allowed: a list of text: names of files in data/incentives");
  CHECK(refused<MalformedText>(with(full, "[[loan]]", "[loan]"))
            .find(", line 127, loan: a table is not a list of tables; allowed: a list of tables: [[loan]]") !=
        std::string::npos);
  CHECK(refused<MalformedText>(
            with(shortest, "[economics]\nnominal_discount_rate = 0.05\ninflation_rate = 0.02\n", "economics = 5\n")) ==
        ", line 3, economics: 5 is not a table; allowed: a table: [economics]");
  CHECK(refused<MalformedText>(with(full, "title = \"Warm Water Program of an invented county\"", "title = 5")) ==
        ", line 1, title: 5 is not text; allowed: text on one line");
  CHECK(refused<MalformedText>(with(full, "title = \"Warm", "title = \"Warm\\u0007")).find("has a control character") !=
        std::string::npos);
  CHECK(refused<MissingValue>(with(full, "id = \"two-panels\"", "id = \"  \"")).find("package.id: \"  \" is blank") !=
        std::string::npos);
}

TEST_CASE("program: dates") {
  const std::string allowed = "allowed: a date from 2000-01-01 to 2100-12-31, written without quotes: 2026-09-01";
  CHECK(refused<ValueOutOfRange>(with(full, "install_date = 2026-09-01", "install_date = 2026-02-30")) ==
        ", line 3, install_date: 2026-02-30 is not a day of the calendar; " + allowed);
  CHECK(refused<ValueOutOfRange>(with(full, "install_date = 2026-09-01", "install_date = 2025-02-29")) ==
        ", line 3, install_date: 2025-02-29 is not a day of the calendar; " + allowed);
  CHECK(refused<ValueOutOfRange>(with(full, "install_date = 2026-09-01", "install_date = 2026-13-01")) ==
        ", line 3, install_date: 2026-13-01 is not a day of the calendar; " + allowed);
  CHECK(refused<ValueOutOfRange>(with(full, "install_date = 2026-09-01", "install_date = 1999-12-31")) ==
        ", line 3, install_date: 1999-12-31 is out of range; " + allowed);
  CHECK(refused<ValueOutOfRange>(with(full, "install_date = 2026-09-01", "install_date = 2101-01-01")) ==
        ", line 3, install_date: 2101-01-01 is out of range; " + allowed);
  CHECK(dates::iso(parsed(with(full, "install_date = 2026-09-01", "install_date = 2028-02-29")).install_date) ==
        "2028-02-29");
  CHECK(refused<Contradiction>(with(full, "valid_to = 2027-12-31", "valid_to = 2025-12-31"))
            .find("incentive.valid_to: 2025-12-31 is before valid_from 2026-01-01; allowed: a date on or after "
                  "valid_from") != std::string::npos);
}

TEST_CASE("program: what is missing") {
  CHECK(refused<MissingValue>(with(shortest, "title = \"t\"\n", ""))
            .find(", title: is missing; allowed: text on one line") != std::string::npos);
  CHECK(refused<MissingValue>(with(shortest, "install_date = 2026-09-01\n", ""))
            .find("install_date: is missing; allowed: a date from") != std::string::npos);
  CHECK(
      refused<MissingValue>(with(shortest, "[economics]\nnominal_discount_rate = 0.05\ninflation_rate = 0.02\n", "")) ==
      ", economics: is missing; allowed: a table [economics] with a discount rate and inflation_rate");
  CHECK(refused<MissingValue>(with(shortest, "nominal_discount_rate = 0.05\n", "")) ==
        ", line 3, economics.nominal_discount_rate: is missing; allowed: exactly one of nominal_discount_rate, "
        "real_discount_rate");
  CHECK(refused<MissingValue>(with(shortest, "[income]\narea_median_income_usd = 90000\nsource = \"invented\"\n", ""))
            .starts_with(", income: is missing"));
  CHECK(refused<MissingValue>(shortest.substr(0, shortest.find("[[package]]"))) ==
        ", package: is missing; allowed: one [[package]] or more");
  CHECK(refused<MissingValue>(with(shortest, "storage_gal = 80\n", "")) ==
        ", line 9, package.storage_gal: is missing; allowed: exactly one of storage_gal, storage_l");
  CHECK(refused<MissingValue>(with(full, "flat_usd = 500\n", ""))
            .find("incentive.flat_usd: is missing; allowed: exactly one of flat_usd, share_of_cost, usd_per_ft2, "
                  "usd_per_first_year_kwh") != std::string::npos);
  CHECK(refused<MissingValue>(with(full, "arrival_months = 2\n", ""))
            .find("incentive.arrival_months: is missing; allowed: a whole number, 1 to 120 months") !=
        std::string::npos);
  CHECK(refused<MissingValue>(with(full, "source = \"invented tariff\"\n", ""))
            .find("prices.electricity.source: is missing; allowed: where the price is from") != std::string::npos);
  CHECK(refused<MissingValue>(with(full, "standing = \"invented\"\n", ""))
            .find("incentive.standing: is missing; allowed: verified, from memory, invented, secondary account") !=
        std::string::npos);
  CHECK(refused<MissingValue>("").find("title: is missing") != std::string::npos);
}

TEST_CASE("program: unknown names and words") {
  CHECK(refused<UnknownName>(with(full, "base_less = [\"utility-rebate\"]", "base_less = [\"utility-rebat\"]")) ==
        ", line 92, incentive.base_less: \"utility-rebat\" is no incentive (did you mean utility-rebate?); allowed: "
        "ids of other incentives: county-rebate, utility-rebate, state-credit, kwh-rebate, "
        "federal-solar-water-heating-2006, federal-solar-water-heating, federal-solar-water-heating-2009, "
        "federal-solar-water-heating-2020, "
        "federal-solar-water-heating-2022");
  CHECK(refused<UnknownName>(with(full, "lowers_base_of = [\"state-credit\"", "lowers_base_of = [\"state-credt\""))
            .find("incentive.lowers_base_of: \"state-credt\" is no incentive (did you mean state-credit?)") !=
        std::string::npos);
  CHECK(refused<UnknownName>(with(full, "base_less = [\"utility-rebate\"]", "base_less = [\"county-rebate\"]"))
            .find("\"county-rebate\" is the incentive itself") != std::string::npos);
  CHECK(
      refused<UnknownName>(with(full, "[\"federal\"]", "[\"federl\"]"))
          .starts_with(", line 6, jurisdictions: \"federl\" is not known (did you mean federal?); allowed: arizona, "));
  CHECK(refused<UnknownName>(with(full, "state = \"CO\"", "state = \"XX\"")) ==
        ", line 5, state: \"XX\" is no state; allowed: two capital letters, for example CO");
  CHECK(refused<UnknownName>(with(full, "state = \"CO\"", "state = \"co\"")).find("\"co\" is no state") !=
        std::string::npos);
  CHECK(refused<UnknownName>(with(full, "collector = \"flat-plate-selective\"", "collector = \"flat-plate\""))
            .starts_with(", line 41, package.collector: \"flat-plate\" is not known"));
  CHECK(refused<UnknownName>(with(full, "loop = \"drain_back\"", "loop = \"drainback\"")) ==
        ", line 44, package.loop: \"drainback\" is not known (did you mean drain_back?); allowed: drain_back, "
        "pressurized_glycol");
  CHECK(refused<UnknownName>(with(full, "fuels = [\"electricity\", \"propane\"]", "fuels = [\"wood\"]"))
            .find("incentive.fuels: \"wood\" is not known; allowed: electricity, natural_gas, propane, heating_oil") !=
        std::string::npos);
  CHECK(refused<UnknownName>(with(full, "tenures = [\"owner\"]", "tenures = [\"owners\"]"))
            .find("incentive.tenures: \"owners\" is not known (did you mean owner?); allowed: owner, renter") !=
        std::string::npos);
  CHECK(refused<UnknownName>(with(full, "rounding = \"half_even\"", "rounding = \"even\""))
            .find("loan.rounding: \"even\" is not known") != std::string::npos);
}

TEST_CASE("program: names that stand twice") {
  CHECK(refused<DuplicateName>(with(full, "id = \"one-tank\"", "id = \"two-panels\""))
            .find("package.id: \"two-panels\" stands twice; allowed: each once") != std::string::npos);
  CHECK(refused<DuplicateName>(with(full, "id = \"kwh-rebate\"", "id = \"county-rebate\""))
            .find("incentive.id: \"county-rebate\" stands twice; allowed: each id once, those of the jurisdictions "
                  "included") != std::string::npos);
  CHECK(refused<DuplicateName>(with(full, "id = \"kwh-rebate\"", "id = \"federal-solar-water-heating-2022\""))
            .find("stands twice") != std::string::npos);
  CHECK(refused<DuplicateName>(with(full, "name = \"moderate\"", "name = \"low\""))
            .find("income.tier.name: \"low\" stands twice") != std::string::npos);
  CHECK(refused<DuplicateName>(full + "[[loan]]\nid = \"ten-years\"\ntitle = \"t\"\nyearly_rate = 0\nterm_months = 1\n")
            .find("loan.id: \"ten-years\" stands twice") != std::string::npos);
  CHECK(refused<DuplicateName>(full + "[[place]]\nname = \"Upper Valley\"\nlatitude_deg = 0\nlongitude_deg = 0\n")
            .find("place.name: \"Upper Valley\" stands twice") != std::string::npos);
  CHECK(refused<DuplicateName>(with(full, "tenures = [\"owner\"]", "tenures = [\"owner\", \"owner\"]"))
            .find("incentive.tenures: \"owner\" stands twice in the list") != std::string::npos);
}

TEST_CASE("program: what does not go together") {
  CHECK(refused<Contradiction>(
            with(full, "real_discount_rate = 0.03", "real_discount_rate = 0.03\nnominal_discount_rate = 0.05")) ==
        ", line 9, economics.real_discount_rate: 0.03 stands beside nominal_discount_rate; allowed: exactly one of "
        "nominal_discount_rate, real_discount_rate");
  CHECK(
      refused<Contradiction>(with(full, "real_escalation = 0.01", "real_escalation = 0.01\nnominal_escalation = 0.01"))
          .find("at most one of nominal_escalation, real_escalation") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "storage_gal = 80", "storage_gal = 80\nstorage_l = 300"))
            .find("package.storage_l: 300 stands beside storage_gal") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "flat_usd = 500", "flat_usd = 500\nshare_of_cost = 0.1"))
            .find("incentive.share_of_cost: 0.1 stands beside flat_usd") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "arrangement = \"one_tank\"\n", ""))
            .find("package.backup_share_of_tank: 0.4 belongs to arrangement one_tank") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "most_occupants = 6", "most_occupants = 2"))
            .find("package.most_occupants: 2 is below least_occupants 3") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "most_share = 1.2", "most_share = 0.8"))
            .find("income.tier.most_share: 0.8 does not rise above 0.8") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "least_income_share = 0\n", "least_income_share = 1.5\n"))
            .find("incentive.most_income_share: 1.2 is below least_income_share 1.5") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "flat_usd = 500", "flat_usd = 500\nrefundable = true"))
            .find("incentive.refundable: belongs to a credit, and this is a rebate") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "flat_usd = 500", "flat_usd = 500\narrival_months = 3"))
            .find("incentive.arrival_months: is given but arrival is not months_after") != std::string::npos);
  CHECK(refused<Contradiction>(
            with(full, "share_of_cost = 0.1", "share_of_cost = 0.1\nlowers_base_of = [\"utility-rebate\"]"))
            .find("in a circle") != std::string::npos);
  CHECK(refused<Contradiction>(with(full, "[prices.propane]", "[prices.propane]\nsource = \"x\""))
            .find("prices.propane.source: is given without usd_per_unit") != std::string::npos);
}

TEST_CASE("program: a syntax error is a sentence with file and line") {
  const std::string open =
      refused<MalformedText>(with(full, "source = \"invented tariff\"", "source = \"invented tariff"));
  CHECK(open.starts_with(", line 14, source: \"\"invented tariff\" is not TOML ("));
  CHECK(open.ends_with("allowed: TOML 1.0: key = value lines under [table] lines, text in quotes"));
  CHECK(refused<MalformedText>(with(full, "state = \"CO\"", "state = CO"))
            .starts_with(", line 5, state: \"CO\" is not TOML ("));
  CHECK(refused<MalformedText>(with(full, "[income]", "[income")).find("is not TOML (") != std::string::npos);
  CHECK(refused<MalformedText>(with(full, "study_years = 25", "study_years = 25\nstudy_years = 26"))
            .starts_with(", line 5, study_years: "));
  CHECK(refused<MalformedText>(with(full, "study_years = 25", "study_years = 99999999999999999999"))
            .starts_with(", line 4, study_years: \"99999999999999999999\" is not TOML ("));
  CHECK(refused<MalformedText>(with(full, "title = \"Warm", "title = \"\xFFWarm")).find("is not TOML (") !=
        std::string::npos);
  std::string deep = "x = ";
  deep.append(100000, '[');
  CHECK(refused<MalformedText>(deep).starts_with(", line 1"));
}

TEST_CASE("program: a file is read from disk, with or without a byte-order mark; a missing one is named") {
  const auto path = std::filesystem::temp_directory_path() / "warmledger program test.toml";
  std::ofstream(path, std::ios::binary) << "\xEF\xBB\xBF" << full;
  CHECK(catalog::read_program(path, data()).packages.size() == 2);
  std::filesystem::remove(path);
  try {
    (void)catalog::read_program(path, data());
    FAIL("nothing was thrown");
  } catch (const errors::FileUnreadable& error) {
    CHECK(std::string(error.what()) == path.string() + ": does not exist; allowed: a file that is there");
  }
}

TEST_CASE("program made in code: check refuses what the reader would") {
  const catalog::Program good = parsed(full);
  CHECK_NOTHROW(catalog::check(good));
  const auto refuses = [&]<class E>(const E*, auto change) {
    catalog::Program bad = good;
    change(bad);
    CHECK_THROWS_AS(catalog::check(bad), E);
  };
  const ValueOutOfRange* range = nullptr;
  const MissingValue* missing = nullptr;
  refuses(range, [](auto& p) { p.study_years = 0; });
  refuses(range, [](auto& p) { p.inflation_rate = std::numeric_limits<double>::quiet_NaN(); });
  refuses(range, [](auto& p) { p.nominal_discount_rate = -1; });
  refuses(range, [](auto& p) { p.escalation[3].yearly_rate = 5; });
  refuses(range, [](auto& p) { p.prices[0]->usd_per_unit = -1; });
  refuses(range, [](auto& p) { p.income.area_median_income_usd = 0; });
  refuses(range, [](auto& p) { p.packages[0].material_usd = -1; });
  refuses(range, [](auto& p) { p.packages[0].system.collector_count = 0; });
  refuses(range, [](auto& p) { p.packages[0].upkeep[0].every_years = 0; });
  refuses(range, [](auto& p) { p.loans[0].yearly_rate = 40; });
  refuses(range, [](auto& p) { p.rules[0].cap_usd = -1; });
  refuses(range, [](auto& p) { p.heater_life_years = 0; });
  refuses(range, [](auto& p) { p.decision.least_savings_to_investment = -1; });
  refuses(range, [](auto& p) { p.suitability.most_shading_share = 2; });
  refuses(range, [](auto& p) { p.install_date = dates::Date{}; });
  refuses(range, [](auto& p) { p.places[0].latitude_deg = 91; });
  refuses(missing, [](auto& p) { p.packages.clear(); });
  refuses(missing, [](auto& p) { p.title.clear(); });
}

TEST_CASE("program keys: all documented, each in the Markdown") {
  const std::string markdown = catalog::program_keys_markdown();
  for (const catalog::ProgramKey& key : catalog::program_keys()) {
    CAPTURE(std::string(key.name));
    CHECK_FALSE(key.type.empty());
    CHECK_FALSE(key.allowed.empty());
    CHECK_FALSE(key.default_text.empty());
    CHECK_FALSE(key.meaning.empty());
    CHECK(markdown.find(fmt::format("| `{}` | {} | {} | {} | {} |", key.name, key.type, key.allowed, key.default_text,
                                    key.meaning)) != std::string::npos);
  }
  CHECK(markdown.starts_with("### Top of the file\n"));
  CHECK(markdown.find("\n### `[economics]`\n") != std::string::npos);
  CHECK(markdown.find("\n### `[[package.upkeep]]`\n") != std::string::npos);
}

TEST_CASE("program: a character that the TOML library holds for impossible is refused in a sentence") {
  // U+FEEF lies in a range that toml++ 3.3 tests without a case for it.
  CHECK_THROWS_AS((void)catalog::parse_program("i\xEF\xBB\xAF = 1\n", "odd.toml", data()), MalformedText);
}
