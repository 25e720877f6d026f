// The 50-digit path beside double, as ratios in one run: an offer's measures, a loan's schedule, a ledger with its
// sums, and a whole appraisal. Processor time, medians of several rounds taken in turns.
#include <algorithm>
#include <cstdio>
#include <ctime>
#include <memory>
#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/economics/measures.hpp"
#include "warmledger/ledger/ledger.hpp"
#include "warmledger/ledger/offers.hpp"
#include "warmledger/loans/schedule.hpp"

using namespace warmledger;
using money::Decimal;

namespace {

double processor_seconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

template <class Work>
double seconds_each(int times, const Work& work) {
  const double start = processor_seconds();
  for (int k = 0; k < times; ++k) work();
  return (processor_seconds() - start) / times;
}

double median(std::vector<double> values) {
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2), values.end());
  return values[values.size() / 2];
}

/// So that nothing is optimised away.
double kept = 0;

template <class InDouble, class InDecimal>
void compare(const char* what, int times, const InDouble& in_double, const InDecimal& in_decimal) {
  std::vector<double> fast;
  std::vector<double> exact;
  std::vector<double> ratios;
  for (int round = 0; round < 7; ++round) {
    fast.push_back(seconds_each(times * 20, in_double));
    exact.push_back(seconds_each(times, in_decimal));
    ratios.push_back(exact.back() / fast.back());
  }
  std::printf("%-40s %10.2f us %12.1f us %8.1f x  (%.1f to %.1f)\n", what, median(fast) * 1e6, median(exact) * 1e6,
              median(ratios), *std::min_element(ratios.begin(), ratios.end()),
              *std::max_element(ratios.begin(), ratios.end()));
}

ledger::Offer offer() {
  ledger::Offer o;
  o.installed_cost_usd = 6400;
  o.bills_without_usd.fill(48.12);
  o.bills_with_usd.fill(15.77);
  o.pump_usd.fill(0.91);
  o.fuel_escalation = 0.031;
  o.electricity_escalation = 0.022;
  o.inflation_rate = 0.021;
  o.nominal_discount_rate = 0.055;
  o.upkeep_usd_year = 35;
  o.system_life_years = 25;
  o.heat_saved_kwh_year = 2600;
  o.fuel_price_usd = 0.14;
  o.loan_usd = 4000;
  o.loan_yearly_rate = 0.0725;
  o.loan_term_months = 120;
  for (std::size_t k = 0; k < 4; ++k) o.incentives[k] = {static_cast<int>(6 * k), 300};
  return o;
}

ledger::Plan plan() {
  ledger::Plan p;
  p.install_date = dates::make_date(2026, 3, 10);
  p.study_years = 30;
  p.inflation_rate = 0.021;
  p.installed_cost_usd = 6400;
  for (int k = 0; k < 4; ++k) p.awards.push_back({dates::add_months(p.install_date, 6 * k), 300, "help"});
  p.fuel_without.units.fill(340);
  p.fuel_with.units.fill(110);
  p.pump.units.fill(6.5);
  for (auto* purchase : {&p.fuel_without, &p.fuel_with, &p.pump}) {
    purchase->usd_per_unit = 0.14;
    purchase->escalation.yearly_rate = 0.031;
  }
  p.system_life_years = 25;
  p.upkeep.push_back({"service", 35, 1, 1, false});
  p.upkeep.push_back({"pump", 300, 12, 12, true});
  p.heater_years_left = 4;
  p.heater_replacement_usd = 1500;
  return p;
}

template <class N>
void offer_measures() {
  static const ledger::Offer one = offer();
  kept += money::to_double(ledger::measures_of<N>(one, 30).net_savings);
}

template <class N>
void loan_schedule() {
  static const loans::LoanTerms terms{.id = "", .title = "", .yearly_rate = 0.0725, .term_months = 120};
  static const dates::Date start = dates::make_date(2026, 3, 10);
  kept += money::to_double(loans::make_schedule<N>(N(4000), terms, start).total_interest);
}

template <class N>
void ledger_sums() {
  static const ledger::Plan one = plan();
  static const N rate = economics::monthly_rate(N(0.055));
  const ledger::Ledger<N> book = ledger::build<N>(one);
  const std::vector<N> flows = book.difference();
  kept += money::to_double(economics::net_present_value(rate, std::span<const N>(flows)));
  if (const auto years = economics::discounted_payback(rate, std::span<const N>(flows)); years.value)
    kept += money::to_double(*years.value);
}

}  // namespace

int main(int count, char** arguments) {
  std::printf("%-40s %13s %15s %10s\n", "30 years of months, one processor", "double", "50 digits", "ratio");
  compare("measures of an offer", 60, offer_measures<double>, offer_measures<Decimal>);
  compare("schedule of a loan of 120 months", 400, loan_schedule<double>, loan_schedule<Decimal>);
  compare("ledger, net savings, discounted payback", 60, ledger_sums<double>, ledger_sums<Decimal>);
  if (count == 3) {
    const auto data = std::make_shared<catalog::Catalog>(catalog::read_catalog(arguments[1]));
    const auto program = std::make_shared<catalog::Program>(catalog::read_program(arguments[2], *data));
    const appraisal::Appraiser appraiser(program, data);
    catalog::Household household;
    household.id = "first";
    household.place = program->places.front().name;
    household.occupants = 4;
    household.yearly_income_usd = 52000;
    household.heater_fuel = prices::Fuel::propane;
    appraisal::Scratch scratch;
    const auto appraise = [&]<class N>(N /*type*/) {
      kept +=
          money::to_double(appraiser.appraise<N>(household, hotwater::Detail::monthly, scratch).measures.net_savings);
    };
    compare(
        "whole appraisal, monthly detail", 20, [&] { appraise(0.0); }, [&] { appraise(Decimal(0)); });
  } else {
    std::printf("(number_types_bench DATA_FOLDER PROGRAM.toml adds a whole appraisal)\n");
  }
  return kept == 0 ? 1 : 0;
}
