// Offers side by side: the same money as the ledger lays out entry by entry, the same bits alone and in company.
#include "warmledger/ledger/offers.hpp"

#include <cmath>
#include <cstring>
#include <random>

#include <doctest/doctest.h>

#include "warmledger/economics/internal_rate.hpp"
#include "warmledger/economics/more_measures.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/ledger/ledger.hpp"
#include "warmledger/loans/schedule.hpp"

using namespace warmledger;
using ledger::Offer;
using money::Decimal;

namespace {

class Invented {
 public:
  explicit Invented(unsigned seed) : engine_(seed) {}
  double uniform(double low, double high) { return low + (high - low) * std::generate_canonical<double, 53>(engine_); }
  int whole(int low, int high) { return static_cast<int>(std::floor(uniform(low, high + 1))); }

  Offer offer() {
    Offer o;
    o.installed_cost_usd = uniform(1500, 12000);
    for (std::size_t m = 0; m < 12; ++m) {
      o.bills_without_usd[m] = uniform(10, 90);
      o.bills_with_usd[m] = o.bills_without_usd[m] * uniform(0.05, 0.9);
      o.pump_usd[m] = uniform(0, 2);
    }
    o.fuel_escalation = uniform(-0.02, 0.07);
    o.electricity_escalation = uniform(-0.01, 0.05);
    o.inflation_rate = uniform(0, 0.05);
    o.nominal_discount_rate = uniform(-0.02, 0.12);
    o.upkeep_usd_year = uniform(0, 60);
    o.system_life_years = whole(5, 40);
    o.heat_saved_kwh_year = uniform(500, 4000);
    o.fuel_price_usd = uniform(0.1, 4);
    if (whole(0, 3) > 0) {
      o.loan_usd = std::round(uniform(500, 9000) * 100) / 100;
      o.loan_yearly_rate = whole(0, 4) == 0 ? 0 : uniform(0.001, 0.18);
      o.loan_term_months = whole(1, 240);
    }
    for (std::size_t k = 0; k < 4; ++k) o.incentives[k] = {whole(0, 40), uniform(0, 1200)};
    return o;
  }

 private:
  std::mt19937_64 engine_;
};

/// The same offer as a plan for the ledger, installed on 1 January so that a bill is a calendar month.
ledger::Plan plan_of(const Offer& o, int years, int replaced_year, double replaced_usd) {
  ledger::Plan plan;
  plan.install_date = dates::make_date(2026, 1, 1);
  plan.study_years = years;
  plan.inflation_rate = o.inflation_rate;
  plan.installed_cost_usd = o.installed_cost_usd;
  for (const ledger::DatedAmount& a : o.incentives) {
    if (a.usd != 0) plan.awards.push_back({dates::add_months(plan.install_date, a.month), a.usd, "help"});
  }
  const auto purchase = [](const std::array<double, 12>& bills, prices::Fuel fuel, double escalation) {
    ledger::Plan::Purchase p;
    p.fuel = fuel;
    std::copy(bills.begin(), bills.end(), p.units.begin());
    p.usd_per_unit = 1;
    p.escalation.yearly_rate = escalation;
    return p;
  };
  plan.fuel_without = purchase(o.bills_without_usd, prices::Fuel::propane, o.fuel_escalation);
  plan.fuel_with = purchase(o.bills_with_usd, prices::Fuel::propane, o.fuel_escalation);
  plan.pump = purchase(o.pump_usd, prices::Fuel::electricity, o.electricity_escalation);
  plan.system_life_years = o.system_life_years;
  plan.upkeep.push_back({"service", o.upkeep_usd_year, 1, 1, false});
  if (replaced_usd > 0) plan.upkeep.push_back({"pump", replaced_usd, replaced_year, 100, true});
  plan.heater_years_left = 100;
  plan.heater_life_years = 100;
  return plan;
}

template <class N>
std::vector<double> numbers(const ledger::OfferMeasures<N>& m) {
  const auto value = [](const economics::Measure<N>& measure) {
    return measure.value ? money::to_double(*measure.value) : std::nan("");
  };
  std::vector<double> all;
  for (const N& n :
       {m.net_cost, m.due_at_install, m.first_year_saving, m.savings_present_value, m.investment_present_value,
        m.net_savings, m.life_cycle_cost_without, m.life_cycle_cost_with, m.equivalent_annual_value})
    all.push_back(money::to_double(n));
  for (const economics::Measure<N>* n :
       {&m.simple_payback_years, &m.discounted_payback_years, &m.lasting_simple_payback_years,
        &m.lasting_discounted_payback_years, &m.savings_to_investment, &m.adjusted_internal_rate_of_return,
        &m.internal_rate_of_return, &m.levelised_cost_usd_per_kwh, &m.break_even_fuel_price_usd,
        &m.break_even_installed_cost_usd})
    all.push_back(value(*n));
  for (const N& n : {m.loan_payment, m.loan_interest, m.net_savings_with_loan, m.average_month_net, m.lowest_month_net,
                     m.months_out_of_pocket, m.deepest_point, m.owed_at_end})
    all.push_back(money::to_double(n));
  return all;
}

bool close(double a, double b) {
  return (std::isnan(a) && std::isnan(b)) || std::abs(a - b) <= 1e-9 * std::max({1.0, std::abs(a), std::abs(b)});
}

}  // namespace

TEST_CASE("an offer's measures are those of the ledger that lists every amount") {
  Invented invented(20260101);
  for (int k = 0; k < 400; ++k) {
    Offer o = invented.offer();
    const int years = invented.whole(1, 35);
    const int served = std::min(years, o.system_life_years);
    const int replaced_year = std::max(1, served - 1);
    const double replaced = served > 1 ? 300 : 0;
    o.replacements[0] = {replaced_year * 12, replaced};
    const auto m = ledger::measures_of<double>(o, years);
    const auto book = ledger::build<double>(plan_of(o, years, replaced_year, replaced));
    const double rate = economics::monthly_rate(o.nominal_discount_rate);
    std::vector<double> flows = book.difference();
    CAPTURE(k);
    CHECK(m.net_savings == doctest::Approx(economics::net_present_value(rate, std::span<const double>(flows))));
    const std::vector<double> yearly = ledger::by_year(std::span<const double>(flows));
    const auto irr = economics::internal_rate_of_return(std::span<const double>(yearly));
    REQUIRE(irr.value.has_value() == m.internal_rate_of_return.value.has_value());
    if (irr.value) CHECK(*m.internal_rate_of_return.value == doctest::Approx(*irr.value).epsilon(1e-9));
    flows.back() -= book.difference(ledger::Category::remaining_value).back();
    const std::span<const double> cash(flows);
    const auto same = [](const economics::Measure<double>& years_found, const economics::Measure<double>& months) {
      REQUIRE(years_found.value.has_value() == months.value.has_value());
      if (months.value) CHECK(*years_found.value * 12 == doctest::Approx(*months.value).epsilon(1e-9));
    };
    same(m.simple_payback_years, economics::payback(cash));
    same(m.discounted_payback_years, economics::discounted_payback(rate, cash));
    same(m.lasting_simple_payback_years, economics::lasting_payback(cash));
    same(m.lasting_discounted_payback_years, economics::lasting_discounted_payback(rate, cash));
    if (o.loan_usd > 0) {
      const auto schedule = loans::make_schedule(
          o.loan_usd, {.id = "", .title = "", .yearly_rate = o.loan_yearly_rate, .term_months = o.loan_term_months},
          book.start());
      CHECK(m.loan_payment == doctest::Approx(schedule.level_payment));
      if (o.loan_term_months <= years * 12) {
        CHECK(m.loan_interest == doctest::Approx(schedule.total_interest));
        CHECK(m.owed_at_end == 0);
      } else {
        CHECK(m.owed_at_end == doctest::Approx(schedule.payments.at(static_cast<std::size_t>(years * 12 - 1)).balance));
      }
      ledger::Ledger<double> financed(book.start(), years);
      for (auto& series : ledger::loan_series(schedule, "loan", book.start(), years * 12))
        financed.add(std::move(series));
      const std::vector<double> loan = financed.difference();
      CHECK(m.net_savings_with_loan ==
            doctest::Approx(m.net_savings + economics::net_present_value(rate, std::span<const double>(loan))));
      double running = 0;
      double deepest = 1e300;
      for (std::size_t t = 0; t < flows.size(); ++t) {
        running += flows[t] + loan[t];
        deepest = std::min(deepest, running);
      }
      CHECK(m.deepest_point == doctest::Approx(deepest));
    } else {
      CHECK(m.net_savings_with_loan == m.net_savings);
    }
  }
}

TEST_CASE("net savings vanish at the break-even values") {
  Invented invented(7);
  int fuel = 0;
  int cost = 0;
  for (int k = 0; k < 300; ++k) {
    Offer o = invented.offer();
    o.incentives = {};
    const auto m = ledger::measures_of<double>(o, 20);
    if (m.break_even_fuel_price_usd.value && *m.break_even_fuel_price_usd.value > 0) {
      Offer at = o;
      const double times = *m.break_even_fuel_price_usd.value / o.fuel_price_usd;
      for (double& bill : at.bills_without_usd) bill *= times;
      for (double& bill : at.bills_with_usd) bill *= times;
      CHECK(std::abs(ledger::measures_of<double>(at, 20).net_savings) < 1e-6);
      ++fuel;
    }
    if (m.break_even_installed_cost_usd.value && *m.break_even_installed_cost_usd.value > 0) {
      Offer at = o;
      at.installed_cost_usd = *m.break_even_installed_cost_usd.value;
      // The installed cost is rounded to cents.
      CHECK(std::abs(ledger::measures_of<double>(at, 20).net_savings) <= 0.0051);
      ++cost;
    }
  }
  CHECK(fuel > 200);
  CHECK(cost > 200);
}

TEST_CASE("both number types agree on an offer") {
  Invented invented(3);
  for (int k = 0; k < 40; ++k) {
    const Offer o = invented.offer();
    const int years = k % 4 == 0 ? 30 : 5;
    const std::vector<double> a = numbers(ledger::measures_of<double>(o, years));
    const std::vector<double> b = numbers(ledger::measures_of<Decimal>(o, years));
    REQUIRE(a.size() == ledger::offer_measure_count);
    for (std::size_t i = 0; i < a.size(); ++i) {
      CAPTURE(ledger::offer_measure_names()[i]);
      CHECK(close(a[i], b[i]));
    }
  }
}

TEST_CASE("offers side by side give what each gives alone, whatever the threads and neighbours") {
  Invented invented(11);
  std::vector<Offer> offers;
  for (int k = 0; k < 1203; ++k) offers.push_back(invented.offer());
  // An offer that changes sign twice, and one of nothing.
  offers[5].replacements[0] = {228, 30000};
  offers[6] = Offer{};
  for (const int years : {1, 20, 50}) {
    const auto table = ledger::measures_of(offers, years, 1);
    const auto threaded = ledger::measures_of(offers, years, 3);
    for (std::size_t c = 0; c < table.columns.size(); ++c) {
      CHECK(std::memcmp(table.columns[c].data(), threaded.columns[c].data(), offers.size() * sizeof(double)) == 0);
      CHECK(table.why_none[c] == threaded.why_none[c]);
    }
    for (std::size_t i = 0; i < offers.size(); i += 3) {
      const auto alone = numbers(ledger::measures_of<double>(offers[i], years));
      for (std::size_t c = 0; c < alone.size(); ++c) {
        CAPTURE(i);
        CAPTURE(ledger::offer_measure_names()[c]);
        const double found = table.columns[c][i];
        if (ledger::offer_measure_names()[c] == "internal_rate_of_return") {
          CHECK(close(found, alone[c]));
        } else {
          CHECK(std::memcmp(&found, &alone[c], sizeof(double)) == 0);
        }
        CHECK(std::isnan(found) == (table.why_none[c][i] != 0));
      }
    }
    const auto shifted = ledger::measures_of(std::span<const Offer>(offers).subspan(3), years, 1);
    for (std::size_t c = 0; c < table.columns.size(); ++c)
      CHECK(std::memcmp(table.columns[c].data() + 3, shifted.columns[c].data(), (offers.size() - 3) * sizeof(double)) ==
            0);
  }
  CHECK(ledger::measures_of(std::span<const Offer>(), 20).columns[0].empty());
}

TEST_CASE("undefined measures say why") {
  Offer o;
  o.installed_cost_usd = 5000;
  o.bills_without_usd.fill(1);
  o.bills_with_usd.fill(1);
  const auto m = ledger::measures_of<double>(o, 20);
  CHECK(m.simple_payback_years.why_none == "not recovered within the study period");
  CHECK(m.internal_rate_of_return.why_none == "all flows have one sign: nothing is both paid and received");
  CHECK(m.levelised_cost_usd_per_kwh.why_none == "no quantity is delivered");
  CHECK(m.break_even_fuel_price_usd.why_none == "the fuel price is not given");
  CHECK_FALSE(m.adjusted_internal_rate_of_return.value);
  CHECK(m.savings_to_investment.value == doctest::Approx(0.0));
}

TEST_CASE("an offer out of range is named by its row and member") {
  std::vector<Offer> offers(2000);
  offers[1700].fuel_escalation = 7;
  offers[1900].installed_cost_usd = -1;
  for (const unsigned threads : {1U, 4U}) {
    try {
      (void)ledger::measures_of(offers, 20, threads);
      FAIL("not refused");
    } catch (const errors::ValueOutOfRange& error) {
      CHECK(error.problem().where.row == 1701);
      CHECK(error.problem().where.key == "fuel_escalation");
      CHECK(error.problem().allowed.find("-0.5 to 1") != std::string::npos);
    }
  }
  CHECK_THROWS_AS((void)ledger::measures_of(std::span<const Offer>(offers).first(1), 51), errors::ValueOutOfRange);
  offers[0].loan_usd = std::nan("");
  CHECK_THROWS_AS((void)ledger::measures_of<double>(offers[0], 20), errors::ValueOutOfRange);
}
