#include "warmledger/appraisal/appraisal.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

#include <fmt/format.h>

#include "warmledger/appraisal/claim.hpp"
#include "warmledger/appraisal/energy.hpp"
#include "warmledger/appraisal/home.hpp"
#include "warmledger/appraisal/parts.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::appraisal {

using catalog::Household;
using catalog::Package;
using catalog::Program;
using money::Decimal;

Appraiser::Appraiser(std::shared_ptr<const Program> program, std::shared_ptr<const catalog::Catalog> catalog)
    : program_(std::move(program)),
      catalog_(std::move(catalog)),
      stack_(program_->rules, program_->tax, program_->pools) {
  catalog::check(*program_);
}

namespace {

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

/// A what-if says so wherever its money is named.
std::string award_reason(const incentives::Rule& rule) {
  return rule.as_if.empty() ? rule.title : fmt::format("{} ({})", rule.title, rule.as_if);
}

/// Loans that a rule opens are open to those only to whom the rule applies.
bool loan_is_open(const std::string& loan, const incentives::Stack& stack,
                  std::span<const incentives::Outcome> outcomes) {
  bool conditional = false;
  for (const incentives::Outcome& outcome : outcomes) {
    const incentives::Rule& rule = stack.rules()[outcome.rule];
    if (rule.kind != incentives::Kind::loan || rule.loan != loan) continue;
    if (outcome.verdict == incentives::Verdict::applied) return true;
    conditional = true;
  }
  return !conditional;
}

/// The program's loans that are open to the household, at the rate that a buy-down leaves.
template <class N>
std::vector<LoanResult<N>> loans_of(const Appraisal<N>& a, const ledger::Sums<N>& sums, const Household& household,
                                    const Program& program, const incentives::Stack& stack) {
  std::optional<Program> lowered;
  for (const incentives::Outcome& outcome : a.incentives) {
    const incentives::Rule& rule = stack.rules()[outcome.rule];
    if (rule.kind != incentives::Kind::rate_buy_down || outcome.verdict != incentives::Verdict::applied) continue;
    for (std::size_t i = 0; i < program.loans.size(); ++i) {
      const double down = program.loans[i].yearly_rate - rule.amount;
      if (program.loans[i].id != rule.loan || down <= program.loans[i].buy_down_rate) continue;
      if (!lowered) lowered = program;
      loans::LoanTerms& terms = lowered->loans[i];
      if (down <= terms.buy_down_rate) continue;
      terms.buy_down_rate = down;
      terms.buy_down_payer = rule.payer;
    }
  }
  std::vector<LoanResult<N>> results = with_loans(a, sums, household, lowered ? *lowered : program);
  if (lowered) {
    for (LoanResult<N>& loan : results) {
      const loans::LoanTerms& terms = lowered->loans[loan.loan];
      if (terms.buy_down_rate > program.loans[loan.loan].buy_down_rate)
        loan.bought_down_rate = terms.yearly_rate - terms.buy_down_rate;
    }
  }
  std::erase_if(results, [&](const LoanResult<N>& loan) {
    return !loan_is_open(program.loans[loan.loan].id, stack, a.incentives);
  });
  return results;
}

/// An appraisal and its ledger's months, added up.
template <class N>
struct Worked {
  Appraisal<N> appraisal;
  ledger::Sums<N> sums;
};

template <class N>
Worked<N> appraise_package(const Appraiser& appraiser, const Household& household, std::size_t index, const Home& home,
                           const Job& job, Energy&& energy, std::uint64_t closed_pools, incentives::Work& work) {
  const Program& program = appraiser.program();
  const catalog::Catalog& catalog = appraiser.catalog();
  const incentives::Stack& stack = appraiser.stack();
  Worked<N> worked;
  Appraisal<N>& a = worked.appraisal;
  a.household_id = household.id;
  a.package = index;
  a.climate = home.station.climate;
  a.distance_km = home.station.distance_km;
  a.demand = home.demand;
  a.heater = home.heater;
  a.income_share = home.income_share;
  a.liability_estimated = home.liability_estimated;
  a.system = job.system;
  a.plant = job.plant;
  a.simulated = std::move(energy.simulated);

  Course course = appraiser.course(household, home, index, job.system, std::move(energy.year), a.simulated);
  a.year = std::move(course.year);
  a.own_bill = std::move(course.own_bill);
  a.plan = std::move(course.plan);
  a.claim = std::move(course.claim);
  a.claim.closed_pools = closed_pools;
  stack.work_out(a.claim, program.income, a.incentives, work);
  for_each_receipt(a.incentives, [&](dates::Date date, double usd, std::size_t rule, bool is_tax) {
    const std::string reason = award_reason(stack.rules()[rule]);
    a.plan.awards.push_back({date, usd, is_tax ? "income tax on " + reason : reason, rule});
  });
  const PropertyTax tax = property_tax_of(a.plan.installed_cost_usd, program.tax, stack, a.incentives);
  if (tax.usd_year > 0) a.plan.upkeep.push_back({"property tax on the added value", tax.usd_year, 1, 1, false});
  if (tax.usd_year_after > 0) {
    a.plan.upkeep.push_back(
        {"property tax on the added value, after the exemption", tax.usd_year_after, tax.first_year_after, 1, false});
  }

  a.ledger = ledger::build<N>(a.plan);
  worked.sums = ledger::Sums<N>(a.ledger);
  a.measures = measure(a.ledger, worked.sums, household, program);

  const auto co2 = [&](double kwh, prices::Fuel fuel) {
    return sold_units(kwh, fuel, catalog.fuels) * catalog.fuels[static_cast<std::size_t>(fuel)].co2_kg_per_unit;
  };
  a.co2_saved_kg_year = co2(a.year.yearly(a.year.fuel_without_kwh), a.year.fuel_without) -
                        co2(a.year.yearly(a.year.backup_with_kwh), a.year.backup_fuel) -
                        co2(a.year.yearly(a.year.pump_kwh), prices::Fuel::electricity);
  a.unsuitable = misfits(household, program, program.packages[index], home);
  return worked;
}

}  // namespace

Prepared Appraiser::prepare(const Household& household, Scratch& scratch) const {
  Prepared prepared;
  try {
    prepared.home = settle(household, *program_, *catalog_, scratch);
    for (const std::size_t index : prepared.home.candidates)
      prepared.jobs.push_back(job_of(prepared.home, program_->packages[index]));
  } catch (const errors::Error&) {
    prepared.failure = std::current_exception();
    prepared.jobs.clear();
  }
  return prepared;
}

bool Appraiser::wants_hours_of_day() const {
  return std::any_of(program_->tariffs.begin(), program_->tariffs.end(),
                     [](const auto& tariff) { return tariff != nullptr && tariff->by_hour; });
}

Course Appraiser::course(const Household& household, const Home& home, std::size_t package,
                         const hotwater::SolarSystem& system, hotwater::Year year,
                         const std::optional<hotwater::SimulatedYear>& simulated) const {
  Course course;
  course.year = std::move(year);
  const Package& bought = program_->packages.at(package);
  const Bills bills =
      bills_of(household, home, *program_, catalog_->fuels, simulated ? simulated->hours_of_day : nullptr, course.year);
  course.own_bill = bills.own;
  course.plan = plan_of(household, bought, home, course.year, bills, *program_, *catalog_);
  course.claim = claim_of(household, bought, home, system, course.year, course.plan.installed_cost_usd, *program_);
  return course;
}

template <class N>
Attempt<N> Appraiser::conclude(const Household& household, Prepared&& prepared, std::vector<Energy>&& energies,
                               incentives::Work& work, std::uint64_t closed_pools) const {
  Attempt<N> attempt;
  attempt.failure = prepared.failure;
  if (attempt.failure) return attempt;
  try {
    // The best buy: a package that suits before one that does not, then the greatest net savings, then file order.
    std::optional<Worked<N>> chosen;
    for (std::size_t k = 0; k < prepared.jobs.size(); ++k) {
      if (energies[k].failure) std::rethrow_exception(energies[k].failure);
      Worked<N> worked = appraise_package<N>(*this, household, prepared.home.candidates[k], prepared.home,
                                             prepared.jobs[k], std::move(energies[k]), closed_pools, work);
      const Appraisal<N>& one = worked.appraisal;
      const bool better = !chosen || (one.unsuitable.empty() != chosen->appraisal.unsuitable.empty()
                                          ? one.unsuitable.empty()
                                          : one.measures.net_savings > chosen->appraisal.measures.net_savings);
      if (better) chosen = std::move(worked);
    }
    Appraisal<N>& best = chosen->appraisal;
    const ledger::Sums<N>& sums = chosen->sums;
    best.defaults_used = std::move(prepared.home.defaults_used);
    best.income_tier = incentives::income_tier(program_->income, household.yearly_income_usd, household.occupants);
    best.cautions = best.simulated
                        ? hotwater::cautions(best.system, best.demand, best.heater, *best.simulated, *best.climate)
                        : hotwater::cautions(best.system, best.demand, best.heater, best.year, *best.climate);
    // Loans change no package's net savings: only the best package is offered with them.
    best.loans = loans_of(best, sums, household, *program_, stack_);
    BillsByFuel<N> bills = bills_by_fuel(best, sums);
    measure_more(best, sums, bills, *program_);
    if (program_->cost_tests) best.cost_tests = cost_tests(best, sums, std::move(bills), *program_, stack_, *catalog_);
    decide(best, *program_);
    attempt.appraisal = std::move(best);
  } catch (const errors::Error&) {
    attempt.failure = std::current_exception();
  }
  return attempt;
}

template <class N>
std::vector<Attempt<N>> Appraiser::appraise_many(std::span<const Household* const> households, hotwater::Detail detail,
                                                 Scratch& scratch, std::uint64_t closed_pools) const {
  std::vector<Prepared> prepared;
  prepared.reserve(households.size());
  std::vector<Job> jobs;
  for (const Household* household : households) {
    prepared.push_back(prepare(*household, scratch));
    jobs.insert(jobs.end(), prepared.back().jobs.begin(), prepared.back().jobs.end());
  }
  std::vector<Energy> energies = years_of(jobs, detail, scratch, wants_hours_of_day());

  incentives::Work work;
  std::vector<Attempt<N>> attempts;
  attempts.reserve(households.size());
  auto next = energies.begin();
  for (std::size_t h = 0; h < households.size(); ++h) {
    const auto end = next + static_cast<std::ptrdiff_t>(prepared[h].jobs.size());
    std::vector<Energy> own(std::make_move_iterator(next), std::make_move_iterator(end));
    attempts.push_back(conclude<N>(*households[h], std::move(prepared[h]), std::move(own), work, closed_pools));
    next = end;
  }
  return attempts;
}

const climate::Climate* Appraiser::climate_of(const Household& household, Scratch& scratch) const {
  try {
    return find_climate(household, *program_, *catalog_, scratch).climate;
  } catch (const errors::Error&) {
    return nullptr;
  }
}

void Appraiser::check(const Household& household, Scratch& scratch) const {
  const Home home = settle(household, *program_, *catalog_, scratch);
  const auto place = scratch.hourly_place(*home.station.climate);
  for (const std::size_t index : home.candidates) {
    const Job job = job_of(home, program_->packages[index]);
    hotwater::check({job.system, job.plant, job.demand, job.heater, nullptr, nullptr}, place->mains_c);
  }
}

template <class N>
Appraisal<N> Appraiser::appraise(const Household& household, hotwater::Detail detail, Scratch& scratch) const {
  const Household* one = &household;
  std::vector<Attempt<N>> attempts = appraise_many<N>(std::span(&one, 1), detail, scratch);
  if (attempts[0].failure) std::rethrow_exception(attempts[0].failure);
  return std::move(*attempts[0].appraisal);
}

template Attempt<double> Appraiser::conclude<double>(const Household&, Prepared&&, std::vector<Energy>&&,
                                                     incentives::Work&, std::uint64_t) const;
template Attempt<Decimal> Appraiser::conclude<Decimal>(const Household&, Prepared&&, std::vector<Energy>&&,
                                                       incentives::Work&, std::uint64_t) const;
template std::vector<Attempt<double>> Appraiser::appraise_many<double>(std::span<const Household* const>,
                                                                       hotwater::Detail, Scratch&, std::uint64_t) const;
template Appraisal<double> Appraiser::appraise<double>(const Household&, hotwater::Detail, Scratch&) const;
template std::vector<Attempt<Decimal>> Appraiser::appraise_many<Decimal>(std::span<const Household* const>,
                                                                         hotwater::Detail, Scratch&,
                                                                         std::uint64_t) const;
template Appraisal<Decimal> Appraiser::appraise<Decimal>(const Household&, hotwater::Detail, Scratch&) const;

}  // namespace warmledger::appraisal
