#include "warmledger/ledger/ledger.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "warmledger/economics/measures.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::ledger {

using money::Decimal;

std::string_view name_of(World world) {
  return world == World::without ? "without" : "with";
}

std::string_view name_of(Category category) {
  static constexpr std::array<std::string_view, category_count> names{
      "installed cost",   "incentive", "loan advance", "loan payment",   "fuel",
      "pump electricity", "upkeep",    "replacement",  "remaining value"};
  return names.at(static_cast<std::size_t>(category));
}

template <class N>
void Ledger<N>::add(Series<N> series) {
  errors::require_in_range("first_month", series.first_month, 0, 1e6, "months");
  errors::require_in_range("step_months", series.step_months, 1, 1e6, "months");
  const int fitting = series.first_month > months() ? 0 : (months() - series.first_month) / series.step_months + 1;
  if (series.amounts.size() > static_cast<std::size_t>(fitting))
    series.amounts.resize(static_cast<std::size_t>(fitting));
  if (!series.amounts.empty()) series_.push_back(std::move(series));
}

namespace {

template <class N>
void accumulate(const Series<N>& series, bool negative, std::vector<N>& into) {
  auto month = static_cast<std::size_t>(series.first_month);
  for (const N& amount : series.amounts) {
    if (negative) {
      into[month] -= amount;
    } else {
      into[month] += amount;
    }
    month += static_cast<std::size_t>(series.step_months);
  }
}

/// Sums the series that `wanted` accepts; those of the without world are subtracted when `as_difference`.
template <class N, class Wanted>
std::vector<N> sum_of(const Ledger<N>& ledger, bool as_difference, const Wanted& wanted) {
  std::vector<N> sums(static_cast<std::size_t>(ledger.months()) + 1, N(0));
  for (const Series<N>& series : ledger.series()) {
    if (wanted(series)) accumulate(series, as_difference && series.world == World::without, sums);
  }
  return sums;
}

}  // namespace

template <class N>
std::vector<N> Ledger<N>::flows(World world) const {
  return sum_of(*this, false, [world](const Series<N>& s) { return s.world == world; });
}

template <class N>
std::vector<N> Ledger<N>::flows(World world, Category category) const {
  return sum_of(*this, false, [=](const Series<N>& s) { return s.world == world && s.category == category; });
}

template <class N>
std::vector<N> Ledger<N>::difference() const {
  return sum_of(*this, true, [](const Series<N>&) { return true; });
}

template <class N>
std::vector<N> Ledger<N>::difference(Category category) const {
  return sum_of(*this, true, [category](const Series<N>& s) { return s.category == category; });
}

template <class N>
std::vector<Entry<N>> Ledger<N>::entries() const {
  std::vector<Entry<N>> all;
  for (const Series<N>& series : series_) {
    int month = series.first_month;
    for (const N& amount : series.amounts) {
      if (amount != N(0)) {
        all.push_back({month, dates::add_months(start_, month), series.world, series.category, amount, &series.reason});
      }
      month += series.step_months;
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Entry<N>& a, const Entry<N>& b) {
    return std::tuple(a.month, a.world, a.category) < std::tuple(b.month, b.world, b.category);
  });
  return all;
}

template <class N>
std::vector<N> by_year(std::span<const N> monthly) {
  if (monthly.empty()) return {};
  std::vector<N> years((monthly.size() - 1 + 11) / 12 + 1, N(0));
  years[0] = monthly[0];
  for (std::size_t month = 1; month < monthly.size(); ++month) years[(month + 11) / 12] += monthly[month];
  return years;
}

template <class N>
std::vector<N> constant_dollars(std::span<const N> monthly, double inflation_rate) {
  std::vector<N> constant(monthly.begin(), monthly.end());
  const N factor = N(1) / N(N(1) + economics::monthly_rate(N(inflation_rate)));
  N deflator(1);
  for (N& amount : constant) {
    amount *= deflator;
    deflator *= factor;
  }
  return constant;
}

climate::Monthly bills_from(const climate::Monthly& calendar, dates::Date install_date) {
  climate::Monthly bills{};
  const int month = dates::month_of(install_date) - 1;
  for (int k = 0; k < 12; ++k) {
    const int begins = (month + k) % 12;
    const int ends = (begins + 1) % 12;
    // Share of a calendar month that is over on the billing day; the same rule at both ends, so nothing is lost.
    const auto over = [&](int index) {
      return std::min(1.0, static_cast<double>(dates::day_of(install_date) - 1) / dates::days_in_month_365(index + 1));
    };
    bills[static_cast<std::size_t>(k)] = (1.0 - over(begins)) * calendar[static_cast<std::size_t>(begins)] +
                                         over(ends) * calendar[static_cast<std::size_t>(ends)];
  }
  return bills;
}

void check(const Plan& plan) {
  errors::require_in_range("study_years", plan.study_years, 1, 50, "years");
  errors::require_in_range("inflation_rate", plan.inflation_rate, -0.5, 1.0, "(0.02 is 2 %)");
  errors::require_in_range("installed_cost_usd", plan.installed_cost_usd, 0, 1e9, "dollars");
  errors::require_in_range("system_life_years", plan.system_life_years, 1, 100, "years");
  errors::require_in_range("heater_years_left", plan.heater_years_left, 0, 100, "years");
  errors::require_in_range("heater_life_years", plan.heater_life_years, 1, 100, "years");
  errors::require_in_range("heater_replacement_usd", plan.heater_replacement_usd, 0, 1e6, "dollars");
  for (const Plan::Purchase* purchase : {&plan.fuel_without, &plan.fuel_with, &plan.pump}) {
    errors::require_in_range("usd_per_unit", purchase->usd_per_unit, 0, 1e4, "dollars");
    errors::require_in_range("yearly_rate", purchase->escalation.yearly_rate, -0.5, 1.0, "(0.02 is 2 %)");
    for (const double units : purchase->units) errors::require_in_range("units", units, 0, 1e9);
  }
  for (const prices::Upkeep& item : plan.upkeep) {
    errors::require_in_range("upkeep usd", item.usd, 0, 1e6, "dollars");
    errors::require_in_range("first_year", item.first_year, 1, 100, "years");
    errors::require_in_range("every_years", item.every_years, 1, 100, "years");
  }
}

namespace {

/// Builds the series of a plan one world at a time.
template <class N>
class Builder {
 public:
  explicit Builder(const Plan& plan)
      : plan_(plan),
        ledger_(plan.install_date, plan.study_years),
        inflation_(prices::price_indices<N>({plan.inflation_rate}, plan.study_years + 1)),
        served_years_(std::min(plan.study_years, plan.system_life_years)) {}

  Ledger<N> run() {
    first_cost();
    bills(World::without, Category::fuel, plan_.fuel_without, 0, plan_.study_years,
          "at today's price, rising each year");
    bills(World::with, Category::fuel, plan_.fuel_with, 0, served_years_, "at today's price, rising each year");
    bills(World::with, Category::pump_electricity, plan_.pump, 0, served_years_, "collector pumps");
    if (served_years_ < plan_.study_years) {
      bills(World::with, Category::fuel, plan_.fuel_without, served_years_, plan_.study_years,
            "after the system's life, as without it");
    }
    for (const prices::Upkeep& item : plan_.upkeep) upkeep(item);
    heaters(World::without, plan_.heater_years_left);
    if (plan_.heater_stays) {
      heaters(World::with, plan_.heater_years_left);
    } else if (served_years_ < plan_.study_years) {
      heaters(World::with, served_years_);
    }
    if (plan_.system_life_years > plan_.study_years) {
      const N left = N(1) - N(plan_.study_years) / N(plan_.system_life_years);
      N paid = money::round_cents(N(plan_.installed_cost_usd));
      for (const Award& award : plan_.awards) paid -= money::round_cents(N(award.usd));
      remaining(World::with, N(std::max(paid, N(0)) * left),
                "system, straight line over its life on the cost after incentives");
    }
    return std::move(ledger_);
  }

 private:
  void once(World world, Category category, int month, const N& amount, std::string reason) {
    if (amount == N(0) || month > ledger_.months()) return;
    ledger_.add({world, category, std::move(reason), month, 1, {amount}});
  }

  void first_cost() {
    once(World::with, Category::installed_cost, 0, N(-money::round_cents(N(plan_.installed_cost_usd))),
         plan_.installed_cost_reason);
    for (const Award& award : plan_.awards) {
      once(World::with, Category::incentive, month_on_or_after(award.date), money::round_cents(N(award.usd)),
           award.reason);
    }
  }

  [[nodiscard]] int month_on_or_after(dates::Date date) const {
    int month = (dates::year_of(date) - dates::year_of(plan_.install_date)) * 12 + dates::month_of(date) -
                dates::month_of(plan_.install_date);
    if (dates::days_between(dates::add_months(plan_.install_date, month), date) > 0) ++month;
    return std::max(month, 0);
  }

  void bills(World world, Category category, const Plan::Purchase& purchase, int from_year, int to_year,
             std::string_view how) {
    const climate::Monthly units = bills_from(purchase.units, plan_.install_date);
    if (std::all_of(units.begin(), units.end(), [](double u) { return u == 0; })) return;
    const std::vector<N> index = prices::price_indices<N>(purchase.escalation, to_year);
    std::array<N, 12> year_one;
    for (std::size_t k = 0; k < 12; ++k) year_one[k] = N(-N(units[k]) * N(purchase.usd_per_unit));
    Series<N> series{world, category, fmt::format("{}, {}", prices::name_of(purchase.fuel), how), from_year * 12 + 1,
                     1,     {}};
    series.amounts.reserve(static_cast<std::size_t>(to_year - from_year) * 12);
    for (int year = from_year; year < to_year; ++year) {
      for (const N& bill : year_one) series.amounts.push_back(N(bill * index[static_cast<std::size_t>(year)]));
    }
    ledger_.add(std::move(series));
  }

  void upkeep(const prices::Upkeep& item) {
    Series<N> series{World::with,
                     item.replaces_part ? Category::replacement : Category::upkeep,
                     item.what,
                     item.first_year * 12,
                     item.every_years * 12,
                     {}};
    // Nothing is spent on a system in the month in which its life or the study ends.
    for (int year = item.first_year; year < served_years_; year += item.every_years) {
      series.amounts.push_back(N(-N(item.usd) * inflation_[static_cast<std::size_t>(year)]));
    }
    ledger_.add(std::move(series));
  }

  /// Replacements of the household's heater from `years_left` on, and what the last one is worth at the end.
  void heaters(World world, double years_left) {
    const double study = plan_.study_years;
    double at = years_left;
    double bought = years_left - plan_.heater_life_years;
    for (; at < study; at += plan_.heater_life_years) {
      const int month = static_cast<int>(std::lround(at * 12));
      once(world, Category::replacement, month, N(-N(plan_.heater_replacement_usd) * inflation_at(month)),
           "water heater replaced at the end of its life");
      bought = at;
    }
    const double left = std::clamp(1.0 - (study - bought) / plan_.heater_life_years, 0.0, 1.0);
    remaining(world, N(N(plan_.heater_replacement_usd) * N(left)), "water heater, straight line over its life");
  }

  [[nodiscard]] N inflation_at(int month) const {
    if (month % 12 == 0) return inflation_[static_cast<std::size_t>(month / 12)];
    return economics::single_present_value(N(plan_.inflation_rate), N(N(-month) / N(12)));
  }

  void remaining(World world, const N& today_usd, std::string_view reason) {
    once(world, Category::remaining_value, ledger_.months(), N(today_usd * inflation_.back()), std::string(reason));
  }

  const Plan& plan_;
  Ledger<N> ledger_;
  std::vector<N> inflation_;
  int served_years_;
};

}  // namespace

template <class N>
Ledger<N> build(const Plan& plan) {
  check(plan);
  return Builder<N>(plan).run();
}

template <class N>
std::array<Series<N>, 3> loan_series(const loans::Schedule<N>& schedule, const std::string& title, int study_months) {
  std::array<Series<N>, 3> series{
      Series<N>{World::with, Category::loan_advance, title, 0, 1, {}},
      Series<N>{World::with, Category::loan_payment, title, 1, 1, {}},
      Series<N>{
          World::with, Category::loan_payment, title + ", balance owed at the end of the study", study_months, 1, {}}};
  if (schedule.amount == N(0)) return series;
  series[0].amounts.push_back(schedule.amount);
  for (const loans::Payment<N>& line : schedule.payments) {
    if (line.number > study_months) break;
    series[1].amounts.push_back(N(-line.payment));
    if (line.number == study_months && line.balance > N(0)) series[2].amounts.push_back(N(-line.balance));
  }
  return series;
}

#define WARMLEDGER_INSTANTIATE(N)                                          \
  template class Ledger<N>;                                                \
  template std::vector<N> by_year<N>(std::span<const N>);                  \
  template std::vector<N> constant_dollars<N>(std::span<const N>, double); \
  template Ledger<N> build<N>(const Plan&);                                \
  template std::array<Series<N>, 3> loan_series<N>(const loans::Schedule<N>&, const std::string&, int);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::ledger
