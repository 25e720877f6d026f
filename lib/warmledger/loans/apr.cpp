#include "warmledger/loans/apr.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <string>
#include <utility>

#include <fmt/format.h>
#include <boost/math/tools/toms748_solve.hpp>

#include "warmledger/errors/errors.hpp"

namespace warmledger::loans {

using money::Decimal;

namespace {

template <class N>
void check_flows(std::string_view name, std::span<const Flow<N>> flows) {
  using boost::multiprecision::isfinite;
  using std::isfinite;
  for (std::size_t k = 0; k < flows.size(); ++k) {
    const Flow<N>& flow = flows[k];
    if (!isfinite(flow.amount) || flow.amount < N(0)) {
      throw errors::ValueOutOfRange({{"", {}, {}, fmt::format("{}[{}].amount", name, k)},
                                     errors::plain_number(money::to_double(flow.amount)),
                                     "is out of range",
                                     "finite amounts of 0 or more dollars"});
    }
    errors::require_in_range(fmt::format("{}[{}].whole_periods", name, k), flow.whole_periods, 0, 100000,
                             "unit-periods");
    errors::require_in_range(fmt::format("{}[{}].fraction", name, k), money::to_double(flow.fraction), 0, 1,
                             "of a unit-period");
  }
}

/// Flows of both kinds, payments positive and advances negative, in order of whole unit-periods.
template <class N>
std::vector<Flow<N>> net_flows(std::span<const Flow<N>> advances, std::span<const Flow<N>> payments) {
  std::vector<Flow<N>> flows;
  flows.reserve(advances.size() + payments.size());
  for (const Flow<N>& advance : advances) {
    if (advance.amount > N(0)) flows.push_back({N(-advance.amount), advance.whole_periods, advance.fraction});
  }
  for (const Flow<N>& payment : payments) {
    if (payment.amount > N(0)) flows.push_back(payment);
  }
  std::stable_sort(flows.begin(), flows.end(),
                   [](const Flow<N>& a, const Flow<N>& b) { return a.whole_periods < b.whole_periods; });
  return flows;
}

template <class N>
N whole_power(const N& base, int exponent) {
  N result(1);
  N square = base;
  for (int rest = exponent; rest > 0; rest /= 2) {
    if (rest % 2 == 1) result *= square;
    if (rest > 1) square *= square;
  }
  return result;
}

/// Payments less advances at the rate exp(y) - 1 a unit-period, times a positive factor. Valued at the first flow for
/// rates of 0 and more and at the last one below 0, so that no power overflows and the sign survives.
template <class N>
N balance_at(const std::vector<Flow<N>>& flows, const N& y) {
  using boost::multiprecision::exp, boost::multiprecision::expm1;
  using std::abs, std::exp, std::expm1;
  const N rate = N(expm1(y));
  const bool from_first = y >= N(0);
  const N step = N(exp(from_first ? N(-y) : y));
  N sum(0);
  N power(1);
  N fraction(0);
  N simple(1);
  const std::size_t count = flows.size();
  int at = from_first ? flows.front().whole_periods : flows.back().whole_periods;
  for (std::size_t k = 0; k < count; ++k) {
    const Flow<N>& flow = from_first ? flows[k] : flows[count - 1 - k];
    if (const int gap = std::abs(flow.whole_periods - at); gap > 0) power *= gap == 1 ? step : whole_power(step, gap);
    at = flow.whole_periods;
    // Regular payments share their fraction, and a division costs more than the rest of the line.
    if (k == 0 || flow.fraction != fraction) {
      fraction = flow.fraction;
      simple = N(N(1) / (N(1) + fraction * rate));
    }
    sum += flow.amount * power * simple;
  }
  return sum;
}

/// Root of `balance` on the bracket, to the precision of N relative to its size (absolute near 0).
template <class N, class Function>
N solve(const Function& balance, N low, N high, const N& at_low, const N& at_high) {
  if (low > high) return solve(balance, high, low, at_high, at_low);
  const N epsilon = std::numeric_limits<N>::epsilon();
  // The solver keeps twice epsilon away from the ends of its bracket, so a tighter demand would never be met.
  // Near y = 0 the rounding of exp(y), a fraction of epsilon, is the floor.
  const auto close = [&](const N& a, const N& b) {
    using boost::multiprecision::abs;
    using std::abs;
    return N(b - a) <= N(epsilon * std::max(N(abs(a)), N(abs(b))) * N(10) + epsilon / N(8));
  };
  std::uintmax_t most = 400;
  const auto [a, b] = boost::math::tools::toms748_solve(balance, low, high, at_low, at_high, close, most);
  return N((a + b) / N(2));
}

/// y of the sign change nearest 0 on one side; widening steps, so the search is short at usual rates.
template <class N>
std::optional<N> search(const std::vector<Flow<N>>& flows, const N& at_zero, int direction) {
  const auto balance = [&](const N& y) { return balance_at(flows, y); };
  const N least_step = N(1) / N(256);
  const N far(64);  // rates to about 1e27 a unit-period, and down to 1e-28 above -1
  N inner(0);
  N at_inner = at_zero;
  for (N reach = least_step; reach <= far; reach *= N(2)) {
    const N outer = N(direction) * reach;
    const N at_outer = balance(outer);
    if (at_outer == N(0)) return outer;
    if ((at_inner < N(0)) != (at_outer < N(0))) return solve(balance, inner, outer, at_inner, at_outer);
    inner = outer;
    at_inner = at_outer;
  }
  return std::nullopt;
}

}  // namespace

template <class N>
AnnualRate<N> apr(std::span<const Flow<N>> advances, std::span<const Flow<N>> payments,
                  const N& unit_periods_per_year) {
  using boost::multiprecision::expm1;
  using std::expm1;
  check_flows("advances", advances);
  check_flows("payments", payments);
  errors::require_in_range("unit_periods_per_year", money::to_double(unit_periods_per_year), 1e-9, 366);
  const std::vector<Flow<N>> flows = net_flows(advances, payments);
  N advanced(0);
  N paid(0);
  std::optional<std::pair<int, N>> first_advance;
  std::optional<std::pair<int, N>> first_payment;
  for (const Flow<N>& flow : flows) {
    auto& first = flow.amount < N(0) ? first_advance : first_payment;
    const std::pair<int, N> time(flow.whole_periods, flow.fraction);
    if (!first || time < *first) first = time;
    (flow.amount < N(0) ? advanced : paid) += flow.amount < N(0) ? N(-flow.amount) : flow.amount;
  }
  if (!first_advance) return {std::nullopt, "nothing is advanced"};
  if (!first_payment) return {std::nullopt, "nothing is paid back"};
  if (*first_payment < *first_advance) return {std::nullopt, "a payment falls before the first advance"};

  const N at_zero = N(paid - advanced);
  // A difference that is only the rounding of the sums is no interest.
  const N noise = N(std::numeric_limits<N>::epsilon() * (paid + advanced) * N(4));
  if (at_zero <= noise && at_zero >= N(-noise)) return {N(0), {}};
  const int direction = at_zero > N(0) ? 1 : -1;
  std::optional<N> y = search(flows, at_zero, direction);
  if (!y) y = search(flows, at_zero, -direction);
  if (!y) return {std::nullopt, "no rate above -1 a unit-period balances payments and advances"};
  const N rate = N(expm1(*y));
  if (rate <= N(-1)) return {std::nullopt, "no rate above -1 a unit-period balances payments and advances"};
  return {N(rate * unit_periods_per_year), {}};
}

namespace {

using Kind = UnitPeriod::Kind;

void check_period(UnitPeriod period) {
  const int most = period.kind == Kind::week ? 52 : period.kind == Kind::month ? 11 : 1;
  errors::require_in_range("unit_period.count", period.count, 1, most,
                           period.kind == Kind::week    ? "weeks"
                           : period.kind == Kind::month ? "months (12 months are a year)"
                                                        : "(several days, semimonths or years are no unit-period)");
}

void require_not_before(dates::Date start, dates::Date date, int least_days) {
  if (dates::days_between(start, date) < least_days) {
    throw errors::ValueOutOfRange(
        {{"", {}, {}, "date"},
         dates::iso(date),
         "is too early",
         fmt::format("{} {} or later", least_days > 0 ? "the day after" : "the start,", dates::iso(start))});
  }
}

/// The day `months` months before `date` in a series that falls on `series_day`.
dates::Date months_back(dates::Date date, int months, int series_day) {
  const dates::Date first{date.year(), date.month(), std::chrono::day{1}};
  const dates::Date target = dates::add_months(first, -months);
  const auto last = dates::days_in_month(dates::year_of(target), static_cast<unsigned>(dates::month_of(target)));
  return {target.year(), target.month(), std::chrono::day{std::min(static_cast<unsigned>(series_day), last)}};
}

struct MonthsAndDays {
  int months = 0;
  int days = 0;
};

/// Whole months back from `date` that do not pass `start`, and the days left.
MonthsAndDays months_and_days(dates::Date start, dates::Date date, int series_day) {
  const int day = series_day == 0 ? dates::day_of(date) : series_day;
  int months = 12 * (dates::year_of(date) - dates::year_of(start)) + dates::month_of(date) - dates::month_of(start);
  if (months > 0 && dates::days_between(start, months_back(date, months, day)) < 0) --months;
  const dates::Date reached = months == 0 ? date : months_back(date, months, day);
  return {months, dates::days_between(start, reached)};
}

}  // namespace

PeriodCount unit_periods(dates::Date start, dates::Date date, UnitPeriod period, int series_day) {
  check_period(period);
  errors::require_in_range("series_day", series_day, 0, 31, "(0 takes the day of the date)");
  require_not_before(start, date, 0);
  switch (period.kind) {
    case Kind::day:
    case Kind::week: {
      const int days = dates::days_between(start, date);
      const int length = period.kind == Kind::day ? 1 : 7 * period.count;
      return {days / length, days % length, length};
    }
    case Kind::month:
      if (period.count == 1) {
        const auto [months, days] = months_and_days(start, date, series_day);
        return {months, days, 30};
      }
      [[fallthrough]];
    case Kind::semimonth: {
      const auto [months, left] = months_and_days(start, date, series_day);
      const int days = 30 * months + left;
      const int length = period.kind == Kind::semimonth ? 15 : 30 * period.count;
      return {days / length, days % length, length};
    }
    case Kind::year: {
      const int day = series_day == 0 ? dates::day_of(date) : series_day;
      const auto [months, days] = months_and_days(start, date, series_day);
      if (days == 0) return {months / 12, months % 12, 12};
      const int years = months / 12;
      const dates::Date reached = years == 0 ? date : months_back(date, 12 * years, day);
      return {years, dates::days_between(start, reached), 365};
    }
  }
  return {};
}

template <class N>
N unit_periods_per_year(UnitPeriod period) {
  check_period(period);
  switch (period.kind) {
    case Kind::day:
      return N(365);
    case Kind::week:
      return N(N(52) / N(period.count));
    case Kind::semimonth:
      return N(24);
    case Kind::month:
      return N(N(12) / N(period.count));
    case Kind::year:
      return N(1);
  }
  return N(1);
}

SinglePayment single_payment(dates::Date start, dates::Date date) {
  require_not_before(start, date, 1);
  const auto [months, days] = months_and_days(start, date, 0);
  if (months >= 12) return {unit_periods(start, date, {Kind::year, 1}), 1, 1};
  if (days == 0) return {{1, 0, 1}, 12, months};
  return {{1, 0, 1}, 365, dates::days_between(start, date)};
}

template <class N>
Flow<N> flow_at(const N& amount, PeriodCount time) {
  errors::require_in_range("time.denominator", time.denominator, 1, 100000);
  return {amount, time.whole, N(N(time.numerator) / N(time.denominator))};
}

template <class N>
std::vector<Flow<N>> regular_flows(const N& amount, PeriodCount first, int count) {
  errors::require_in_range("count", count, 0, 100000, "flows");
  std::vector<Flow<N>> flows;
  flows.reserve(static_cast<std::size_t>(count));
  for (int k = 0; k < count; ++k) {
    flows.push_back(flow_at(amount, first));
    ++first.whole;
  }
  return flows;
}

template <class N>
Disclosure<N> disclose(std::span<const Flow<N>> advances, std::span<const Flow<N>> payments,
                       const N& prepaid_finance_charge, const N& unit_periods_per_year) {
  check_flows("advances", advances);
  std::vector<Flow<N>> received(advances.begin(), advances.end());
  const auto first = std::min_element(received.begin(), received.end(), [](const Flow<N>& a, const Flow<N>& b) {
    return std::pair(a.whole_periods, a.fraction) < std::pair(b.whole_periods, b.fraction);
  });
  const N most = first == received.end() ? N(0) : first->amount;
  errors::require_in_range("prepaid_finance_charge", money::to_double(prepaid_finance_charge), 0,
                           money::to_double(most), "dollars (the first advance)");
  if (first != received.end()) first->amount -= prepaid_finance_charge;
  Disclosure<N> disclosure;
  disclosure.annual_percentage_rate = apr(std::span<const Flow<N>>(received), payments, unit_periods_per_year);
  for (const Flow<N>& advance : received) disclosure.amount_financed += advance.amount;
  for (const Flow<N>& payment : payments) disclosure.total_of_payments += payment.amount;
  disclosure.finance_charge = N(disclosure.total_of_payments - disclosure.amount_financed);
  return disclosure;
}

bool within_rate_tolerance(double disclosed, double exact, bool irregular) {
  errors::require_in_range("disclosed", disclosed, -1e6, 1e6);
  errors::require_in_range("exact", exact, -1e6, 1e6);
  // The slack only keeps a difference of exactly the tolerance inside it in binary arithmetic.
  return std::fabs(disclosed - exact) * 100 <= (irregular ? 0.25 : 0.125) + 1e-10;
}

template AnnualRate<double> apr<double>(std::span<const Flow<double>>, std::span<const Flow<double>>, const double&);
template double unit_periods_per_year<double>(UnitPeriod);
template Flow<double> flow_at<double>(const double&, PeriodCount);
template std::vector<Flow<double>> regular_flows<double>(const double&, PeriodCount, int);
template Disclosure<double> disclose<double>(std::span<const Flow<double>>, std::span<const Flow<double>>,
                                             const double&, const double&);
template AnnualRate<Decimal> apr<Decimal>(std::span<const Flow<Decimal>>, std::span<const Flow<Decimal>>,
                                          const Decimal&);
template Decimal unit_periods_per_year<Decimal>(UnitPeriod);
template Flow<Decimal> flow_at<Decimal>(const Decimal&, PeriodCount);
template std::vector<Flow<Decimal>> regular_flows<Decimal>(const Decimal&, PeriodCount, int);
template Disclosure<Decimal> disclose<Decimal>(std::span<const Flow<Decimal>>, std::span<const Flow<Decimal>>,
                                               const Decimal&, const Decimal&);

}  // namespace warmledger::loans
