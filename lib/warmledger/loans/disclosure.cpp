#include "warmledger/loans/disclosure.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include "warmledger/errors/errors.hpp"

namespace warmledger::loans {

using money::Decimal;
using Kind = UnitPeriod::Kind;

namespace {

unsigned last_day(dates::Date date) {
  return dates::days_in_month(dates::year_of(date), static_cast<unsigned>(dates::month_of(date)));
}

bool on_series_day(dates::Date date, int day) {
  return dates::day_of(date) == std::min(day, static_cast<int>(last_day(date)));
}

/// Whole months between two days of one series, or 0.
int whole_months(dates::Date from, dates::Date to, int day) {
  if (!on_series_day(from, day) || !on_series_day(to, day)) return 0;
  return 12 * (dates::year_of(to) - dates::year_of(from)) + dates::month_of(to) - dates::month_of(from);
}

int days_of(UnitPeriod period) {
  switch (period.kind) {
    case Kind::day:
      return 1;
    case Kind::week:
      return 7 * period.count;
    case Kind::semimonth:
      return 15;
    case Kind::month:
      return 30 * period.count;
    case Kind::year:
      return 365;
  }
  return 0;
}

/// Every standard interval, short to long.
const std::vector<UnitPeriod>& standard_intervals() {
  static const std::vector<UnitPeriod> all = [] {
    std::vector<UnitPeriod> list{{Kind::day, 1}, {Kind::semimonth, 1}, {Kind::year, 1}};
    for (int weeks = 1; weeks <= 52; ++weeks) list.push_back({Kind::week, weeks});
    for (int months = 1; months <= 11; ++months) list.push_back({Kind::month, months});
    std::sort(list.begin(), list.end(), [](UnitPeriod a, UnitPeriod b) { return days_of(a) < days_of(b); });
    return list;
  }();
  return all;
}

/// The day of the month that most dates of a series share: 31 when all of them end their months.
int series_day_of(std::span<const dates::Date> series) {
  std::array<int, 32> hits{};
  for (const dates::Date date : series) {
    for (int day = 1; day <= 31; ++day) hits[static_cast<std::size_t>(day)] += on_series_day(date, day);
  }
  // Of equal days the one that the last date shows: 29 to 31 all fit a February.
  const int shown = dates::day_of(series.back());
  int best = std::all_of(series.begin(), series.end(), [](dates::Date d) { return on_series_day(d, 31); }) ? 31 : shown;
  for (int day = 1; day <= 31; ++day) {
    if (hits[static_cast<std::size_t>(day)] > hits[static_cast<std::size_t>(best)]) best = day;
  }
  return best;
}

/// True when neighbours are half a month apart: both days of the month 15 from each other, or the 15th and the last.
bool half_months_apart(dates::Date from, dates::Date to) {
  const int days = dates::days_between(from, to);
  if (days < 13 || days > 16) return false;
  const int a = dates::day_of(from);
  const int b = dates::day_of(to);
  return std::abs(a - b) == 15 || (a == 15 && on_series_day(to, 31)) || (on_series_day(from, 31) && b == 15);
}

}  // namespace

Rhythm rhythm_of(std::span<const dates::Date> dates) {
  if (dates.size() < 2) {
    throw errors::MissingValue({{"", {}, {}, "dates"}, "", "are missing", "an advance and a payment"});
  }
  // The start need not fall on the day of the payments.
  const int day = series_day_of(dates.size() > 2 ? dates.subspan(1) : dates);
  const std::vector<UnitPeriod>& intervals = standard_intervals();
  std::vector<int> hits(intervals.size(), 0);
  int total = 0;
  int count = 0;
  for (std::size_t k = 1; k < dates.size(); ++k) {
    const int days = dates::days_between(dates[k - 1], dates[k]);
    if (days == 0) continue;
    total += days;
    ++count;
    const int months = whole_months(dates[k - 1], dates[k], day);
    const bool half = half_months_apart(dates[k - 1], dates[k]);
    for (std::size_t i = 0; i < intervals.size(); ++i) {
      const UnitPeriod p = intervals[i];
      hits[i] += (p.kind == Kind::day && days == 1) || (p.kind == Kind::week && days == 7 * p.count) ||
                 (p.kind == Kind::semimonth && half) || (p.kind == Kind::month && months == p.count) ||
                 (p.kind == Kind::year && months == 12);
    }
  }
  const auto most = std::max_element(hits.begin(), hits.end());  // the first: the shortest of equals
  if (*most > 1 || (*most == 1 && count == 1)) {
    return {intervals[static_cast<std::size_t>(most - hits.begin())], day};
  }
  const double average = count == 0 ? 1.0 : static_cast<double>(total) / count;
  const auto nearest = std::min_element(intervals.begin(), intervals.end(), [average](UnitPeriod a, UnitPeriod b) {
    return std::fabs(days_of(a) - average) < std::fabs(days_of(b) - average);
  });
  return {*nearest, day};
}

template <class N>
DatedDisclosure<N> disclose(std::span<const DatedFlow<N>> advances, std::span<const DatedFlow<N>> payments,
                            const N& prepaid_finance_charge) {
  std::vector<DatedFlow<N>> out;
  std::vector<DatedFlow<N>> back;
  std::copy_if(advances.begin(), advances.end(), std::back_inserter(out),
               [](const auto& f) { return f.amount != N(0); });
  std::copy_if(payments.begin(), payments.end(), std::back_inserter(back),
               [](const auto& f) { return f.amount != N(0); });
  const auto earlier = [](const DatedFlow<N>& a, const DatedFlow<N>& b) { return a.date < b.date; };
  std::stable_sort(out.begin(), out.end(), earlier);
  std::stable_sort(back.begin(), back.end(), earlier);

  DatedDisclosure<N> shown;
  shown.number_of_payments = static_cast<int>(back.size());
  const auto without_rate = [&](std::string_view why) {
    for (const auto& flow : out) shown.amount_financed += flow.amount;
    shown.amount_financed -= prepaid_finance_charge;
    for (const auto& flow : back) shown.total_of_payments += flow.amount;
    shown.finance_charge = N(shown.total_of_payments - shown.amount_financed);
    shown.annual_percentage_rate = {std::nullopt, why};
    return shown;
  };
  if (out.empty()) return without_rate("nothing is advanced");
  if (back.empty()) return without_rate("nothing is paid back");
  const dates::Date start = out.front().date;
  if (back.front().date < start) return without_rate("a payment falls before the first advance");
  if (back.back().date == start) return without_rate("everything is paid back on the day of the advance");

  std::vector<Flow<N>> q;
  std::vector<Flow<N>> t;
  if (out.size() == 1 && back.size() == 1) {
    const SinglePayment single = single_payment(start, back.front().date);
    shown.unit_periods_per_year = N(N(single.per_year_numerator) / N(single.per_year_denominator));
    q.push_back({out.front().amount, 0, N(0)});
    t.push_back(flow_at(back.front().amount, single.time));
  } else {
    std::vector<dates::Date> days;
    days.reserve(out.size() + back.size());
    for (const auto& flow : out) days.push_back(flow.date);
    for (const auto& flow : back) days.push_back(flow.date);
    std::sort(days.begin(), days.end());
    const Rhythm rhythm = rhythm_of(days);
    shown.unit_periods_per_year = unit_periods_per_year<N>(rhythm.unit_period);
    const auto timed = [&](const DatedFlow<N>& flow) {
      // Only days of the series are counted from its day; a stray one is counted from its own.
      const int day = on_series_day(flow.date, rhythm.series_day) ? rhythm.series_day : 0;
      return flow_at(flow.amount, unit_periods(start, flow.date, rhythm.unit_period, day));
    };
    q.reserve(out.size());
    t.reserve(back.size());
    for (const auto& flow : out) q.push_back(timed(flow));
    for (const auto& flow : back) t.push_back(timed(flow));
  }
  static_cast<Disclosure<N>&>(shown) = disclose(std::span<const Flow<N>>(q), std::span<const Flow<N>>(t),
                                                prepaid_finance_charge, shown.unit_periods_per_year);
  return shown;
}

template <class N>
DatedDisclosure<N> disclose(const Schedule<N>& schedule) {
  const DatedFlow<N> advance{schedule.start, schedule.amount};
  std::vector<DatedFlow<N>> payments;
  payments.reserve(schedule.payments.size());
  for (const Payment<N>& line : schedule.payments) payments.push_back({line.date, line.payment});
  DatedDisclosure<N> shown =
      disclose(std::span<const DatedFlow<N>>(&advance, 1), std::span<const DatedFlow<N>>(payments),
               N(schedule.lending.dealer_fee + schedule.lending.points_and_fee));
  for (N* amount : {&shown.amount_financed, &shown.finance_charge, &shown.total_of_payments}) {
    *amount = money::round_cents(*amount);  // sums of cents; a double drifts in its last bits
  }
  return shown;
}

namespace {
template <class N>
using Flows = std::span<const DatedFlow<N>>;
}  // namespace

#define WARMLEDGER_INSTANTIATE(N)                                        \
  template DatedDisclosure<N> disclose<N>(Flows<N>, Flows<N>, const N&); \
  template DatedDisclosure<N> disclose<N>(const Schedule<N>&);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::loans
