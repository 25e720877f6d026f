// What each rule of one combination pays, and which rules a household can have at all.
#include <algorithm>
#include <array>
#include <cmath>

#include "warmledger/incentives/stack.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::incentives {

dates::Date deciding_date(const Rule& rule, const Claim& claim) {
  switch (rule.date_basis) {
    case DateBasis::placed_in_service:
      return claim.placed_in_service_date.value_or(claim.install_date);
    case DateBasis::application:
      return claim.application_date.value_or(claim.install_date);
    case DateBasis::payment:
      return claim.payment_date.value_or(claim.install_date);
    case DateBasis::expenditure:
      break;
  }
  // 26 USC 25D(e)(8): made when the installation is completed; of a new home, when its original use begins.
  return claim.first_use_date ? std::max(claim.install_date, *claim.first_use_date) : claim.install_date;
}

namespace {

template <class T>
bool absent(const std::vector<T>& list, T item) {
  return !list.empty() && std::find(list.begin(), list.end(), item) == list.end();
}

/// Income bands: the first that fails, with its limit.
Verdict income_verdict(const Rule& rule, const Claim& claim, const IncomeRules& income, double& limit) {
  if ((rule.income_waived_by & claim.assistance).any()) return Verdict::applied;
  const double has = claim.yearly_income_usd;
  const auto above = [&](double most) {
    limit = most;
    return has > most;
  };
  const auto below = [&](double least) {
    limit = least;
    return has < least;
  };
  if (rule.most_income_share && above(income_limit_usd(income, *rule.most_income_share, claim.occupants)))
    return Verdict::income_too_high;
  if (rule.least_income_share && below(income_limit_usd(income, *rule.least_income_share, claim.occupants)))
    return Verdict::income_too_low;
  if ((rule.most_poverty_multiple || rule.least_poverty_multiple) && !income.poverty) return Verdict::poverty_unknown;
  if (rule.most_poverty_multiple &&
      above(poverty_limit_usd(*income.poverty, *rule.most_poverty_multiple, claim.occupants)))
    return Verdict::poverty_too_high;
  if (rule.least_poverty_multiple &&
      below(poverty_limit_usd(*income.poverty, *rule.least_poverty_multiple, claim.occupants)))
    return Verdict::poverty_too_low;
  if (rule.most_income_usd && above(*rule.most_income_usd)) return Verdict::income_usd_too_high;
  if (rule.least_income_usd && below(*rule.least_income_usd)) return Verdict::income_usd_too_low;
  return Verdict::applied;
}

/// The first condition of `rule` that the claim fails; applied if none.
Verdict eligibility(const Rule& rule, const Claim& claim, const IncomeRules& income, const TaxRules& taxes,
                    double& limit) {
  const dates::Date date = deciding_date(rule, claim);
  if (rule.valid_to && *rule.valid_to < date) return Verdict::ended;
  if (rule.valid_from && date < *rule.valid_from) return Verdict::not_begun;
  if (const Verdict verdict = income_verdict(rule, claim, income, limit); verdict != Verdict::applied) return verdict;
  if (absent(rule.tenures, claim.tenure)) return Verdict::wrong_tenure;
  if (absent(rule.fuels, claim.heater_fuel)) return Verdict::wrong_fuel;
  if (absent(rule.filing_statuses, claim.filing_status)) return Verdict::wrong_filing_status;
  if (absent(rule.installers, claim.installer)) return Verdict::wrong_installer;
  if (rule.needs_certification && !claim.certified) return Verdict::not_certified;
  if (rule.least_solar_share && claim.solar_share < *rule.least_solar_share) return Verdict::too_little_sun;
  if (rule.existing_home_only && claim.new_home) return Verdict::new_home;
  if (is_tax(rule.kind) && !rule.refundable) {
    if (rule.tax == Tax::state && !claim.state_tax_liability_usd) return Verdict::liability_unknown;
    if (rule.tax == Tax::local && !claim.local_tax_liability_usd) return Verdict::liability_unknown;
  }
  if (rule.kind == Kind::sales_tax_exemption && !rule.tax_rate && !taxes.sales_tax_rate)
    return Verdict::tax_rate_unknown;
  if (rule.kind == Kind::property_tax_exemption && !rule.tax_rate && !taxes.property_tax_rate)
    return Verdict::tax_rate_unknown;
  return Verdict::applied;
}

double liability_usd(Tax tax, int later, const Claim& claim) {
  if (tax == Tax::state) return std::max(0.0, claim.state_tax_liability_usd.value_or(0));
  if (tax == Tax::local) return std::max(0.0, claim.local_tax_liability_usd.value_or(0));
  const std::vector<double>& years = claim.yearly_tax_liability_usd;
  if (years.empty()) return std::max(0.0, claim.tax_liability_usd);
  return std::max(0.0, years[std::min(years.size() - 1, static_cast<std::size_t>(later))]);
}

/// Tax on `more` dollars of income on top of the household's (or saved by as much less, for a negative number).
double tax_on(Tax tax, double more, const Claim& claim, const TaxRules& rules) {
  if (tax == Tax::federal) {
    if (claim.federal_table == nullptr) return 0;
    const double with = std::max(0.0, claim.yearly_income_usd + more);
    return schedule_tax_usd(*claim.federal_table, with) -
           schedule_tax_usd(*claim.federal_table, claim.yearly_income_usd);
  }
  const double rate = tax == Tax::state ? rules.state_rate.value_or(0) : rules.local_rate.value_or(0);
  const double exempt = tax == Tax::state ? rules.state_deduction_usd : rules.local_deduction_usd;
  const auto due = [&](double income) { return rate * std::max(0.0, income - exempt); };
  return due(claim.yearly_income_usd + more) - due(claim.yearly_income_usd);
}

dates::Date filing_day(int tax_year) {
  return dates::make_date(tax_year + 1, 4, 15);
}

/// The cost that a rule's shares are taken of, before anything comes off.
double eligible_cost_usd(const Rule& rule, const Claim& claim) {
  const double cost = rule.part == CostPart::material ? std::min(claim.material_usd, claim.installed_cost_usd)
                                                      : claim.installed_cost_usd - claim.own_labor_usd;
  double eligible = std::max(0.0, cost - claim.ineligible_cost_usd);
  // 26 USC 25D(e)(7): below the named share of use as a home only that share counts.
  if (claim.home_share < rule.whole_cost_from_home_share) eligible *= claim.home_share;
  return eligible;
}

double formula(const Rule& rule, const Claim& claim, const TaxRules& taxes, double base_usd) {
  switch (rule.basis) {
    case Basis::flat_usd:
      return rule.kind == Kind::loan ? 0 : rule.amount;
    case Basis::share_of_cost:
      return rule.amount * base_usd;
    case Basis::usd_per_m2:
      return rule.amount * claim.collector_area_m2;
    case Basis::usd_per_first_year_kwh:
      return rule.amount * std::max(0.0, claim.first_year_saving_kwh);
    case Basis::usd_per_first_year_therm:
      return rule.amount * std::max(0.0, claim.first_year_saving_therm);
    case Basis::share_of_tax: {
      if (rule.kind != Kind::sales_tax_exemption) return 0;
      const double rate = rule.tax_rate ? *rule.tax_rate : taxes.sales_tax_rate.value_or(0);
      return rule.amount * std::min(claim.material_usd, claim.installed_cost_usd) * rate / (1 + rate);
    }
    case Basis::rate:
      break;
  }
  return 0;
}

/// Dated payments of one rule, in whole cents, up to what is left of the cost.
class Teller {
 public:
  Teller(const Rule& rule, std::size_t index, const Claim& claim, const TaxRules& taxes, double left, Outcome& out,
         Work& work, std::vector<TaxLine>* lines)
      : rule_(rule),
        index_(index),
        claim_(claim),
        taxes_(taxes),
        left_(left),
        out_(out),
        used_(work.used_liability.at(static_cast<std::size_t>(rule.tax))),
        lines_(lines),
        first_year_(dates::year_of(rule.date_basis == DateBasis::application ? claim.install_date
                                                                             : deciding_date(rule, claim))) {}

  void evenly() {
    double paid = 0;
    for (int k = 0; k < rule_.payment_count; ++k) {
      const double until = money::round_cents(out_.computed_usd * (k + 1) / rule_.payment_count);
      dates::Date date = claim_.install_date;
      if (rule_.arrival == Arrival::months_after) date = dates::add_months(date, rule_.arrival_months);
      if (rule_.arrival == Arrival::tax_filing) date = filing_day(first_year_);
      if (k > 0) date = dates::add_months(date, k * rule_.payment_step_months);
      pay(date, money::round_cents(until - paid));
      paid = until;
    }
  }

  /// A deduction is worth the tax it saves, and at most the tax that is left.
  void deduct() {
    double allowed = 0;
    for (std::size_t y = 0; y < shares(); ++y) {
      double deducted = out_.computed_usd * share(y);
      if (rule_.yearly_cap_usd) deducted = std::min(deducted, *rule_.yearly_cap_usd);
      const double saved = money::round_cents(-tax_on(rule_.tax, -deducted, claim_, taxes_));
      const double tax = left_of_tax(y);
      const double taken = std::min({saved, tax, left_});
      allowed += saved;
      use(y, taken);
      record(y, tax, saved, taken, 0, saved - taken);
      pay(filing_day(first_year_ + static_cast<int>(y)), taken);
    }
    out_.computed_usd = money::round_cents(allowed);
  }

  /// A credit, spread over years by its shares; what finds no tax waits as long as it may, the oldest part first used.
  void credit() {
    std::array<double, max_years> waiting{};  // by the year in which it was earned
    const int last = static_cast<int>(shares()) - 1 + rule_.carryforward_years;
    double earned = 0;
    for (int year = 0; year <= last && year < static_cast<int>(max_years); ++year) {
      const auto y = static_cast<std::size_t>(year);
      if (y < shares()) {
        const double until = money::round_cents(std::min(1.0, cumulative(y)) * out_.computed_usd);
        waiting[y] = money::round_cents(until - earned);
        earned = until;
      }
      double available = 0;
      for (std::size_t v = 0; v <= y; ++v) available += waiting[v];
      available = money::round_cents(available);
      const double tax = rule_.refundable ? available : left_of_tax(y);
      double most = std::min({available, tax, left_});
      if (rule_.yearly_cap_usd) most = std::min(most, *rule_.yearly_cap_usd);
      if (rule_.most_share_of_liability)
        most = std::min(most, *rule_.most_share_of_liability * liability_usd(rule_.tax, year, claim_));
      const double taken = money::round_cents(std::max(0.0, most));
      // What cannot wait: all but the part over the yearly cap where only that is carried; parts of years too old.
      double lapsed = 0;
      double to_take = taken;
      if (rule_.carries == Carries::over_yearly_cap && rule_.yearly_cap_usd)
        to_take = std::max(taken, std::min(available, *rule_.yearly_cap_usd));
      for (std::size_t v = 0; v <= y; ++v) {
        const double part = std::min(waiting[v], to_take);
        waiting[v] = money::round_cents(waiting[v] - part);
        to_take = money::round_cents(to_take - part);
        if (year - static_cast<int>(v) >= rule_.carryforward_years) {
          lapsed += waiting[v];
          waiting[v] = 0;
        }
      }
      double carried = 0;
      for (std::size_t v = 0; v <= y; ++v) carried += waiting[v];
      lapsed = money::round_cents(available - taken - carried);
      out_.lapsed_usd = money::round_cents(out_.lapsed_usd + lapsed);
      if (!rule_.refundable) use(y, taken);
      record(y, tax, available, taken, carried, lapsed);
      pay(filing_day(first_year_ + year), taken);
      if ((carried <= 0 && y + 1 >= shares()) || left_ <= 0) break;
    }
  }

 private:
  static constexpr std::size_t max_years = 131;

  [[nodiscard]] std::size_t shares() const { return rule_.yearly_shares.empty() ? 1 : rule_.yearly_shares.size(); }
  [[nodiscard]] double share(std::size_t y) const { return rule_.yearly_shares.empty() ? 1 : rule_.yearly_shares[y]; }
  [[nodiscard]] double cumulative(std::size_t y) const {
    double sum = 0;
    for (std::size_t k = 0; k <= y; ++k) sum += share(k);
    return sum;
  }
  [[nodiscard]] double left_of_tax(std::size_t y) const {
    const double liability = liability_usd(rule_.tax, static_cast<int>(y), claim_);
    return money::round_cents(std::max(0.0, liability - (y < used_.size() ? used_[y] : 0.0)));
  }
  void use(std::size_t y, double usd) {
    if (used_.size() <= y) used_.resize(y + 1, 0.0);
    used_[y] = money::round_cents(used_[y] + usd);
  }
  void record(std::size_t y, double tax, double available, double taken, double carried, double lapsed) {
    if (lines_ == nullptr) return;
    lines_->push_back({first_year_ + static_cast<int>(y), rule_.tax, index_, tax, money::round_cents(available), taken,
                       money::round_cents(carried), money::round_cents(lapsed)});
  }

  void pay(dates::Date date, double usd) {
    const double paid = money::round_cents(std::min(usd, left_));
    if (paid <= 0) return;
    left_ = money::round_cents(left_ - paid);
    out_.payments.push_back({date, paid});
    out_.amount_usd = money::round_cents(out_.amount_usd + paid);
    double tax = 0;
    if (rule_.treatment == Treatment::income) {
      for (const Tax which : {Tax::federal, Tax::state, Tax::local}) tax += tax_on(which, paid, claim_, taxes_);
    } else if (is_tax(rule_.kind) && rule_.tax != Tax::federal && claim_.itemizes &&
               taxes_.state_credits_lower_itemized_deduction) {
      // A smaller state tax is a smaller deduction: the federal income grows by as much.
      tax = tax_on(Tax::federal, paid, claim_, taxes_);
    }
    tax = money::round_cents(std::min(tax, paid));
    if (tax <= 0) return;
    out_.taxes.push_back({filing_day(dates::year_of(date)), tax});
    out_.tax_usd = money::round_cents(out_.tax_usd + tax);
  }

  const Rule& rule_;
  std::size_t index_;
  const Claim& claim_;
  const TaxRules& taxes_;
  double left_;
  Outcome& out_;
  std::vector<double>& used_;
  std::vector<TaxLine>* lines_;
  int first_year_;
};

}  // namespace

void Stack::judge(const Claim& claim, const IncomeRules& income, Work& work) const {
  work.verdicts.assign(rules_.size(), Verdict::applied);
  work.limits.assign(rules_.size(), 0.0);
  for (std::size_t i = 0; i < rules_.size(); ++i) {
    work.verdicts[i] = eligibility(rules_[i], claim, income, taxes_, work.limits[i]);
    const std::size_t pool = pool_of_[i];
    if (work.verdicts[i] == Verdict::applied && pool != no_rule && ((claim.closed_pools >> pool) & 1U) != 0)
      work.verdicts[i] = Verdict::waiting;
    if (work.verdicts[i] == Verdict::applied && i < claim.withdrawn.size() && claim.withdrawn[i] != 0)
      work.verdicts[i] = Verdict::withdrawn;
  }
}

double Stack::evaluate(const Claim& claim, std::span<const char> selected, std::vector<Outcome>& outcomes, Work& work,
                       std::vector<TaxLine>* lines) const {
  outcomes.resize(rules_.size());
  for (std::vector<double>& used : work.used_liability) used.clear();
  double left_of_cost = money::round_cents(std::max(0.0, claim.installed_cost_usd));
  double value = 0;
  const int first_year = dates::year_of(claim.install_date);
  const auto worth = [&](const Payment& payment) {
    if (claim.yearly_discount_rate == 0) return payment.usd;
    return payment.usd / std::pow(1 + claim.yearly_discount_rate, dates::year_of(payment.date) - first_year);
  };
  for (std::size_t i = 0; i < rules_.size(); ++i) {
    const Rule& rule = rules_[i];
    Outcome& out = outcomes[i];
    out.rule = i;
    out.verdict = work.verdicts[i];
    out.base_usd = out.computed_usd = out.amount_usd = out.tax_usd = out.avoided_usd_year = out.lapsed_usd = 0;
    out.limit_usd = work.limits[i];
    out.limited_by_cost = false;
    out.payments.clear();
    out.taxes.clear();
    out.other = no_rule;
    out.less_usd = 0;
    if (out.verdict != Verdict::applied) continue;
    if (selected[i] == 0) {
      out.verdict = Verdict::excluded;
      continue;
    }
    const double eligible = eligible_cost_usd(rule, claim);
    double base = eligible;
    for (const std::size_t other : less_[i]) base -= outcomes[other].amount_usd;
    out.base_usd = money::round_cents(std::max(0.0, base));
    if (rule.kind == Kind::property_tax_exemption) {
      const double rate = rule.tax_rate ? *rule.tax_rate : taxes_.property_tax_rate.value_or(0);
      out.avoided_usd_year =
          money::round_cents(rule.amount * rate * taxes_.added_value_share * claim.installed_cost_usd);
      continue;
    }
    double amount = formula(rule, claim, taxes_, out.base_usd) * rule.payment_count;
    if (rule.cap_share_of_cost) amount = std::min(amount, *rule.cap_share_of_cost * eligible);
    if (rule.cap_usd) {
      const double before = i < claim.received_before_usd.size() ? claim.received_before_usd[i] : 0.0;
      amount = std::min(amount, std::max(0.0, *rule.cap_usd - before));
    }
    out.computed_usd = money::round_cents(amount);
    if (out.computed_usd > 0 && left_of_cost <= 0) {
      out.verdict = Verdict::cost_covered;
      continue;
    }
    if (out.computed_usd <= 0) continue;
    Teller payer(rule, i, claim, taxes_, left_of_cost, out, work, lines);
    if (rule.kind == Kind::credit) {
      payer.credit();
    } else if (rule.kind == Kind::deduction) {
      payer.deduct();
    } else {
      payer.evenly();
    }
    if (out.payments.empty() && is_tax(rule.kind)) out.verdict = Verdict::no_tax_to_credit;
    out.limited_by_cost = out.amount_usd >= left_of_cost && out.amount_usd < out.computed_usd;
    left_of_cost = money::round_cents(left_of_cost - out.amount_usd);
    for (const Payment& payment : out.payments) value += worth(payment);
    for (const Payment& tax : out.taxes) value -= worth(tax);
  }
  return value;
}

}  // namespace warmledger::incentives
