#include <array>
#include <cmath>
#include <numeric>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/rule.hpp"

namespace warmledger::incentives {

namespace {

template <class E, std::size_t count>
std::string_view word(const std::array<std::string_view, count>& words, E value) {
  return words.at(static_cast<std::size_t>(value));
}

template <class E, std::size_t count>
E named(const std::array<std::string_view, count>& words, std::string_view key, std::string_view name) {
  for (std::size_t i = 0; i < count; ++i) {
    if (words.at(i) == name) return static_cast<E>(i);
  }
  if constexpr (count == 2) {
    throw errors::unknown_name(key, name, {words[0], words[1]});
  } else if constexpr (count == 3) {
    throw errors::unknown_name(key, name, {words[0], words[1], words[2]});
  } else {
    throw errors::unknown_name(key, name, {words[0], words[1], words[2], words[3]});
  }
}

constexpr std::array<std::string_view, kind_count> kinds{"rebate",
                                                         "credit",
                                                         "grant",
                                                         "deduction",
                                                         "production_payment",
                                                         "sales_tax_exemption",
                                                         "property_tax_exemption",
                                                         "loan",
                                                         "rate_buy_down"};
constexpr std::array<std::string_view, 6> payers{"administrator", "utility", "federal", "state", "local", "other"};
constexpr std::array<std::string_view, tax_count> taxes{"federal", "state", "local"};
constexpr std::array<std::string_view, 4> standings{"verified", "from memory", "invented", "secondary account"};
constexpr std::array<std::string_view, 2> tenures{"owner", "renter"};
constexpr std::array<std::string_view, 3> statuses{"single", "joint", "head_of_household"};
constexpr std::array<std::string_view, 2> equipments{"solar_water_heater", "heat_pump_water_heater"};
constexpr std::array<std::string_view, 2> installers{"contractor", "owner"};
constexpr std::array<std::string_view, 4> treatments{"none", "price_adjustment", "excluded_subsidy", "income"};
constexpr std::array<std::string_view, 4> date_bases{"expenditure", "placed_in_service", "application", "payment"};

}  // namespace

std::string_view name_of(Kind kind) {
  return word(kinds, kind);
}
std::string_view name_of(Payer payer) {
  return word(payers, payer);
}
std::string_view name_of(Tax tax) {
  return word(taxes, tax);
}
std::string_view name_of(Standing standing) {
  return word(standings, standing);
}
std::string_view name_of(Tenure tenure) {
  return word(tenures, tenure);
}
std::string_view name_of(FilingStatus status) {
  return word(statuses, status);
}
std::string_view name_of(Equipment equipment) {
  return word(equipments, equipment);
}
std::string_view name_of(Installer installer) {
  return word(installers, installer);
}
std::string_view name_of(Treatment treatment) {
  return word(treatments, treatment);
}
std::string_view name_of(DateBasis basis) {
  return word(date_bases, basis);
}

Tenure tenure_named(std::string_view name) {
  return named<Tenure>(tenures, "tenure", name);
}
FilingStatus filing_status_named(std::string_view name) {
  return named<FilingStatus>(statuses, "filing_status", name);
}
Standing standing_named(std::string_view name) {
  return named<Standing>(standings, "standing", name);
}

bool is_tax(Kind kind) {
  return kind == Kind::credit || kind == Kind::deduction;
}

namespace {

/// Words of the kinds for which a member means something.
struct OnlyFor {
  std::string_view member;
  bool set;
  bool allowed;
  std::string_view belongs_to;
};

std::string_view key_of(Basis basis) {
  static constexpr std::array<std::string_view, 7> keys{
      "flat_usd",     "share_of_cost", "usd_per_ft2", "usd_per_first_year_kwh", "usd_per_first_year_therm",
      "share_of_tax", "to_yearly_rate"};
  return word(keys, basis);
}

bool basis_fits(Kind kind, Basis basis) {
  switch (kind) {
    case Kind::rebate:
    case Kind::grant:
    case Kind::credit:
    case Kind::production_payment:
      return basis < Basis::share_of_tax;
    case Kind::deduction:
      return basis == Basis::flat_usd || basis == Basis::share_of_cost;
    case Kind::sales_tax_exemption:
    case Kind::property_tax_exemption:
      return basis == Basis::share_of_tax;
    case Kind::loan:
      return basis == Basis::flat_usd;  // no amount: the loan's terms stand with the loan
    case Kind::rate_buy_down:
      return basis == Basis::rate;
  }
  return false;
}

void check_numbers(const Rule& rule, auto&& key) {
  constexpr double most_usd = 1e9;
  const auto maybe = [&](std::string_view member, const std::optional<double>& value, double low, double high,
                         std::string_view unit) {
    if (value) errors::require_in_range(key(member), *value, low, high, unit);
  };
  switch (rule.basis) {
    case Basis::flat_usd:
      errors::require_in_range(key("flat_usd"), rule.amount, 0, most_usd, "dollars");
      break;
    case Basis::share_of_cost:
    case Basis::share_of_tax:
      errors::require_in_range(key(key_of(rule.basis)), rule.amount, 0, 1, "(0.3 is 30 %)");
      break;
    case Basis::usd_per_m2:
      errors::require_in_range(key("usd_per_ft2"), rule.amount, 0, 1e5, "dollars");
      break;
    case Basis::usd_per_first_year_kwh:
    case Basis::usd_per_first_year_therm:
      errors::require_in_range(key(key_of(rule.basis)), rule.amount, 0, 1e3, "dollars");
      break;
    case Basis::rate:
      errors::require_in_range(key("to_yearly_rate"), rule.amount, 0, 1, "(0.06 is 6 %)");
      break;
  }
  maybe("cap_usd", rule.cap_usd, 0, most_usd, "dollars");
  maybe("cap_share_of_cost", rule.cap_share_of_cost, 0, 1, "(0.3 is 30 %)");
  maybe("yearly_cap_usd", rule.yearly_cap_usd, 0, most_usd, "dollars");
  maybe("most_share_of_liability", rule.most_share_of_liability, 0, 1, "(0.3 is 30 %)");
  maybe("tax_rate", rule.tax_rate, 0, 0.5, "(0.06 is 6 %)");
  maybe("least_solar_share", rule.least_solar_share, 0, 1, "(0.5 is 50 %)");
  errors::require_in_range(key("whole_cost_from_home_share"), rule.whole_cost_from_home_share, 0, 1, "(0.8 is 80 %)");
  const auto band = [&](std::string_view least_key, const std::optional<double>& least, std::string_view most_key,
                        const std::optional<double>& most, double high) {
    const double low = least.value_or(0);
    errors::require_in_range(key(least_key), low, 0, high);
    errors::require_in_range(key(most_key), most.value_or(high), low, high);
  };
  band("least_income_share", rule.least_income_share, "most_income_share", rule.most_income_share, 100);
  band("least_poverty_multiple", rule.least_poverty_multiple, "most_poverty_multiple", rule.most_poverty_multiple, 100);
  band("least_income_usd", rule.least_income_usd, "most_income_usd", rule.most_income_usd, 1e9);
  errors::require_in_range(key("carryforward_years"), rule.carryforward_years, 0, 100, "years");
  errors::require_in_range(key("arrival_months"), rule.arrival_months, 0, 600, "months");
  errors::require_in_range(key("payment_count"), rule.payment_count, 1, 600, "payments");
  errors::require_in_range(key("payment_step_months"), rule.payment_step_months, 1, 120, "months");
  errors::require_in_range(key("years"), rule.years, 0, 60, "years");
  if (!rule.yearly_shares.empty()) {
    errors::require_in_range(key("yearly_shares, how many"), static_cast<double>(rule.yearly_shares.size()), 1, 30);
    for (const double share : rule.yearly_shares)
      errors::require_in_range(key("yearly_shares"), share, 0, 1, "(0.3 is 30 %)");
    const double sum = std::accumulate(rule.yearly_shares.begin(), rule.yearly_shares.end(), 0.0);
    errors::require_in_range(key("yearly_shares, sum"), std::round(sum * 1e9) / 1e9, 0, 1, "(1 is 100 %)");
  }
}

}  // namespace

void check(const Rule& rule) {
  if (rule.id.empty()) {
    throw errors::MissingValue({{"", {}, {}, "incentive id"}, "", "is missing", "a short unique name"});
  }
  const auto key = [&](std::string_view member) { return fmt::format("incentive {}, {}", rule.id, member); };
  check_numbers(rule, key);
  if (rule.valid_from && rule.valid_to && *rule.valid_to < *rule.valid_from) {
    throw errors::Contradiction({{"", {}, {}, key("valid_to")},
                                 dates::iso(*rule.valid_to),
                                 fmt::format("is before valid_from {}", dates::iso(*rule.valid_from)),
                                 "a date on or after valid_from"});
  }
  const std::string kind(name_of(rule.kind));
  if (!basis_fits(rule.kind, rule.basis)) {
    throw errors::Contradiction({{"", {}, {}, key(key_of(rule.basis))},
                                 "",
                                 fmt::format("is no amount of kind {}", kind),
                                 "see the table of kinds and their amounts in data/incentives/README.md"});
  }
  const bool credit = rule.kind == Kind::credit;
  const bool loan = rule.kind == Kind::loan || rule.kind == Kind::rate_buy_down;
  const bool paid = rule.kind == Kind::rebate || rule.kind == Kind::grant || rule.kind == Kind::production_payment;
  const bool exemption = rule.kind == Kind::sales_tax_exemption || rule.kind == Kind::property_tax_exemption;
  for (const OnlyFor& one : {
           OnlyFor{"refundable", rule.refundable, credit, "credit"},
           OnlyFor{"carryforward_years", rule.carryforward_years != 0, credit, "credit"},
           OnlyFor{"carries", rule.carries != Carries::all_unused, credit && rule.yearly_cap_usd.has_value(),
                   "credit with a yearly_cap_usd"},
           OnlyFor{"most_share_of_liability", rule.most_share_of_liability.has_value(), credit && !rule.refundable,
                   "credit that is not refundable"},
           OnlyFor{"yearly_cap_usd", rule.yearly_cap_usd.has_value(), is_tax(rule.kind), "credit and deduction"},
           OnlyFor{"yearly_shares", !rule.yearly_shares.empty(), is_tax(rule.kind), "credit and deduction"},
           OnlyFor{"payment_count", rule.payment_count != 1, paid, "rebate, grant and production_payment"},
           OnlyFor{"payment_step_months", rule.payment_step_months != 12, paid && rule.payment_count > 1,
                   "several payments"},
           OnlyFor{"years", rule.years != 0, rule.kind == Kind::property_tax_exemption, "property_tax_exemption"},
           OnlyFor{"tax_rate", rule.tax_rate.has_value(), exemption, "sales_tax_exemption and property_tax_exemption"},
           OnlyFor{"loan", !rule.loan.empty(), loan, "loan and rate_buy_down"},
           OnlyFor{"treatment", rule.treatment != Treatment::none, paid, "rebate, grant and production_payment"},
           OnlyFor{"pool", !rule.pool.empty(), rule.kind == Kind::rebate || rule.kind == Kind::grant,
                   "rebate and grant"},
           OnlyFor{"part", rule.part != CostPart::cost, rule.basis == Basis::share_of_cost, "share_of_cost"},
       }) {
    if (one.set && !one.allowed) {
      throw errors::Contradiction({{"", {}, {}, key(one.member)},
                                   "",
                                   fmt::format("belongs to {}, and this is a {}", one.belongs_to, kind),
                                   fmt::format("no {}, or a kind it belongs to", one.member)});
    }
  }
  if (loan && rule.loan.empty())
    throw errors::MissingValue({{"", {}, {}, key("loan")}, "", "is missing", "the id of a loan of the program"});
  if (is_tax(rule.kind) && !rule.refundable && rule.arrival != Arrival::tax_filing) {
    throw errors::Contradiction({{"", {}, {}, key("arrival")},
                                 rule.arrival == Arrival::install ? "install" : "months_after",
                                 fmt::format("does not go with a {} that is not refundable", kind),
                                 "tax_filing, which is its default"});
  }
  for (const std::string& other : rule.not_with) {
    for (const std::string& base : rule.base_less) {
      if (other == base)
        throw errors::Contradiction(
            {{"", {}, {}, key("not_with")},
             other,
             "stands in base_less too: what cannot be had beside this rule lowers no base of it",
             "one of the two"});
    }
  }
}

}  // namespace warmledger::incentives
