// Incentives: rules as data. A rule says who pays, what it is a share of, when it holds, for whom, and when the money
// comes; the engine (stack.hpp) applies them. Nothing about a single program is written in code.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/dates/dates.hpp"
#include "warmledger/incentives/assistance.hpp"
#include "warmledger/prices/fuels.hpp"

namespace warmledger::incentives {

enum class Kind {
  rebate,                  ///< money off or back, not through a tax return
  credit,                  ///< off the tax owed
  grant,                   ///< as a rebate; given by a public body or a charity
  deduction,               ///< off the taxable income: worth the tax it saves
  production_payment,      ///< paid at even steps for what is saved or delivered
  sales_tax_exemption,     ///< the sales tax within the price of the material
  property_tax_exemption,  ///< no tax on the value that the system adds: keeps a cost away, brings no money
  loan,                    ///< opens a loan of the program to those who are eligible
  rate_buy_down            ///< somebody pays the lender to lend at a lower rate
};
inline constexpr std::size_t kind_count = 9;

/// Who bears the cost, for the cost tests: the program's administrator is not everybody who pays.
enum class Payer { administrator, utility, federal, state, local, other };
/// Whose income tax a credit or deduction lowers. The three liabilities are separate.
enum class Tax { federal, state, local };
inline constexpr std::size_t tax_count = 3;
/// Where the facts of a rule come from.
enum class Standing {
  verified,           ///< read in a copy of the law, or of the agency's own account of it
  from_memory,        ///< at least one part, named in the citation, was not looked up
  invented,           ///< of a program that does not exist
  secondary_account,  ///< read in texts of others that repeat the law
};
enum class Tenure { owner, renter };
enum class FilingStatus { single, joint, head_of_household };
/// What is installed.
enum class Equipment { solar_water_heater, heat_pump_water_heater };
/// Who puts the system in.
enum class Installer { contractor, owner };
/// What the amount is counted by.
enum class Basis {
  flat_usd,
  share_of_cost,
  usd_per_m2,
  usd_per_first_year_kwh,
  usd_per_first_year_therm,
  share_of_tax,  ///< exemptions: the share of the tax that is not charged
  rate           ///< rate_buy_down: the yearly rate after it
};
/// What a share is a share of.
enum class CostPart { cost, material };
/// How the federal income tax sees the money (26 USC 61, 136; IRS guidance on price adjustments).
enum class Treatment {
  none,              ///< neither income nor off the cost, for example a state tax credit
  price_adjustment,  ///< a lower price: by a maker, dealer or installer, or a federal home energy rebate
  excluded_subsidy,  ///< a utility's subsidy left out of income by 26 USC 136
  income             ///< taxable income of the household
};
/// Which date decides whether a rule holds.
enum class DateBasis {
  expenditure,        ///< installation completed; of a new home: its first use, if later (26 USC 25D(e)(8))
  placed_in_service,  ///< ready and used
  application,        ///< the household applied
  payment             ///< the household paid
};
/// install: on the install date. months_after: a number of months later. tax_filing: 15 April of the year after.
enum class Arrival { install, months_after, tax_filing };
/// What of a credit may be carried forward: all that found no tax, or only what the yearly cap kept back.
enum class Carries { all_unused, over_yearly_cap };

[[nodiscard]] std::string_view name_of(Kind kind);
[[nodiscard]] std::string_view name_of(Payer payer);
[[nodiscard]] std::string_view name_of(Tax tax);
[[nodiscard]] std::string_view name_of(Standing standing);
[[nodiscard]] std::string_view name_of(Tenure tenure);
[[nodiscard]] std::string_view name_of(FilingStatus status);
[[nodiscard]] std::string_view name_of(Equipment equipment);
[[nodiscard]] std::string_view name_of(Installer installer);
[[nodiscard]] std::string_view name_of(Treatment treatment);
[[nodiscard]] std::string_view name_of(DateBasis basis);
[[nodiscard]] Tenure tenure_named(std::string_view name);               ///< throws UnknownName
[[nodiscard]] FilingStatus filing_status_named(std::string_view name);  ///< throws UnknownName
[[nodiscard]] Standing standing_named(std::string_view name);           ///< throws UnknownName
/// Through a tax return.
[[nodiscard]] bool is_tax(Kind kind);

struct Rule {
  std::string id;
  std::string title;
  std::string payer;     ///< who pays, in words
  std::string citation;  ///< statute, order or program document
  Standing standing = Standing::invented;
  Kind kind = Kind::rebate;
  Basis basis = Basis::flat_usd;
  double amount = 0;              ///< dollars, share 0..1, dollars per m2 of gross collector area, per kWh or per therm
  std::optional<double> cap_usd;  ///< most that one household gets, in all years
  std::optional<dates::Date> valid_from;  ///< first and last date, of the kind `date_basis` says, for which it holds
  std::optional<dates::Date> valid_to;
  std::optional<double> least_income_share;  ///< of the area median income for the household's size: at least
  std::optional<double> most_income_share;   ///< at most
  std::vector<Tenure> tenures;               ///< empty: any
  std::vector<prices::Fuel> fuels;           ///< of the existing heater; empty: any
  std::vector<std::string> base_less;        ///< ids of rules whose amounts come off the cost before a share is taken
  bool refundable = false;                   ///< credit: paid out beyond the tax liability
  int carryforward_years = 0;  ///< credit: years after the first in which an unused part may still be taken
  Arrival arrival = Arrival::install;
  int arrival_months = 0;  ///< for months_after

  Payer paid_by = Payer::other;
  Tax tax = Tax::federal;  ///< of a credit or deduction
  DateBasis date_basis = DateBasis::expenditure;
  std::string version_of;                   ///< name shared by the versions of one rule, whose dates must not overlap
  CostPart part = CostPart::cost;           ///< of share_of_cost
  std::optional<double> cap_share_of_cost;  ///< most, as a share of the eligible cost
  std::optional<double> yearly_cap_usd;     ///< credit: most taken in a year. deduction: most deducted in a year
  std::optional<double> most_share_of_liability;  ///< credit: most of a year's tax that it may take
  Carries carries = Carries::all_unused;
  std::vector<double>
      yearly_shares;      ///< credit, deduction: parts of the amount of year 1, 2, ...; empty: all in year 1
  int payment_count = 1;  ///< rebate, grant, production payment: this many payments of the amount
  int payment_step_months = 12;
  int years = 0;                                 ///< property_tax_exemption: how long; 0: as long as the system lives
  std::optional<double> tax_rate;                ///< exemptions: of the tax, if the program does not say
  std::string loan;                              ///< loan, rate_buy_down: id of the program's loan
  std::optional<double> least_poverty_multiple;  ///< of the poverty guideline for the household's size: at least
  std::optional<double> most_poverty_multiple;   ///< at most
  std::optional<double> least_income_usd;        ///< household income: at least
  std::optional<double> most_income_usd;         ///< at most
  std::vector<FilingStatus> filing_statuses;     ///< empty: any
  std::vector<Installer> installers;             ///< empty: any
  std::vector<Equipment> equipment;              ///< empty: any
  std::optional<double> least_solar_share;       ///< of the energy used for the hot water
  bool needs_certification = false;              ///< of the equipment
  bool existing_home_only = false;               ///< not for a new home
  double whole_cost_from_home_share = 0;        ///< share of use as a home from which all of the cost counts; 0: always
  Treatment treatment = Treatment::none;        ///< of this money by the federal income tax
  std::vector<Treatment> base_less_treatments;  ///< money so treated comes off the cost before a share is taken
  std::vector<Kind> base_less_kinds;            ///< and money of these kinds
  std::vector<std::string> not_with;            ///< ids that cannot be had beside this one
  std::string one_of;                           ///< of the rules that name the same group, one may be had
  std::string pool;                             ///< id of the pool of money that pays it; empty: not limited
  AssistanceSet income_waived_by;  ///< being in one of these programs stands in place of every income condition
  std::string as_if;  ///< what-if by which this rule was changed; empty: the rule as it is. Shown in every output
};

/// Throws ValueOutOfRange, MissingValue or Contradiction naming the member, with the rule's id as the place.
void check(const Rule& rule);

}  // namespace warmledger::incentives
