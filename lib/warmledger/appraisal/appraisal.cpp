#include "warmledger/appraisal/appraisal.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "warmledger/appraisal/energy.hpp"
#include "warmledger/appraisal/home.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::appraisal {

using catalog::Household;
using catalog::Package;
using catalog::Program;
using economics::Measure;
using ledger::Category;
using money::Decimal;

std::string_view name_of(Decision decision) {
  static constexpr std::array<std::string_view, 5> names{"pays in cash", "pays with loan", "needs more help",
                                                         "does not pay", "not suitable"};
  return names.at(static_cast<std::size_t>(decision));
}

Appraiser::Appraiser(std::shared_ptr<const Program> program, std::shared_ptr<const catalog::Catalog> catalog)
    : program_(std::move(program)), catalog_(std::move(catalog)), stack_(program_->rules) {
  catalog::check(*program_);
}

namespace {

template <class N>
N sum(std::span<const N> flows) {
  N total(0);
  for (const N& flow : flows) total += flow;
  return total;
}

template <class N>
Measure<N> share_of_income(const N& cost, double income_usd) {
  if (income_usd <= 0) return {std::nullopt, "there is no income"};
  return {N(cost / N(income_usd)), {}};
}

/// Money due at install: cost less the incentives that arrive on that day.
template <class N>
N due_at_install(const ledger::Ledger<N>& book) {
  return N(N(0) - book.difference(Category::installed_cost)[0] - book.difference(Category::incentive)[0]);
}

/// Largest running sum of the first `months` months; what is missing there to zero must be added at install for the
/// money to be back by then.
template <class N>
N highest_running_sum(std::span<const N> flows, double months) {
  N running(0);
  N highest = flows[0];
  for (std::size_t month = 0; month < flows.size(); ++month) {
    const double beyond = static_cast<double>(month) - months;
    if (beyond >= 1) break;
    // The last month counts in part, as the payback's straight line does.
    running += beyond > 0 ? N(flows[month] * N(1 - beyond)) : flows[month];
    highest = std::max(highest, running);
  }
  return highest;
}

template <class N>
Measure<N> extra_help(const catalog::DecisionRules& rules, std::span<const N> cash, const N& monthly_rate,
                      const Measures<N>& measures) {
  N needed(0);
  if (rules.longest_simple_payback_years) {
    needed = std::max(needed, N(-highest_running_sum(cash, *rules.longest_simple_payback_years * 12)));
  }
  if (rules.longest_discounted_payback_years) {
    std::vector<N> discounted(cash.begin(), cash.end());
    N factor(1);
    for (N& flow : discounted) {
      flow *= factor;
      factor /= N(N(1) + monthly_rate);
    }
    needed = std::max(
        needed, N(-highest_running_sum(std::span<const N>(discounted), *rules.longest_discounted_payback_years * 12)));
  }
  if (rules.least_net_savings_usd) needed = std::max(needed, N(N(*rules.least_net_savings_usd) - measures.net_savings));
  if (rules.least_savings_to_investment && measures.investment_present_value > N(0)) {
    needed = std::max(needed, N(measures.investment_present_value -
                                measures.savings_present_value / N(*rules.least_savings_to_investment)));
  }
  if (needed > measures.due_at_install)
    return {std::nullopt, "the thresholds are not met even if the system is free at install"};
  return {money::round_cents(needed, money::Rounding::up), {}};
}

template <class N>
Measures<N> measure(const ledger::Ledger<N>& book, const Household& household, const Program& program) {
  Measures<N> m;
  const N rate = economics::monthly_rate(N(program.nominal_discount_rate));
  const auto present = [&](const std::vector<N>& flows) {
    return economics::net_present_value(rate, std::span<const N>(flows));
  };
  const std::vector<N> cost = book.difference(Category::installed_cost);
  const std::vector<N> help = book.difference(Category::incentive);
  m.installed_cost = N(-cost[0]);
  m.incentives = sum(std::span<const N>(help));
  m.net_cost = N(m.installed_cost - m.incentives);
  m.due_at_install = due_at_install(book);

  const auto year_one = [](const std::vector<N>& flows) { return sum(std::span<const N>(flows).subspan(1, 12)); };
  m.first_year_cost_without = N(-year_one(book.flows(ledger::World::without, Category::fuel)));
  m.first_year_cost_with = N(-year_one(book.flows(ledger::World::with, Category::fuel)) -
                             year_one(book.flows(ledger::World::with, Category::pump_electricity)));
  m.first_year_saving = N(m.first_year_cost_without - m.first_year_cost_with);

  m.savings_present_value =
      N(present(book.difference(Category::fuel)) + present(book.difference(Category::pump_electricity)) +
        present(book.difference(Category::upkeep)));
  m.investment_present_value = N(-(present(cost) + present(help) + present(book.difference(Category::replacement)) +
                                   present(book.difference(Category::remaining_value))));
  m.life_cycle_cost_without = N(-present(book.flows(ledger::World::without)));
  m.life_cycle_cost_with = N(-present(book.flows(ledger::World::with)));
  const std::vector<N> difference = book.difference();
  m.net_savings = present(difference);
  // A remaining value is worth, not money that comes in: it pays nothing back.
  std::vector<N> cash = difference;
  cash.back() -= book.difference(Category::remaining_value).back();

  const auto in_years = [](Measure<N> months) {
    if (months.value) months.value = N(*months.value / N(12));
    return months;
  };
  m.simple_payback_years = in_years(economics::payback(std::span<const N>(cash)));
  m.discounted_payback_years = in_years(economics::discounted_payback(rate, std::span<const N>(cash)));
  m.savings_to_investment = economics::savings_to_investment(m.savings_present_value, m.investment_present_value);
  m.adjusted_internal_rate_of_return = economics::adjusted_internal_rate_of_return(
      N(program.nominal_discount_rate), m.savings_to_investment, program.study_years);

  m.water_heating_burden_without = share_of_income(m.first_year_cost_without, household.yearly_income_usd);
  m.water_heating_burden_with = share_of_income(m.first_year_cost_with, household.yearly_income_usd);
  if (household.yearly_energy_bills_usd) {
    const N bills(*household.yearly_energy_bills_usd);
    m.energy_burden_without = share_of_income(bills, household.yearly_income_usd);
    m.energy_burden_with = share_of_income(N(bills - m.first_year_saving), household.yearly_income_usd);
  } else {
    m.energy_burden_without = m.energy_burden_with = {std::nullopt, "yearly_energy_bills_usd is not given"};
  }
  m.extra_help = extra_help(program.decision, std::span<const N>(cash), rate, m);
  return m;
}

template <class N>
std::vector<LoanResult<N>> with_loans(const ledger::Ledger<N>& book, const Measures<N>& measures,
                                      const Program& program) {
  std::vector<LoanResult<N>> results;
  if (measures.due_at_install <= N(0)) return results;
  const std::vector<N> fuel = book.difference(Category::fuel);
  const std::vector<N> pump = book.difference(Category::pump_electricity);
  const N rate = economics::monthly_rate(N(program.nominal_discount_rate));
  for (std::size_t index = 0; index < program.loans.size(); ++index) {
    const loans::LoanTerms& terms = program.loans[index];
    LoanResult<N> result;
    result.loan = index;
    const N amount = std::min(measures.due_at_install, N(terms.largest_usd));
    result.schedule = loans::level_schedule(amount, terms, program.install_date);
    result.paid_by_household_at_install = money::round_cents(N(measures.due_at_install - result.schedule.amount));
    N lowest(std::numeric_limits<double>::max());
    N paid(0);
    for (std::size_t month = 1; month <= 12; ++month) {
      const N payment = month <= result.schedule.payments.size() ? result.schedule.payments[month - 1].payment : N(0);
      paid += payment;
      lowest = std::min(lowest, N(fuel[month] + pump[month] - payment));
    }
    result.average_month_net = N((measures.first_year_saving - paid) / N(12));
    result.lowest_month_net = lowest;
    ledger::Ledger<N> financed(book.start(), book.years());
    for (ledger::Series<N>& series : ledger::loan_series(result.schedule, terms.title, book.months()))
      financed.add(std::move(series));
    const std::vector<N> flows = financed.difference();
    result.net_savings = N(measures.net_savings + economics::net_present_value(rate, std::span<const N>(flows)));
    result.pays_from_month_one = result.paid_by_household_at_install <= N(0) && result.average_month_net >= N(0);
    results.push_back(std::move(result));
  }
  return results;
}

double sold_units(double kwh, prices::Fuel fuel, const prices::FuelTable& fuels) {
  return kwh / fuels[static_cast<std::size_t>(fuel)].kwh_per_unit;
}

ledger::Plan::Purchase purchase(const climate::Monthly& kwh, prices::Fuel fuel, const Home& home,
                                const Program& program, const prices::FuelTable& fuels) {
  ledger::Plan::Purchase result;
  const auto slot = static_cast<std::size_t>(fuel);
  result.fuel = fuel;
  for (std::size_t m = 0; m < 12; ++m) result.units[m] = sold_units(kwh[m], fuel, fuels);
  result.usd_per_unit = home.price[slot].usd_per_unit;
  result.escalation = program.escalation[slot];
  return result;
}

/// The system of a package on the household's roof.
Job job_of(const Home& home, const Package& package) {
  Job job{home.station.climate, package.system, package.plant, home.demand, home.heater};
  job.system.tilt_deg = home.tilt_deg;
  job.system.azimuth_deg = home.azimuth_deg;
  job.system.shading_share = home.shading_share;
  if (home.lift_m && job.system.loop == hotwater::Loop::drain_back) job.plant.lift_m = *home.lift_m;
  if (job.plant.pump_each_w > 0) {
    // Both methods take the same power: one pump, or two where the lift asks for them.
    job.system.pump_w = job.plant.pump_each_w * (job.plant.lift_m > 0 ? hotwater::pumps_for_lift(job.plant.lift_m) : 1);
  }
  return job;
}

template <class N>
Appraisal<N> appraise_package(const Household& household, std::size_t index, const Home& home, const Job& job,
                              Energy&& energy, const Program& program, const catalog::Catalog& catalog,
                              const incentives::Stack& stack) {
  const Package& package = program.packages[index];
  Appraisal<N> a;
  a.household_id = household.id;
  a.package = index;
  a.climate = home.station.climate;
  a.distance_km = home.station.distance_km;
  a.demand = home.demand;
  a.heater = home.heater;
  a.income_share = home.income_share;
  a.liability_estimated = home.liability_estimated;
  a.system = job.system;
  a.year = std::move(energy.year);
  a.simulated = std::move(energy.simulated);

  ledger::Plan& plan = a.plan;
  plan.install_date = program.install_date;
  plan.study_years = program.study_years;
  plan.inflation_rate = program.inflation_rate;
  plan.installed_cost_usd = household.installed_cost_usd.value_or(package.installed_cost_usd());
  plan.installed_cost_reason = household.installed_cost_usd ? "the household's quote"
                                                            : fmt::format("package {}, material and labor", package.id);
  plan.fuel_without = purchase(a.year.fuel_without_kwh, a.year.fuel_without, home, program, catalog.fuels);
  plan.fuel_with = purchase(a.year.backup_with_kwh, a.year.backup_fuel, home, program, catalog.fuels);
  plan.pump = purchase(a.year.pump_kwh, prices::Fuel::electricity, home, program, catalog.fuels);
  plan.system_life_years = package.life_years;
  plan.upkeep = package.upkeep;
  plan.heater_years_left = home.heater_years_left;
  plan.heater_life_years = program.heater_life_years;
  plan.heater_replacement_usd = program.heater_replacement_usd;
  plan.heater_stays = package.system.arrangement == hotwater::Arrangement::two_tank;

  incentives::Claim& claim = a.claim;
  claim.install_date = program.install_date;
  claim.installed_cost_usd = plan.installed_cost_usd;
  claim.collector_area_m2 = a.system.area_m2();
  const double without_kwh = a.year.yearly(a.year.fuel_without_kwh);
  const double backup_kwh = a.year.yearly(a.year.backup_with_kwh);
  const double pump_kwh = a.year.yearly(a.year.pump_kwh);
  claim.first_year_saving_kwh = without_kwh - backup_kwh - pump_kwh;
  claim.yearly_income_usd = household.yearly_income_usd;
  claim.occupants = household.occupants;
  claim.tenure = household.tenure;
  claim.heater_fuel = household.heater_fuel;
  claim.tax_liability_usd = home.liability_usd;
  stack.work_out(claim, program.income, a.incentives);
  for (const incentives::Outcome& outcome : a.incentives) {
    for (const incentives::Payment& payment : outcome.payments) {
      plan.awards.push_back({payment.date, payment.usd, stack.rules()[outcome.rule].title});
    }
  }

  a.ledger = ledger::build<N>(plan);
  a.measures = measure(a.ledger, household, program);
  a.loans = with_loans(a.ledger, a.measures, program);

  const auto co2 = [&](double kwh, prices::Fuel fuel) {
    return sold_units(kwh, fuel, catalog.fuels) * catalog.fuels[static_cast<std::size_t>(fuel)].co2_kg_per_unit;
  };
  a.co2_saved_kg_year = co2(without_kwh, a.year.fuel_without) - co2(backup_kwh, a.year.backup_fuel) -
                        co2(pump_kwh, prices::Fuel::electricity);
  a.unsuitable = misfits(household, program, package, home);
  return a;
}

template <class N>
void decide(Appraisal<N>& a, const Program& program) {
  // A loan pays when it leaves nothing to find at install, costs nothing in the first year's average month, and does
  // not lose in the long run. The best loan is the best month, of those that pay if any does.
  const auto pays = [](const LoanResult<N>& l) { return l.pays_from_month_one && l.net_savings >= N(0); };
  const bool loan_pays = std::any_of(a.loans.begin(), a.loans.end(), pays);
  for (std::size_t i = 0; i < a.loans.size(); ++i) {
    if (loan_pays && !pays(a.loans[i])) continue;
    if (!a.best_loan || a.loans[i].average_month_net > a.loans[*a.best_loan].average_month_net) a.best_loan = i;
  }
  const Measure<N>& help = a.measures.extra_help;
  if (!a.unsuitable.empty()) {
    a.decision = Decision::not_suitable;
  } else if (help.value && *help.value == N(0)) {
    a.decision = Decision::pays_in_cash;
  } else if (loan_pays) {
    a.decision = Decision::pays_with_loan;
  } else if (help.value && *help.value <= N(program.decision.largest_extra_help_usd)) {
    a.decision = Decision::needs_more_help;
  } else {
    a.decision = Decision::does_not_pay;
  }
}

}  // namespace

template <class N>
std::vector<Attempt<N>> Appraiser::appraise_many(std::span<const Household* const> households, hotwater::Detail detail,
                                                 Scratch& scratch) const {
  std::vector<Attempt<N>> attempts(households.size());
  std::vector<Home> homes(households.size());
  std::vector<Job> jobs;
  for (std::size_t h = 0; h < households.size(); ++h) {
    try {
      homes[h] = settle(*households[h], *program_, *catalog_, scratch);
      for (const std::size_t index : homes[h].candidates) jobs.push_back(job_of(homes[h], program_->packages[index]));
    } catch (const errors::Error&) {
      attempts[h].failure = std::current_exception();
      homes[h].candidates.clear();
    }
  }
  std::vector<Energy> energies = years_of(jobs, detail, scratch);

  std::size_t next = 0;
  for (std::size_t h = 0; h < households.size(); ++h) {
    const std::size_t first = next;
    next += homes[h].candidates.size();
    if (attempts[h].failure) continue;
    try {
      // The best buy: a package that suits before one that does not, then the greatest net savings, then file order.
      std::optional<Appraisal<N>> best;
      for (std::size_t k = 0; k < homes[h].candidates.size(); ++k) {
        if (energies[first + k].failure) std::rethrow_exception(energies[first + k].failure);
        Appraisal<N> one = appraise_package<N>(*households[h], homes[h].candidates[k], homes[h], jobs[first + k],
                                               std::move(energies[first + k]), *program_, *catalog_, stack_);
        const bool better = !best || (one.unsuitable.empty() != best->unsuitable.empty()
                                          ? one.unsuitable.empty()
                                          : one.measures.net_savings > best->measures.net_savings);
        if (better) best = std::move(one);
      }
      best->defaults_used = std::move(homes[h].defaults_used);
      best->income_tier =
          incentives::income_tier(program_->income, households[h]->yearly_income_usd, households[h]->occupants);
      best->cautions =
          best->simulated
              ? hotwater::cautions(best->system, best->demand, best->heater, *best->simulated, *best->climate)
              : hotwater::cautions(best->system, best->demand, best->heater, best->year, *best->climate);
      decide(*best, *program_);
      attempts[h].appraisal = std::move(best);
    } catch (const errors::Error&) {
      attempts[h].failure = std::current_exception();
    }
  }
  return attempts;
}

template <class N>
Appraisal<N> Appraiser::appraise(const Household& household, hotwater::Detail detail, Scratch& scratch) const {
  const Household* one = &household;
  std::vector<Attempt<N>> attempts = appraise_many<N>(std::span(&one, 1), detail, scratch);
  if (attempts[0].failure) std::rethrow_exception(attempts[0].failure);
  return std::move(*attempts[0].appraisal);
}

namespace {

template <class N>
std::string years_or_none(const Measure<N>& measure) {
  return measure.value ? fmt::format("{:.1f} years", money::to_double(*measure.value))
                       : fmt::format("none ({})", measure.why_none);
}

}  // namespace

template <class N>
std::string Appraiser::reason(const Appraisal<N>& a) const {
  const Measures<N>& m = a.measures;
  const auto usd = [](const N& amount) { return money::whole_dollars(money::to_double(amount)); };
  const auto cents = [](const N& amount) { return money::dollars(money::to_double(amount)); };
  const std::string figures =
      fmt::format("net cost {}, first-year saving {}, simple payback {}, net savings {}", usd(m.net_cost),
                  usd(m.first_year_saving), years_or_none(m.simple_payback_years), usd(m.net_savings));
  switch (a.decision) {
    case Decision::not_suitable:
      return fmt::format("{}.", fmt::join(a.unsuitable, "; "));
    case Decision::pays_in_cash:
      return fmt::format("Meets the program's thresholds in cash: {}.", figures);
    case Decision::pays_with_loan: {
      const LoanResult<N>& loan = a.loans[*a.best_loan];
      return fmt::format(
          "With {}: {} a month against an average saving of {} a month in the first year ({} a month left; lowest "
          "month {}). In cash: {}.",
          program_->loans[loan.loan].title, cents(loan.schedule.level_payment), cents(N(m.first_year_saving / N(12))),
          cents(loan.average_month_net), cents(loan.lowest_month_net), figures);
    }
    case Decision::needs_more_help:
      return fmt::format("{} more at install would meet the program's thresholds: {}.", cents(*m.extra_help.value),
                         figures);
    case Decision::does_not_pay:
      break;
  }
  if (!m.extra_help.value) return fmt::format("Does not pay: {}; {}.", m.extra_help.why_none, figures);
  return fmt::format("It would need {} more at install, above the program's most of {}: {}.",
                     cents(*m.extra_help.value), usd(N(program_->decision.largest_extra_help_usd)), figures);
}

template std::vector<Attempt<double>> Appraiser::appraise_many<double>(std::span<const Household* const>,
                                                                       hotwater::Detail, Scratch&) const;
template Appraisal<double> Appraiser::appraise<double>(const Household&, hotwater::Detail, Scratch&) const;
template std::string Appraiser::reason<double>(const Appraisal<double>&) const;
template std::vector<Attempt<Decimal>> Appraiser::appraise_many<Decimal>(std::span<const Household* const>,
                                                                         hotwater::Detail, Scratch&) const;
template Appraisal<Decimal> Appraiser::appraise<Decimal>(const Household&, hotwater::Detail, Scratch&) const;
template std::string Appraiser::reason<Decimal>(const Appraisal<Decimal>&) const;

}  // namespace warmledger::appraisal
