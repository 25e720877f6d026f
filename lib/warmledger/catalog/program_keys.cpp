#include "warmledger/catalog/program_keys.hpp"

#include <algorithm>
#include <array>
#include <stdexcept>
#include <vector>

#include <fmt/format.h>

#include "warmledger/catalog/program.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

namespace {

constexpr std::string_view none = "none";
constexpr std::string_view any_text = "text on one line";
constexpr std::string_view fuel_words = "electricity, natural_gas, propane, heating_oil";
constexpr std::string_view administrator_default = "administrator_discount_rate";
constexpr std::string_view avoided_meaning =
    "What a unit not supplied saves its supplier in year 1: energy, capacity, transmission and distribution. Without "
    "it "
    "no test but the participant's has a result for households that save or use more of this fuel";
constexpr std::string_view outside_meaning =
    "Good to people outside the deal of a unit not used, beyond CO2 (cleaner air, say), in the societal test";
constexpr std::string_view supply_source_default = "required with avoided_usd_per_unit or outside_usd_per_unit";
constexpr std::string_view supply_source_meaning = "Where these amounts are from";
constexpr std::string_view supply_nominal_meaning =
    "Yearly rise of both amounts in money of the day; not beside real_escalation";
constexpr std::string_view supply_real_meaning =
    "Yearly rise of both amounts above inflation; not beside "
    "nominal_escalation";
constexpr std::string_view one_amount =
    "exactly one of flat_usd, share_of_cost, usd_per_ft2, usd_per_first_year_kwh, usd_per_first_year_therm, "
    "share_of_tax, to_yearly_rate";
constexpr std::string_view price_default = "the state's or national price of data/prices.csv";
constexpr std::string_view price_source_default = "required with usd_per_unit";
constexpr std::string_view escalation_default = "0: the price rises with inflation; at most one of the escalation keys";
constexpr std::string_view price_meaning =
    "Price of one unit on the install date, for households that do not state their own";
constexpr std::string_view as_if_price_meaning =
    "A what-if, named in every output: a unit's price on the install date instead of every other, the household's own "
    "and tariffs too. Bills in dollars were paid at the price that holds";
constexpr std::string_view price_source_meaning = "Where the price is from";
constexpr std::string_view nominal_meaning = "Yearly rise of the price in money of the day";
constexpr std::string_view real_meaning = "Yearly rise of the price above inflation";
constexpr std::string_view nominal_series_meaning =
    "The rise into year 2, 3, ... in money of the day; after the last one the price rises with inflation";
constexpr std::string_view real_series_meaning =
    "The rise into year 2, 3, ... above inflation; after the last one the price rises with inflation";
constexpr std::string_view index_meaning =
    "Real price index of year 1, 2, ..., as the federal annual supplement to NIST Handbook 135 prints them; only "
    "ratios "
    "to the first count; after the last one the price rises with inflation";
constexpr std::string_view region_meaning =
    "Region of data/escalation.csv whose real price indices are taken, from the year of the install date on";
constexpr std::string_view one_escalation = "see real_escalation; at most one of these keys";

using enum KeyType;
constexpr std::array all_specs{
    Spec{"", "title", text, 0, 0, any_text, required, "Name of the program, shown in every output"},
    Spec{"", "note", text, 0, 0, any_text, none, "Shown in every output, for example that the county is invented"},
    Spec{"", "install_date", date, 0, 0, "", required,
         "Date on which every system is taken as installed; incentives, limits and tax tables of that date hold"},
    Spec{"", "study_years", whole, 1, 50, "years", "20", "Length of the study"},
    Spec{"", "state", text, 0, 0, "two capital letters of a US state, the District of Columbia or a territory",
         "the national prices", "Which prices of data/prices.csv are taken"},
    Spec{"", "jurisdictions", list, 0, 0, "names of files in data/incentives", "none",
         "Whose incentives hold beside those of this file, for example [\"federal\"]"},

    Spec{"economics", "nominal_discount_rate", number, -0.5, 1, share,
         "exactly one of nominal_discount_rate, real_discount_rate", "Yearly discount rate of money of the day"},
    Spec{"economics", "real_discount_rate", number, -0.5, 1, share,
         "exactly one of nominal_discount_rate, real_discount_rate", "Yearly discount rate above inflation"},
    Spec{"economics", "inflation_rate", number, -0.2, 0.5, share, required, "Yearly general inflation"},

    Spec{"prices.electricity", "usd_per_unit", number, 0.01, 5, "US dollars per kWh", price_default, price_meaning},
    Spec{"prices.electricity", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.electricity", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.electricity", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},
    Spec{"prices.electricity", "nominal_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         nominal_series_meaning},
    Spec{"prices.electricity", "real_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         real_series_meaning},
    Spec{"prices.electricity", "real_price_index_by_year", numbers, 0.01, 100, "one a year", one_escalation,
         index_meaning},
    Spec{"prices.electricity", "escalation_region", text, 0, 0, "a region of data/escalation.csv", one_escalation,
         region_meaning},
    Spec{"prices.natural_gas", "usd_per_unit", number, 0.05, 50, "US dollars per therm", price_default, price_meaning},
    Spec{"prices.natural_gas", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.natural_gas", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.natural_gas", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},
    Spec{"prices.natural_gas", "nominal_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         nominal_series_meaning},
    Spec{"prices.natural_gas", "real_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         real_series_meaning},
    Spec{"prices.natural_gas", "real_price_index_by_year", numbers, 0.01, 100, "one a year", one_escalation,
         index_meaning},
    Spec{"prices.natural_gas", "escalation_region", text, 0, 0, "a region of data/escalation.csv", one_escalation,
         region_meaning},
    Spec{"prices.propane", "usd_per_unit", number, 0.1, 50, "US dollars per US gallon", price_default, price_meaning},
    Spec{"prices.propane", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.propane", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.propane", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},
    Spec{"prices.propane", "nominal_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         nominal_series_meaning},
    Spec{"prices.propane", "real_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         real_series_meaning},
    Spec{"prices.propane", "real_price_index_by_year", numbers, 0.01, 100, "one a year", one_escalation, index_meaning},
    Spec{"prices.propane", "escalation_region", text, 0, 0, "a region of data/escalation.csv", one_escalation,
         region_meaning},
    Spec{"prices.heating_oil", "usd_per_unit", number, 0.1, 50, "US dollars per US gallon", price_default,
         price_meaning},
    Spec{"prices.heating_oil", "source", text, 0, 0, any_text, price_source_default, price_source_meaning},
    Spec{"prices.heating_oil", "nominal_escalation", number, -0.5, 1, share, escalation_default, nominal_meaning},
    Spec{"prices.heating_oil", "real_escalation", number, -0.5, 1, share, escalation_default, real_meaning},
    Spec{"prices.heating_oil", "nominal_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         nominal_series_meaning},
    Spec{"prices.heating_oil", "real_escalation_by_year", numbers, -0.5, 1, "0.06 is 6 %", one_escalation,
         real_series_meaning},
    Spec{"prices.heating_oil", "real_price_index_by_year", numbers, 0.01, 100, "one a year", one_escalation,
         index_meaning},
    Spec{"prices.heating_oil", "escalation_region", text, 0, 0, "a region of data/escalation.csv", one_escalation,
         region_meaning},

    Spec{"[[tariff]]", "fuel", text, 0, 0, fuel_words, required,
         "Whose price it is, instead of usd_per_unit; a household that states its own price keeps that"},
    Spec{"[[tariff]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[tariff]]", "source", text, 0, 0, any_text, required, "Where it is from, with its date"},
    Spec{"[[tariff]]", "fixed_usd_month", number, 0, 1000, "US dollars a month", "0",
         "Fixed charge, shown in the ledger with the system and without it: no saving touches it"},
    Spec{"[[tariff]]", "other_units_month", number, 0, 1e6, "units a month", "required with a block",
         "What a home uses besides its hot water, where the sheet has no bill of the whole home: it fills the first "
         "blocks, and hot water is priced at the last ones"},
    Spec{"[[tariff.rate]]", "name", text, 0, 0, any_text, required, "Name of the period, for people"},
    Spec{"[[tariff.rate]]", "usd_per_unit", number, -100, 100, "US dollars a unit", required,
         "Price of a unit in these hours; of several rates that fit an hour the first in the file is charged"},
    Spec{"[[tariff.rate]]", "months", numbers, 1, 12, "months of the year, 1 is January", "every month", "The season"},
    Spec{"[[tariff.rate]]", "days", text, 0, 0, "all, weekdays, weekends", "all",
         "Days of the week; hot water is taken as the same on all of them"},
    Spec{"[[tariff.rate]]", "from_hour", whole, 0, 23, "o'clock", "0", "Begin of the period of the day"},
    Spec{"[[tariff.rate]]", "to_hour", whole, 1, 24, "o'clock", "24",
         "End of the period of the day; at or before from_hour it is past midnight"},
    Spec{"[[tariff.block]]", "usd_per_unit", number, -100, 100, "US dollars a unit", required,
         "Price of a unit in this block, beside the rate of its hour; negative for a credit"},
    Spec{"[[tariff.block]]", "up_to_units_month", number, 0.001, 1e6, "units a month", "no end: the last block",
         "Where the block ends; it begins where the one before it ends"},
    Spec{"[[tariff.block]]", "months", numbers, 1, 12, "months of the year, 1 is January", "every month", "The season"},

    Spec{"own_bills", "least_scale", number, 0.1, 1, "(0.5 halves it)", "0.5",
         "A household's own bill scales its simulated energy down to this at most"},
    Spec{"own_bills", "most_scale", number, 1, 10, "(2 doubles it)", "2", "And up to this at most"},

    Spec{"income", "area_median_income_usd", number, 1000, 1e6, "US dollars a year", required,
         "Area median income of a family of four; other sizes follow the federal household-size factors"},
    Spec{"income", "round_to_usd", whole, 1, 10000, "US dollars", "50",
         "Income limits are rounded to a multiple of this"},
    Spec{"income", "rounding", text, 0, 0, "nearest, up", "nearest", "How income limits are rounded"},
    Spec{"income", "source", text, 0, 0, any_text, required, "Where the area median income is from, with its year"},
    Spec{"income", "state_median_income_usd", number, 1000, 1e6, "US dollars a year", "not known",
         "State median income of four persons; some definitions of income tiers are shares of it"},
    Spec{"income", "poverty_region", text, 0, 0, "contiguous, alaska, hawaii",
         "that of state; contiguous where no state is named, none in a territory",
         "Whose federal poverty guidelines of data/poverty.csv hold; the latest ones on the install date are taken"},
    Spec{"[[income.tier]]", "name", text, 0, 0, any_text, required,
         "The program's name of the tier; incomes above the last tier are \"above\""},
    Spec{"[[income.tier]]", "most_share", number, 0.01, 10,
         "of the area median income for the household's size (0.8 is 80 %)", required,
         "Upper end of the tier; shares rise from tier to tier"},
    Spec{"[[income.tier]]", "includes_edge", flag, 0, 0, "", "true",
         "Whether an income exactly at the upper end belongs to the tier"},

    Spec{"[[place]]", "name", text, 0, 0, any_text, required, "Place name that sheets use"},
    Spec{"[[place]]", "latitude_deg", number, -90, 90, "degrees, north positive", required, "Latitude"},
    Spec{"[[place]]", "longitude_deg", number, -180, 180, "degrees, east positive", required,
         "Longitude; negative in the mainland US"},

    Spec{"[[package]]", "id", text, 0, 0, any_text, required, "Short unique name, used in sheets"},
    Spec{"[[package]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[package]]", "collector", text, 0, 0, "an id of data/collectors.csv", required, "Which collector"},
    Spec{"[[package]]", "collector_count", whole, 1, 50, "collectors", required, "How many collectors"},
    Spec{"[[package]]", "storage_gal", number, 10, 5000, "US gallons", "exactly one of storage_gal, storage_l",
         "Volume of the solar tank"},
    Spec{"[[package]]", "storage_l", number, 38, 18927, "litres", "exactly one of storage_gal, storage_l",
         "The same in litres"},
    Spec{"[[package]]", "loop", text, 0, 0, "drain_back, pressurized_glycol", required,
         "How the collector loop is kept from freezing"},
    Spec{"[[package]]", "arrangement", text, 0, 0, "two_tank, one_tank", "two_tank",
         "Preheat tank ahead of the existing heater, or one tank with an electric element"},
    Spec{"[[package]]", "backup_share_of_tank", number, 0, 0.9, "of the tank (0.4 is 40 %)", "0",
         "one_tank: upper share of the tank that the element keeps hot"},
    Spec{"[[package]]", "exchanger_effectiveness", number, 0.05, 1, "", "0.6",
         "Heat exchanger effectiveness; 1 where the collector fluid is the stored water"},
    Spec{"[[package]]", "flow_kg_s_m2", number, 0.001, 0.03, "kg/s for each m2 of collector", "0.015",
         "Flow in the collector loop"},
    Spec{"[[package]]", "pump_w", number, 0, 2000, "W", "60", "Electric power of all pumps while they run"},
    Spec{"[[package]]", "pump_each_w", number, 0, 1000, "W", "0",
         "drain_back: power of one pump; how many run follows from the lift. 0: pump_w stands for all"},
    Spec{"[[package]]", "lift_ft", number, 0, 50, "feet", "0",
         "drain_back: height from the reservoir to the top of the collectors, where the sheet does not say"},
    Spec{"[[package]]", "on_difference_f", number, 1, 60, "degrees F of difference", "16",
         "Hourly method: collector above tank bottom by so much starts the pump"},
    Spec{"[[package]]", "off_difference_f", number, 0, 60, "degrees F of difference", "4",
         "Hourly method: and by so little stops it"},
    Spec{"[[package]]", "high_limit_f", number, 120, 210, "degrees F", "180",
         "Hourly method: top of the solar tank that stops the pump"},
    Spec{"[[package]]", "glycol_share", number, 0.2, 0.6, "by mass (0.5 is 50 %)", "0.5",
         "pressurized_glycol: propylene glycol in the fluid"},
    Spec{
        "[[package]]", "tank_ua_w_k", number, 0, 50, "W/K", "2.5",
        "Heat loss of the solar tank to its room (monthly method: one_tank only; its fit holds a well insulated tank)"},
    Spec{"[[package]]", "pipe_ua_w_k", number, 0, 200, "W/K", "8",
         "Heat loss of the collector loop's pipes to the air; EN 15316-4-3 takes 5 + 0.5 times the area in m2 (from "
         "memory)"},
    Spec{"[[package]]", "material_usd", number, 0, 1e6, "US dollars", required, "Material, with tax and delivery"},
    Spec{"[[package]]", "labor_usd", number, 0, 1e6, "US dollars", required, "Labor of the installation, with permits"},
    Spec{"[[package]]", "least_occupants", whole, 1, 20, "persons", "1", "Smallest household it is offered to"},
    Spec{"[[package]]", "most_occupants", whole, 1, 20, "persons", "20", "Largest household it is offered to"},
    Spec{"[[package]]", "life_years", whole, 1, 60, "years", "20",
         "Life of the system, for the remaining value at the end of the study"},
    Spec{"[[package]]", "certification", text, 0, 0, any_text, "none is stated",
         "By whom the equipment is certified, and under which number; some incentives ask for it"},
    Spec{"[[package]]", "standard_upkeep", flag, 0, 0, "", "true",
         "Without [[package.upkeep]]: whether the schedule of its loop in data/upkeep.csv is taken"},
    Spec{"[[package.upkeep]]", "what", text, 0, 0, any_text, required, "What is done"},
    Spec{"[[package.upkeep]]", "usd", number, 0, 1e6, "US dollars", required,
         "Cost each time, in dollars of the install date; it rises with inflation"},
    Spec{"[[package.upkeep]]", "first_year", whole, 1, 100, "years after the installation", required,
         "End of which year it is first paid"},
    Spec{"[[package.upkeep]]", "every_years", whole, 1, 100, "years", required, "Years between payments"},
    Spec{"[[package.upkeep]]", "replaces", flag, 0, 0, "", "false",
         "true for a part that is replaced (pump, tank): counted with the investment in the savings-to-investment "
         "ratio"},

    Spec{"[[incentive]]", "id", text, 0, 0, any_text, required, "Short unique name"},
    Spec{"[[incentive]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[incentive]]", "payer", text, 0, 0, any_text, required, "Who pays, in words"},
    Spec{"[[incentive]]", "paid_by", text, 0, 0, "administrator, utility, federal, state, local, other",
         "other; of a credit or deduction: its tax", "Who bears the cost, for the cost tests: one word"},
    Spec{"[[incentive]]", "citation", text, 0, 0, any_text, required, "Statute, order or program document"},
    Spec{"[[incentive]]", "standing", text, 0, 0, "verified, from memory, invented, secondary account", required,
         "How sure its facts are"},
    Spec{"[[incentive]]", "kind", text, 0, 0,
         "rebate, credit, grant, deduction, production_payment, sales_tax_exemption, property_tax_exemption, loan, "
         "rate_buy_down",
         required, "What it is; the kinds are explained in data/incentives/README.md"},
    Spec{"[[incentive]]", "tax", text, 0, 0, "federal, state, local", "required for a credit and a deduction",
         "Whose income tax it lowers; the three liabilities are separate"},
    Spec{"[[incentive]]", "version_of", text, 0, 0, any_text, none,
         "Name that the versions of one rule share; their dates must not overlap, and other rules may name them all by "
         "it"},
    Spec{"[[incentive]]", "flat_usd", number, 0, 1e6, "US dollars", one_amount, "The same amount for every household"},
    Spec{"[[incentive]]", "share_of_cost", number, 0, 1, "of the eligible cost (0.3 is 30 %)", one_amount,
         "A share of the eligible cost, less what base_less and its kin name"},
    Spec{"[[incentive]]", "usd_per_ft2", number, 0, 1000, "US dollars", one_amount,
         "For each square foot of gross collector area"},
    Spec{"[[incentive]]", "usd_per_first_year_kwh", number, 0, 100, "US dollars", one_amount,
         "For each kWh of purchased energy saved in the first year"},
    Spec{"[[incentive]]", "usd_per_first_year_therm", number, 0, 1000, "US dollars", one_amount,
         "For each therm of purchased fuel saved in the first year; of an electric heater none is saved"},
    Spec{"[[incentive]]", "share_of_tax", number, 0, 1, "(1 is the whole tax)", one_amount,
         "Of an exemption: share of the tax that is not charged"},
    Spec{"[[incentive]]", "to_yearly_rate", number, 0, 1, share, one_amount,
         "Of a rate_buy_down: the loan's nominal yearly rate after it"},
    Spec{"[[incentive]]", "part", text, 0, 0, "cost, material", "cost",
         "What share_of_cost is a share of; the owner's own labor never counts"},
    Spec{"[[incentive]]", "cap_usd", number, 0, 1e6, "US dollars", none, "Most that one household gets, in all years"},
    Spec{"[[incentive]]", "cap_share_of_cost", number, 0, 1, "of the eligible cost (0.5 is 50 %)", none,
         "Most, as a share of the eligible cost"},
    Spec{"[[incentive]]", "yearly_cap_usd", number, 0, 1e6, "US dollars a year", none,
         "Credit: most that is taken in one year. Deduction: most that is deducted in one year"},
    Spec{"[[incentive]]", "most_share_of_liability", number, 0, 1, "of the year's tax (0.5 is 50 %)", none,
         "Credit: most of a year's tax that it may take"},
    Spec{"[[incentive]]", "yearly_shares", numbers, 0, 1, "parts of the amount, of year 1, 2, ...; sum 1 or less",
         "all in the first year", "Credit, deduction: how the amount is spread, for example [0.4, 0.2, 0.2, 0.2]"},
    Spec{"[[incentive]]", "payment_count", whole, 1, 600, "payments", "1",
         "Rebate, grant, production_payment: how many payments of the amount"},
    Spec{"[[incentive]]", "payment_step_months", whole, 1, 120, "months", "12", "Months between them"},
    Spec{"[[incentive]]", "years", whole, 1, 60, "years", "as long as the study",
         "property_tax_exemption: how long it holds"},
    Spec{"[[incentive]]", "tax_rate", number, 0, 0.5, share, "the rate of [tax]",
         "Exemptions: rate of the tax from which it exempts"},
    Spec{"[[incentive]]", "loan", text, 0, 0, "an id of [[loan]]", "required for loan and rate_buy_down",
         "The loan that it opens, or whose rate it lowers"},
    Spec{"[[incentive]]", "date_basis", text, 0, 0, "expenditure, placed_in_service, application, payment",
         "expenditure", "Which date decides whether it holds; expenditure: the installation is completed"},
    Spec{"[[incentive]]", "valid_from", date, 1900, 2100, "", none, "First such date for which it holds"},
    Spec{"[[incentive]]", "valid_to", date, 1900, 2100, "", none, "Last such date for which it holds"},
    Spec{"[[incentive]]", "least_income_share", number, 0, 10, "of the area median income (0.8 is 80 %)", none,
         "Household income at least"},
    Spec{"[[incentive]]", "most_income_share", number, 0, 10, "of the area median income (0.8 is 80 %)", none,
         "Household income at most"},
    Spec{"[[incentive]]", "least_poverty_multiple", number, 0, 100, "times the poverty guideline (2 is 200 %)", none,
         "Household income at least"},
    Spec{"[[incentive]]", "most_poverty_multiple", number, 0, 100, "times the poverty guideline (2 is 200 %)", none,
         "Household income at most"},
    Spec{"[[incentive]]", "least_income_usd", number, 0, 1e9, "US dollars a year", none, "Household income at least"},
    Spec{"[[incentive]]", "most_income_usd", number, 0, 1e9, "US dollars a year", none, "Household income at most"},
    Spec{"[[incentive]]", "income_waived_by", list, 0, 0,
         "food, heating, weatherization, medicaid, cash, supplemental_security, housing, school_meals, "
         "women_infants_children",
         "none", "Programs of which a member need not meet the conditions on income"},
    Spec{"[[incentive]]", "tenures", list, 0, 0, "owner, renter", "any", "For which tenures it holds"},
    Spec{"[[incentive]]", "fuels", list, 0, 0, fuel_words, "any", "For which fuels of the existing heater it holds"},
    Spec{"[[incentive]]", "filing_statuses", list, 0, 0, "single, joint, head_of_household", "any",
         "For which filing statuses it holds"},
    Spec{"[[incentive]]", "equipment", list, 0, 0, "solar_water_heater, heat_pump_water_heater", "any",
         "What must be installed; a program whose packages are something else cannot use the incentive"},
    Spec{"[[incentive]]", "installers", list, 0, 0, "contractor, owner", "any", "Who must install"},
    Spec{"[[incentive]]", "least_solar_share", number, 0, 1, "(0.5 is 50 %)", none,
         "Share of the energy used for the hot water that must come from the sun"},
    Spec{"[[incentive]]", "needs_certification", flag, 0, 0, "", "false",
         "Whether the equipment must be certified (package.certification)"},
    Spec{"[[incentive]]", "existing_home_only", flag, 0, 0, "", "false", "Not for a new home"},
    Spec{"[[incentive]]", "whole_cost_from_home_share", number, 0, 1, "(0.8 is 80 %)", "0: all of the cost counts",
         "Share of use as a home from which all of the cost counts; below it, only that share does"},
    Spec{"[[incentive]]", "treatment", text, 0, 0, "none, price_adjustment, excluded_subsidy, income", "none",
         "How the federal income tax sees this money: a lower price, a utility's subsidy left out of income (26 USC "
         "136), or taxable income"},
    Spec{"[[incentive]]", "base_less", list, 0, 0, "ids or version names of incentives", "none",
         "Incentives whose amounts come off the cost before the share is taken"},
    Spec{"[[incentive]]", "base_less_treatments", list, 0, 0, "price_adjustment, excluded_subsidy, income", "none",
         "The same for all money that is so treated"},
    Spec{"[[incentive]]", "base_less_kinds", list, 0, 0, "rebate, credit, grant", "none",
         "The same for all incentives of these kinds"},
    Spec{"[[incentive]]", "lowers_base_of", list, 0, 0, "ids or version names of incentives", "none",
         "The same said from the other side: incentives whose cost this amount lowers"},
    Spec{"[[incentive]]", "not_with", list, 0, 0, "ids or version names of incentives", "none",
         "Incentives that cannot be had beside this one; the household takes the best combination"},
    Spec{"[[incentive]]", "one_of", text, 0, 0, any_text, none,
         "Name of a group: of the rules that name the same one, a household can have one"},
    Spec{"[[incentive]]", "refundable", flag, 0, 0, "", "false", "Credit: paid out beyond the tax owed"},
    Spec{"[[incentive]]", "carryforward_years", whole, 0, 50, "years", "0",
         "Credit: years after the first in which an unused part may still be taken"},
    Spec{"[[incentive]]", "carries", text, 0, 0, "all_unused, over_yearly_cap", "all_unused",
         "Credit: what may be carried forward: all that found no tax, or only what the yearly cap kept back"},
    Spec{"[[incentive]]", "arrival", text, 0, 0, "install, months_after, tax_filing",
         "install; of a credit or deduction: tax_filing",
         "When the money comes; tax_filing is 15 April of the year after"},
    Spec{"[[incentive]]", "arrival_months", whole, 1, 120, "months", "required with arrival = \"months_after\"",
         "Months after the installation"},
    Spec{"[[incentive]]", "pool", text, 0, 0, "an id of [[pool]]", "none: money does not run out",
         "The pool of money that pays it (program file only)"},

    Spec{"[[pool]]", "id", text, 0, 0, any_text, required, "Short unique name"},
    Spec{"[[pool]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[pool]]", "usd", number, 0, 1e12, "US dollars", required, "How much there is"},
    Spec{"[[pool]]", "order", text, 0, 0, "first_come, need_first, most_saved_per_dollar", required,
         "Who is funded first: the order of the sheet, the lowest income for its size, or the most first-year saving "
         "for "
         "a dollar of the pool"},
    Spec{"[[pool]]", "passes_over", flag, 0, 0, "", "false",
         "Whether a household that asks for more than is left is passed over for one that asks for less; otherwise all "
         "who come after it wait"},

    Spec{"[[as_if]]", "rule", text, 0, 0, "an id of an incentive", required,
         "An incentive to be taken as if its dates were others: a what-if, named in every output"},
    Spec{"[[as_if]]", "valid_from", date, 1900, 2100, "", "unchanged", "First date for which it is taken to hold"},
    Spec{"[[as_if]]", "valid_to", date, 1900, 2100, "", "unchanged", "Last date for which it is taken to hold"},

    Spec{"as_if_prices", "electricity_usd_per_kwh", number, 0.01, 5, "US dollars per kWh", "none", as_if_price_meaning},
    Spec{"as_if_prices", "natural_gas_usd_per_therm", number, 0.05, 50, "US dollars per therm", "none",
         as_if_price_meaning},
    Spec{"as_if_prices", "propane_usd_per_gal", number, 0.1, 50, "US dollars per US gallon", "none",
         as_if_price_meaning},
    Spec{"as_if_prices", "heating_oil_usd_per_gal", number, 0.1, 50, "US dollars per US gallon", "none",
         as_if_price_meaning},

    Spec{"tax", "sales_tax_rate", number, 0, 0.25, share, "not known: a sales-tax exemption is then not valued",
         "Sales tax within the price of the material"},
    Spec{"tax", "property_tax_rate", number, 0, 0.1, share, "0: no property tax on the system is charged",
         "Yearly property tax on the value that the system adds, unless an exemption holds"},
    Spec{"tax", "added_value_share", number, 0, 1, "of the installed cost (1 is all of it)", "1",
         "Value that the system adds to the assessment"},
    Spec{"tax", "state_rate", number, 0, 0.2, share, "not known",
         "State income tax at one rate, to estimate liabilities that the sheet does not give"},
    Spec{"tax", "state_deduction_usd", number, 0, 1e6, "US dollars", "0", "Income that the state does not tax"},
    Spec{"tax", "local_rate", number, 0, 0.1, share, "not known", "County or city income tax, likewise"},
    Spec{"tax", "local_deduction_usd", number, 0, 1e6, "US dollars", "0", "Income that it does not tax"},
    Spec{"tax", "subsidies_lower_credit_base", flag, 0, 0, "", "true",
         "Whether money treated as excluded_subsidy lowers the base of the credits that say so (26 USC 136(b))"},
    Spec{"tax", "state_credits_lower_credit_base", flag, 0, 0, "", "false",
         "Whether state and local credits lower the base of federal credits; by federal practice they do not"},
    Spec{"tax", "state_credits_lower_itemized_deduction", flag, 0, 0, "", "true",
         "Whether a state or local credit raises the federal tax of a household that itemizes, whose deduction for "
         "taxes "
         "paid is then smaller"},

    Spec{"[[loan]]", "id", text, 0, 0, any_text, required, "Short unique name"},
    Spec{"[[loan]]", "title", text, 0, 0, any_text, required, "Name for people"},
    Spec{"[[loan]]", "yearly_rate", number, 0, 1, share, required,
         "Nominal yearly rate of the lender; each period bears its part of it"},
    Spec{"[[loan]]", "term_months", whole, 1, 600, "months", required, "From the start to the last payment"},
    Spec{"[[loan]]", "largest_usd", number, 1, 1e9, "US dollars", "no limit", "Most that is lent"},
    Spec{"[[loan]]", "rounding", text, 0, 0, "half_up, half_even, up, down", "half_up",
         "How payments and interest become whole cents"},
    Spec{"[[loan]]", "payments_per_year", whole, 1, 52, "(52, 26, 12, 4, 2 or 1)", "12",
         "Weekly, biweekly, monthly, quarterly, semi-annual or yearly payments"},
    Spec{"[[loan]]", "first_payment_date", date, 0, 0, date_allowed, "one period after the installation",
         "Makes the first period odd: days beyond whole periods bear interest by the day"},
    Spec{"[[loan]]", "odd_days_year", whole, 360, 365, "(365 or 360)", "365",
         "Days that the yearly rate is divided by for odd days"},
    Spec{"[[loan]]", "deferral_months", whole, 0, 120, "months", "0", "At the start, in which nothing is paid"},
    Spec{"[[loan]]", "deferred_interest", text, 0, 0, "added, waived, waived_if_paid", "added",
         "Interest of the deferral: added to the balance, not charged, or not charged if the loan is paid off by its "
         "end "
         "(same as cash)"},
    Spec{"[[loan]]", "interest_only_months", whole, 0, 600, "months", "0",
         "After the deferral, in which only interest is paid"},
    Spec{"[[loan]]", "balloon_share", number, 0, 0.99, "of the amount lent", "0", "Due with the last payment"},
    Spec{"[[loan]]", "amortisation_months", whole, 0, 1200, "months", "0",
         "Payments are those of this longer term; the rest is due with the last payment"},
    Spec{"[[loan]]", "lump_usd", number, 0, 1e9, "US dollars", "0", "A planned extra payment"},
    Spec{"[[loan]]", "lump_share", number, 0, 1, "of the amount lent", "0", "The same as a share"},
    Spec{"[[loan]]", "lump_months", whole, 0, 600, "months", "0",
         "When it is paid; it is applied with the first payment from then on"},
    Spec{"[[loan]]", "lump_date", date, 0, 0, date_allowed, none, "The same as a date"},
    Spec{"[[loan]]", "lump_from_incentives", flag, 0, 0, "", "false",
         "The household hands every incentive that arrives after the installation to the lender"},
    Spec{"[[loan]]", "reamortise", flag, 0, 0, "", "false",
         "After a lump the payment falls and the term stays; otherwise the loan ends sooner"},
    Spec{"[[loan]]", "early_payoff_months", whole, 0, 600, "months", "0",
         "The household plans to pay everything with the first payment from then on"},
    Spec{"[[loan]]", "interest_deduction_rate", number, 0, 0.6, "of the interest (0.22 is 22 %)", "0",
         "Marginal tax rate at which the interest is deducted, only where the law lets these households (26 U.S.C. "
         "163(h): secured by the home, spent on improving it, and itemized)"},
    Spec{"[[loan]]", "dealer_fee_share", number, 0, 0.5, "of the amount lent", "0",
         "What the lender keeps from the seller, who raises the price by it"},
    Spec{"[[loan]]", "points_share", number, 0, 0.2, "of the amount lent", "0", "Points of the lender"},
    Spec{"[[loan]]", "fee_usd", number, 0, 1e6, "US dollars", "0", "Fees of the lender"},
    Spec{"[[loan]]", "fees_financed", flag, 0, 0, "", "false",
         "Points and fees are lent too; otherwise the household pays them at the start"},
    Spec{"[[loan]]", "buy_down_rate", number, 0, 1, share, "0",
         "A sponsor pays the lender to lower yearly_rate by this"},
    Spec{"[[loan]]", "buy_down_payer", text, 0, 0, any_text, "required with buy_down_rate", "Who pays for that"},
    Spec{"[[loan]]", "collected_on", text, 0, 0, "loan_bill, utility_bill, property_tax_bill", "loan_bill",
         "Where the payment is collected: its own bill, on the utility bill, or as an assessment on the property-tax "
         "bill"},

    Spec{"decision", "longest_simple_payback_years", number, 0, 100, "years", none, "Simple payback at most"},
    Spec{"decision", "longest_discounted_payback_years", number, 0, 100, "years", none, "Discounted payback at most"},
    Spec{"decision", "least_net_savings_usd", number, -1e6, 1e6, "US dollars", none,
         "Net savings over the study at least, in present value; 0 where no threshold is set at all"},
    Spec{"decision", "least_savings_to_investment", number, 0.01, 100, "", none,
         "Savings-to-investment ratio at least"},
    Spec{"decision", "largest_extra_help_usd", number, 0, 1e6, "US dollars", "0",
         "Most that the program would add beyond its incentives; a household that needs more does not pay"},

    Spec{"suitability", "most_degrees_off_south", number, 0, 180, "degrees", "30",
         "Roofs that look further from south do not suit (common practice)"},
    Spec{"suitability", "most_shading_share", number, 0, 1, "(0.3 is 30 %)", "0.3",
         "Roofs with more shade do not suit (common practice)"},
    Spec{"suitability", "least_occupants_for_glycol", whole, 1, 20, "persons", "3",
         "Fewer people leave a pressurized glycol loop without draw in summer (common practice)"},
    Spec{"suitability", "renters_served", flag, 0, 0, "", "false",
         "Whether renters are served; the owner must agree and pays"},

    Spec{"heater", "life_years", number, 1, 60, "years", "13",
         "Age at which an existing heater is replaced, with solar and without"},
    Spec{"heater", "replacement_usd", number, 0, 1e5, "US dollars", "1500",
         "Cost of that replacement, in dollars of the install date"},

    Spec{"cost_tests", "administration_usd_per_household", number, 0, 1e6, "US dollars", "0",
         "Cost of running the program for each household served, on the install date"},
    Spec{"cost_tests", "participant_discount_rate", number, -0.5, 1, share, "the nominal discount rate",
         "Nominal yearly discount rate of the participant test"},
    Spec{"cost_tests", "administrator_discount_rate", number, -0.5, 1, share, "the nominal discount rate",
         "Nominal yearly discount rate of the program administrator test"},
    Spec{"cost_tests", "ratepayer_discount_rate", number, -0.5, 1, share, administrator_default,
         "Nominal yearly discount rate of the ratepayer impact test"},
    Spec{"cost_tests", "total_resource_discount_rate", number, -0.5, 1, share, administrator_default,
         "Nominal yearly discount rate of the total resource cost test"},
    Spec{"cost_tests", "societal_discount_rate", number, -0.5, 1, share, administrator_default,
         "Nominal yearly discount rate of the societal test; usually lower than the others"},
    Spec{"cost_tests", "co2_usd_per_tonne", number, 0, 1e5, "US dollars per metric ton", none,
         "Damage of carbon dioxide released in year 1, in the societal test; without it CO2 counts nothing"},
    Spec{"cost_tests", "co2_source", text, 0, 0, any_text, "required with co2_usd_per_tonne",
         "Where the price of CO2 is from"},
    Spec{"cost_tests", "co2_nominal_escalation", number, -0.5, 1, share, escalation_default,
         "Yearly rise of the price of CO2 in money of the day; not beside co2_real_escalation"},
    Spec{"cost_tests", "co2_real_escalation", number, -0.5, 1, share, escalation_default,
         "Yearly rise of the price of CO2 above inflation; not beside co2_nominal_escalation"},
    Spec{"cost_tests.electricity", "avoided_usd_per_unit", number, 0, 100, "US dollars per kWh", none, avoided_meaning},
    Spec{"cost_tests.electricity", "outside_usd_per_unit", number, -100, 100, "US dollars per kWh", "0",
         outside_meaning},
    Spec{"cost_tests.electricity", "source", text, 0, 0, any_text, supply_source_default, supply_source_meaning},
    Spec{"cost_tests.electricity", "nominal_escalation", number, -0.5, 1, share, escalation_default,
         supply_nominal_meaning},
    Spec{"cost_tests.electricity", "real_escalation", number, -0.5, 1, share, escalation_default, supply_real_meaning},
    Spec{"cost_tests.natural_gas", "avoided_usd_per_unit", number, 0, 100, "US dollars per therm", none,
         avoided_meaning},
    Spec{"cost_tests.natural_gas", "outside_usd_per_unit", number, -100, 100, "US dollars per therm", "0",
         outside_meaning},
    Spec{"cost_tests.natural_gas", "source", text, 0, 0, any_text, supply_source_default, supply_source_meaning},
    Spec{"cost_tests.natural_gas", "nominal_escalation", number, -0.5, 1, share, escalation_default,
         supply_nominal_meaning},
    Spec{"cost_tests.natural_gas", "real_escalation", number, -0.5, 1, share, escalation_default, supply_real_meaning},
    Spec{"cost_tests.propane", "avoided_usd_per_unit", number, 0, 100, "US dollars per US gallon", none,
         avoided_meaning},
    Spec{"cost_tests.propane", "outside_usd_per_unit", number, -100, 100, "US dollars per US gallon", "0",
         outside_meaning},
    Spec{"cost_tests.propane", "source", text, 0, 0, any_text, supply_source_default, supply_source_meaning},
    Spec{"cost_tests.propane", "nominal_escalation", number, -0.5, 1, share, escalation_default,
         supply_nominal_meaning},
    Spec{"cost_tests.propane", "real_escalation", number, -0.5, 1, share, escalation_default, supply_real_meaning},
    Spec{"cost_tests.heating_oil", "avoided_usd_per_unit", number, 0, 100, "US dollars per US gallon", none,
         avoided_meaning},
    Spec{"cost_tests.heating_oil", "outside_usd_per_unit", number, -100, 100, "US dollars per US gallon", "0",
         outside_meaning},
    Spec{"cost_tests.heating_oil", "source", text, 0, 0, any_text, supply_source_default, supply_source_meaning},
    Spec{"cost_tests.heating_oil", "nominal_escalation", number, -0.5, 1, share, escalation_default,
         supply_nominal_meaning},
    Spec{"cost_tests.heating_oil", "real_escalation", number, -0.5, 1, share, escalation_default, supply_real_meaning},
};

}  // namespace

std::span<const Spec> specs() {
  return all_specs;
}

const Spec& spec_named(std::string_view table, std::string_view name) {
  const auto found = std::find_if(all_specs.begin(), all_specs.end(),
                                  [&](const Spec& spec) { return spec.table == table && spec.name == name; });
  if (found == all_specs.end()) throw std::logic_error(fmt::format("no key {} in the key table", path_of(table, name)));
  return *found;
}

std::string allowed_of(const Spec& spec) {
  const std::string unit = spec.unit.empty() ? "" : " " + std::string(spec.unit);
  switch (spec.type) {
    using enum KeyType;
    case text:
      return std::string(spec.unit);
    case list:
      return fmt::format("a list of text: {}", spec.unit);
    case date:
      return spec.low > 0 ? fmt::format("a date from {:.0f}-01-01 to {:.0f}-12-31, written without quotes: 2026-09-01",
                                        spec.low, spec.high)
                          : std::string(date_allowed);
    case numbers:
      return fmt::format("a list of numbers, {} to {}: {}", errors::plain_number(spec.low),
                         errors::plain_number(spec.high), spec.unit);
    case flag:
      return "true or false";
    case number:
      return fmt::format("{} to {}{}", errors::plain_number(spec.low), errors::plain_number(spec.high), unit);
    case whole:
      return fmt::format("a whole number, {} to {}{}", errors::plain_number(spec.low), errors::plain_number(spec.high),
                         unit);
  }
  return {};
}

std::string path_of(std::string_view table, std::string_view name) {
  if (table == rules_file) return std::string(name);
  while (table.starts_with('[')) table.remove_prefix(1);
  while (table.ends_with(']')) table.remove_suffix(1);
  return table.empty() ? std::string(name) : fmt::format("{}.{}", table, name);
}

std::span<const ProgramKey> program_keys() {
  static const std::vector<std::string> allowed = [] {
    std::vector<std::string> out;
    for (const Spec& spec : specs()) out.push_back(allowed_of(spec));
    return out;
  }();
  static const std::vector<ProgramKey> keys = [] {
    static constexpr std::array<std::string_view, 7> type_names{
        "text", "number", "whole number", "date", "true or false", "list of text", "list of numbers"};
    std::vector<ProgramKey> out;
    for (std::size_t i = 0; i < specs().size(); ++i) {
      out.push_back({specs()[i].table, specs()[i].name, type_names.at(static_cast<std::size_t>(specs()[i].type)),
                     allowed[i], specs()[i].default_text, specs()[i].meaning});
    }
    return out;
  }();
  return keys;
}

std::string program_keys_markdown() {
  std::string out;
  std::string_view table = "-";
  for (const ProgramKey& key : program_keys()) {
    if (key.table != table) {
      table = key.table;
      const std::string title = table.empty()            ? "Top of the file"
                                : table.starts_with('[') ? fmt::format("`{}`", table)
                                                         : fmt::format("`[{}]`", table);
      out +=
          fmt::format("{}### {}\n\n| key | type | allowed | if left out | meaning |\n| --- | --- | --- | --- | --- |\n",
                      out.empty() ? "" : "\n", title);
    }
    out +=
        fmt::format("| `{}` | {} | {} | {} | {} |\n", key.name, key.type, key.allowed, key.default_text, key.meaning);
  }
  return out;
}

}  // namespace warmledger::catalog
