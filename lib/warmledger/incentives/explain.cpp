// Why a rule paid or did not, in one sentence.
#include <string_view>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/stack.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::incentives {

namespace {

using money::dollars;

std::string_view date_words(DateBasis basis) {
  switch (basis) {
    case DateBasis::placed_in_service:
      return "the date placed in service";
    case DateBasis::application:
      return "the application date";
    case DateBasis::payment:
      return "the payment date";
    case DateBasis::expenditure:
      break;
  }
  return "the install date";
}

/// The sentence of a rule that paid nothing; empty for one that applied.
std::string refusal(const Stack& stack, const Rule& rule, const Outcome& outcome, const Claim& claim) {
  const auto decides = [&] {
    return fmt::format(
        "{} is {}",
        claim.first_use_date && rule.date_basis == DateBasis::expenditure && *claim.first_use_date > claim.install_date
            ? "the new home's first use"
            : date_words(rule.date_basis),
        dates::iso(deciding_date(rule, claim)));
  };
  switch (outcome.verdict) {
    case Verdict::ended:
      return fmt::format("ended on {}; {}", dates::iso(*rule.valid_to), decides());
    case Verdict::not_begun:
      return fmt::format("begins on {}; {}", dates::iso(*rule.valid_from), decides());
    case Verdict::income_too_high:
      return fmt::format("income {} is above the limit of {} ({} % of area median income for {})",
                         dollars(claim.yearly_income_usd), dollars(outcome.limit_usd),
                         errors::plain_number(*rule.most_income_share * 100), claim.occupants);
    case Verdict::income_too_low:
      return fmt::format("income {} is below the least of {} ({} % of area median income for {})",
                         dollars(claim.yearly_income_usd), dollars(outcome.limit_usd),
                         errors::plain_number(*rule.least_income_share * 100), claim.occupants);
    case Verdict::poverty_too_high:
      return fmt::format("income {} is above the limit of {} ({} % of the poverty guideline for {})",
                         dollars(claim.yearly_income_usd), dollars(outcome.limit_usd),
                         errors::plain_number(*rule.most_poverty_multiple * 100), claim.occupants);
    case Verdict::poverty_too_low:
      return fmt::format("income {} is below the least of {} ({} % of the poverty guideline for {})",
                         dollars(claim.yearly_income_usd), dollars(outcome.limit_usd),
                         errors::plain_number(*rule.least_poverty_multiple * 100), claim.occupants);
    case Verdict::income_usd_too_high:
      return fmt::format("income {} is above the limit of {}", dollars(claim.yearly_income_usd),
                         dollars(outcome.limit_usd));
    case Verdict::income_usd_too_low:
      return fmt::format("income {} is below the least of {}", dollars(claim.yearly_income_usd),
                         dollars(outcome.limit_usd));
    case Verdict::wrong_tenure:
      return fmt::format("not for a household that is {}", name_of(claim.tenure));
    case Verdict::wrong_fuel:
      return fmt::format("not for a heater on {}", prices::name_of(claim.heater_fuel));
    case Verdict::wrong_filing_status:
      return fmt::format("not for the filing status {}", name_of(claim.filing_status));
    case Verdict::wrong_installer:
      return fmt::format("not for a system put in by the {}", name_of(claim.installer));
    case Verdict::too_little_sun:
      return fmt::format("the sun gives {:.1f} % of the energy for hot water; at least {} % is asked for",
                         claim.solar_share * 100, errors::plain_number(*rule.least_solar_share * 100));
    case Verdict::not_certified:
      return "the package states no certification of its equipment, which this asks for";
    case Verdict::new_home:
      return "not for a new home";
    case Verdict::poverty_unknown:
      return "no poverty guideline is known for the place and date, and a multiple of it decides";
    case Verdict::liability_unknown:
      return fmt::format(
          "the {} income tax is not known: {}_tax_liability_usd of the sheet, or [tax] {}_rate of the program",
          name_of(rule.tax), name_of(rule.tax), name_of(rule.tax));
    case Verdict::tax_rate_unknown:
      return "the rate of the tax is not known: tax_rate of the rule, or [tax] of the program";
    case Verdict::cost_covered:
      return "the cost is already paid in full by the incentives before it";
    case Verdict::no_tax_to_credit: {
      const double liability = rule.tax == Tax::federal ? claim.tax_liability_usd
                               : rule.tax == Tax::state ? claim.state_tax_liability_usd.value_or(0)
                                                        : claim.local_tax_liability_usd.value_or(0);
      if (rule.kind == Kind::deduction) return "there is no income tax that the deduction could save";
      return liability > 0 ? "the income tax is used up by the credits before it"
                           : "no income tax to credit it against";
    }
    case Verdict::excluded:
      return outcome.other == no_rule
                 ? fmt::format("left out: with it the household would get {} less", dollars(outcome.less_usd))
                 : fmt::format("cannot be had beside {}; the best combination with it is worth {} less",
                               stack.rules()[outcome.other].id, dollars(outcome.less_usd));
    case Verdict::withdrawn:
      return "taken as withdrawn in this what-if";
    case Verdict::waiting:
      return fmt::format("wait-listed: the money of pool {} is spent on households before this one", rule.pool);
    case Verdict::applied:
      break;
  }
  return {};
}

std::string amount_words(const Rule& rule, const Outcome& outcome, const Claim& claim) {
  switch (rule.basis) {
    case Basis::flat_usd:
      return dollars(rule.amount);
    case Basis::share_of_cost:
      return fmt::format("{} % of {}", errors::plain_number(rule.amount * 100), dollars(outcome.base_usd));
    case Basis::usd_per_m2:
      return fmt::format("{} a ft2 for {:.1f} ft2 of collector", dollars(rule.amount * units::m2_per_ft2),
                         claim.collector_area_m2 / units::m2_per_ft2);
    case Basis::usd_per_first_year_kwh:
      return fmt::format("{} a kWh for {:.0f} kWh saved in the first year", dollars(rule.amount),
                         claim.first_year_saving_kwh);
    case Basis::usd_per_first_year_therm:
      return fmt::format("{} a therm for {:.0f} therms saved in the first year", dollars(rule.amount),
                         claim.first_year_saving_therm);
    case Basis::share_of_tax:
      return fmt::format("{} % of the tax", errors::plain_number(rule.amount * 100));
    case Basis::rate:
      return fmt::format("{} % a year", errors::plain_number(rule.amount * 100));
  }
  return {};
}

void add_payments(std::string& text, std::string_view word, const Payments& payments) {
  for (std::size_t k = 0; k < payments.size(); ++k) {
    if (k == 3) {
      text += fmt::format(" and {} more", payments.size() - k);
      break;
    }
    text += fmt::format("{} {} on {}", k == 0 ? fmt::format("; {}", word) : ",", dollars(payments[k].usd),
                        dates::iso(payments[k].date));
  }
}

}  // namespace

std::string Stack::explain(const Outcome& outcome, const Claim& claim) const {
  const Rule& rule = rules_.at(outcome.rule);
  const std::string label = rule.as_if.empty() ? "" : fmt::format("; {}", rule.as_if);
  if (outcome.verdict != Verdict::applied) return refusal(*this, rule, outcome, claim) + label;
  if (rule.kind == Kind::loan) return fmt::format("opens the loan {}{}", rule.loan, label);
  std::string text = amount_words(rule, outcome, claim);
  if (rule.kind == Kind::rate_buy_down) return fmt::format("lowers the loan {} to {}{}", rule.loan, text, label);
  if (rule.kind == Kind::property_tax_exemption)
    return fmt::format("{}: {} a year of property tax is not charged{}", text, dollars(outcome.avoided_usd_year),
                       label);
  if (rule.payment_count > 1) text += fmt::format(", {} times", rule.payment_count);
  if (rule.kind == Kind::deduction)
    text += fmt::format(" off the taxable {} income saves {} of tax", name_of(rule.tax), dollars(outcome.computed_usd));
  if (rule.cap_usd && outcome.computed_usd >= *rule.cap_usd)
    text += fmt::format(", at most {}", dollars(*rule.cap_usd));
  if (outcome.amount_usd < outcome.computed_usd) {
    text += fmt::format("; limited {} to {}", outcome.limited_by_cost ? "by the cost left" : "by income tax",
                        dollars(outcome.amount_usd));
  }
  add_payments(text, "paid", outcome.payments);
  add_payments(text, "income tax on it", outcome.taxes);
  if (outcome.lapsed_usd > 0 && !outcome.limited_by_cost)
    text += fmt::format("; {} lapses unused", dollars(outcome.lapsed_usd));
  return text + label;
}

}  // namespace warmledger::incentives
