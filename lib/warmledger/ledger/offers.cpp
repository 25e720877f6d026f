#include "warmledger/ledger/offers.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <limits>
#include <mutex>
#include <optional>
#include <stdexcept>
#include <thread>

#include "warmledger/economics/internal_rate.hpp"
#include "warmledger/economics/more_measures.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/loans/schedule.hpp"

namespace warmledger::ledger::offers::plain {
// What the kernel asks of a number type, for double and Decimal; declared before the kernel so that it finds them.
inline bool any(bool mask) {
  return mask;
}
inline bool both(bool a, bool b) {
  return a && b;
}
template <class N>
N choose(bool mask, const N& yes, const N& no) {
  return mask ? yes : no;
}
inline double floor_of(double x) {
  return std::floor(x);
}
inline money::Decimal floor_of(const money::Decimal& x) {
  return boost::multiprecision::floor(x);
}
/// The kernel's constants are whole numbers, which a Decimal takes faster than a double.
template <class N>
N constant(double value) {
  return N(static_cast<int>(value));
}
}  // namespace warmledger::ledger::offers::plain

#define WARMLEDGER_OFFERS plain
#include "warmledger/ledger/offers_kernel.hpp"

namespace warmledger::ledger {

using economics::Measure;
using money::Decimal;

namespace offers {
extern const Kernels base_kernels;
#ifdef WARMLEDGER_HAS_WIDE_OFFERS
extern const Kernels avx2_kernels;
extern const Kernels avx512_kernels;
#endif
}  // namespace offers

namespace {

using offers::Months;
using offers::Sums;

const offers::Kernels& kernels_here() {
#ifdef WARMLEDGER_HAS_WIDE_OFFERS
  static const offers::Kernels& chosen = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq")
                                             ? offers::avx512_kernels
                                         : __builtin_cpu_supports("avx2") ? offers::avx2_kernels
                                                                          : offers::base_kernels;
  return chosen;
#else
  return offers::base_kernels;
#endif
}

void check(const Offer& o) {
  const auto in = [](const char* name, double value, double low, double high, const char* unit) {
    if (!(value >= low && value <= high)) errors::require_in_range(name, value, low, high, unit);
  };
  in("installed_cost_usd", o.installed_cost_usd, 0, 1e12, "dollars");
  for (std::size_t m = 0; m < 12; ++m) {
    in("bills_without_usd", o.bills_without_usd[m], 0, 1e12, "dollars");
    in("bills_with_usd", o.bills_with_usd[m], 0, 1e12, "dollars");
    in("pump_usd", o.pump_usd[m], 0, 1e12, "dollars");
  }
  in("fuel_escalation", o.fuel_escalation, -0.5, 1, "(0.02 is 2 %)");
  in("electricity_escalation", o.electricity_escalation, -0.5, 1, "(0.02 is 2 %)");
  in("inflation_rate", o.inflation_rate, -0.5, 1, "(0.02 is 2 %)");
  in("nominal_discount_rate", o.nominal_discount_rate, -0.9, 2, "(0.02 is 2 %)");
  in("upkeep_usd_year", o.upkeep_usd_year, 0, 1e9, "dollars");
  in("system_life_years", o.system_life_years, 1, 100, "years");
  in("heat_saved_kwh_year", o.heat_saved_kwh_year, -1e12, 1e12, "kWh");
  in("fuel_price_usd", o.fuel_price_usd, 0, 1e6, "dollars");
  in("loan_usd", o.loan_usd, 0, 1e12, "dollars");
  in("loan_yearly_rate", o.loan_yearly_rate, 0, 1, "(0.06 is 6 %)");
  in("loan_term_months", o.loan_term_months, 1, 600, "months");
  for (const DatedAmount& a : o.incentives) {
    in("incentive month", a.month, 0, 1e6, "months");
    in("incentive usd", a.usd, 0, 1e12, "dollars");
  }
  for (const DatedAmount& a : o.replacements) {
    in("replacement month", a.month, 0, 1e6, "months");
    in("replacement usd", a.usd, 0, 1e12, "dollars");
  }
}

/// Dollars in whole cents as cents, without the drift that a double's cents have.
template <class N>
N whole_cents(const N& usd) {
  return offers::plain::floor_of(N(usd * N(100) + N(1) / N(2)));
}

template <class N>
N power_of(const N& base, int exponent) {
  N result(1);
  N square = base;
  for (int left = exponent; left > 0; left /= 2) {
    if (left % 2 == 1) result = N(result * square);
    square = N(square * square);
  }
  return result;
}

/// What is left to say of an offer besides its months.
template <class N>
struct Frame {
  N cost{};
  N incentives{};      ///< within the study
  N all_incentives{};  ///< also those that come later: the household will not have paid them
  N due_at_install{};
  N replacements_pv{};  ///< as a cost
  N remaining{};        ///< in dollars of the last month
  N remaining_share{};  ///< of the net cost
  N annual_factor{};    ///< even yearly amount of a present value of 1
};

/// Fills lane `lane` of `width` of the months' arrays.
template <class N>
Frame<N> prepare(const Offer& o, int years, Months<N>* months, std::size_t width, std::size_t lane, N* extra) {
  // Members of Months are runs of `width` numbers, in its order.
  N* member = reinterpret_cast<N*>(months) + lane;
  const auto put = [&](const N& value) {
    *member = value;
    member += width;
  };
  for (const double usd : o.bills_without_usd) put(N(usd));
  for (const double usd : o.bills_with_usd) put(N(usd));
  for (const double usd : o.pump_usd) put(N(usd));
  put(N(N(1) + N(o.fuel_escalation)));
  put(N(N(1) + N(o.electricity_escalation)));
  const N price_step = N(N(1) + N(o.inflation_rate));
  put(price_step);
  const N rate(o.nominal_discount_rate);
  const N discount = N(N(1) / N(N(1) + economics::monthly_rate(rate)));
  put(discount);
  put(N(o.system_life_years));
  put(N(o.upkeep_usd_year));
  const N lent = money::round_cents(N(o.loan_usd));
  const N loan_rate = N(N(o.loan_yearly_rate) / N(12));
  put(whole_cents(lent));
  put(loan_rate);
  N payment(0);
  if (lent > N(0)) {
    payment =
        std::max(N(1), whole_cents(money::round_cents(loans::level_payment(lent, loan_rate, o.loan_term_months))));
  }
  put(payment);
  put(N(lent > N(0) ? o.loan_term_months : 0));

  Frame<N> frame;
  const int last = years * 12;
  frame.cost = money::round_cents(N(o.installed_cost_usd));
  extra[lane] = N(-frame.cost);
  for (const DatedAmount& a : o.incentives) {
    if (a.usd == 0) continue;
    const N usd = money::round_cents(N(a.usd));
    frame.all_incentives += usd;
    if (a.month > last) continue;
    extra[static_cast<std::size_t>(a.month) * width + lane] += usd;
    frame.incentives += usd;
  }
  frame.due_at_install = N(-extra[lane]);
  for (const DatedAmount& a : o.replacements) {
    if (a.usd == 0 || a.month > last) continue;
    const N grown = a.month % 12 == 0 ? power_of(price_step, a.month / 12)
                                      : economics::single_present_value(N(o.inflation_rate), N(N(-a.month) / N(12)));
    const N usd = N(N(a.usd) * grown);
    extra[static_cast<std::size_t>(a.month) * width + lane] -= usd;
    frame.replacements_pv += N(usd * power_of(discount, a.month));
  }
  if (o.system_life_years > years) {
    frame.remaining_share = N(N(N(1) - N(years) / N(o.system_life_years)) * power_of(price_step, years));
    frame.remaining = N(std::max(N(frame.cost - frame.all_incentives), N(0)) * frame.remaining_share);
  }
  frame.annual_factor = economics::uniform_capital_recovery(rate, years);
  return frame;
}

template <class N>
Measure<N> crossing_years(const offers::Crossing<N>& at) {
  return {N(N(at.months_before - at.sum_before / at.flow) / N(12)), {}};
}

template <class N>
OfferMeasures<N> finish(const Offer& o, int years, const Frame<N>& frame, const Sums<N>& s, const N& start,
                        const N& payment_cents, const Measure<N>& internal_rate) {
  OfferMeasures<N> m;
  m.net_cost = N(frame.cost - frame.incentives);
  m.due_at_install = frame.due_at_install;
  m.first_year_saving = s.first_year_saving;
  m.savings_present_value = N(s.fuel_pv - s.pump_pv - s.upkeep_pv);
  const N remaining_pv = N(frame.remaining * s.last_discount);
  m.net_savings = N(s.cash_pv + remaining_pv);
  m.investment_present_value = N(m.savings_present_value - m.net_savings);
  m.life_cycle_cost_without = s.without_pv;
  m.life_cycle_cost_with = N(s.without_pv - m.net_savings);
  m.equivalent_annual_value = N(m.net_savings * frame.annual_factor);
  const auto payback = [&](const N& found, const offers::Crossing<N>& at) -> Measure<N> {
    if (start >= N(0)) return {N(0), {}};
    if (found == N(0)) return {std::nullopt, "not recovered within the study period"};
    return crossing_years(at);
  };
  m.simple_payback_years = payback(s.found, s.first);
  m.discounted_payback_years = payback(s.found_discounted, s.first_discounted);
  const auto lasting = [&](const N& found, const offers::Crossing<N>& at, const N& end) -> Measure<N> {
    if (end < N(0)) return {std::nullopt, "not recovered for good within the study period"};
    if (found == N(0)) return {N(0), {}};
    return crossing_years(at);
  };
  m.lasting_simple_payback_years = lasting(s.found, s.last, s.sum);
  m.lasting_discounted_payback_years = lasting(s.found_discounted, s.last_discounted, s.discounted_sum);
  m.savings_to_investment = economics::savings_to_investment(m.savings_present_value, m.investment_present_value);
  m.adjusted_internal_rate_of_return =
      economics::adjusted_internal_rate_of_return(N(o.nominal_discount_rate), m.savings_to_investment, years);
  m.internal_rate_of_return = internal_rate;
  m.levelised_cost_usd_per_kwh = economics::levelised_cost(N(m.investment_present_value + s.upkeep_pv + s.pump_pv),
                                                           N(N(o.heat_saved_kwh_year) / N(12) * s.served_discounts));
  if (o.fuel_price_usd > 0) {
    const N price(o.fuel_price_usd);
    // At a price of nothing the fuel saves nothing.
    m.break_even_fuel_price_usd = economics::break_even(price, m.net_savings, N(0), N(m.net_savings - s.fuel_pv));
  } else {
    m.break_even_fuel_price_usd = {std::nullopt, "the fuel price is not given"};
  }
  const N kept = N(N(1) - frame.remaining_share * s.last_discount);
  if (kept > N(0)) {
    m.break_even_installed_cost_usd = {N(frame.cost + m.net_savings / kept), {}};
    // Below the incentives there is no remaining value to lose.
    const N net = N(*m.break_even_installed_cost_usd.value - frame.all_incentives);
    if (net < N(0) || frame.cost < frame.all_incentives) {
      m.break_even_installed_cost_usd = {N(frame.cost + s.cash_pv), {}};
    }
  } else {
    m.break_even_installed_cost_usd = {std::nullopt, "a dearer system would leave as much behind as it costs"};
  }
  const N lent = money::round_cents(N(o.loan_usd));
  m.loan_payment = N(payment_cents / N(100));
  m.loan_interest = N(s.interest_cents / N(100));
  m.net_savings_with_loan = N(m.net_savings + lent - s.payments_pv);
  m.average_month_net = N(N(s.first_year_saving - s.first_year_payments) / N(12));
  m.lowest_month_net = s.lowest_month_net;
  m.months_out_of_pocket = s.months_out;
  m.deepest_point = s.deepest;
  m.owed_at_end = N(s.owed_cents / N(100));
  return m;
}

template <class N, class To>
void each_measure(const OfferMeasures<N>& m, const To& to) {
  const auto plain = [](const N& value) { return Measure<N>{value, {}}; };
  to(plain(m.net_cost));
  to(plain(m.due_at_install));
  to(plain(m.first_year_saving));
  to(plain(m.savings_present_value));
  to(plain(m.investment_present_value));
  to(plain(m.net_savings));
  to(plain(m.life_cycle_cost_without));
  to(plain(m.life_cycle_cost_with));
  to(plain(m.equivalent_annual_value));
  to(m.simple_payback_years);
  to(m.discounted_payback_years);
  to(m.lasting_simple_payback_years);
  to(m.lasting_discounted_payback_years);
  to(m.savings_to_investment);
  to(m.adjusted_internal_rate_of_return);
  to(m.internal_rate_of_return);
  to(m.levelised_cost_usd_per_kwh);
  to(m.break_even_fuel_price_usd);
  to(m.break_even_installed_cost_usd);
  to(plain(m.loan_payment));
  to(plain(m.loan_interest));
  to(plain(m.net_savings_with_loan));
  to(plain(m.average_month_net));
  to(plain(m.lowest_month_net));
  to(plain(m.months_out_of_pocket));
  to(plain(m.deepest_point));
  to(plain(m.owed_at_end));
}

/// Reasons there are, so that a table holds a number a row and not a text.
constexpr std::array<std::string_view, 13> known_reasons{"not recovered within the study period",
                                                         "not recovered for good within the study period",
                                                         "nothing is invested",
                                                         "the savings are not positive",
                                                         "no quantity is delivered",
                                                         "the fuel price is not given",
                                                         "net savings do not change with the value",
                                                         "a dearer system would leave as much behind as it costs",
                                                         "there are no flows",
                                                         "all flows are zero",
                                                         "all flows have one sign: nothing is both paid and received",
                                                         "no rate above -1 makes the net present value zero",
                                                         "several rates make the net present value zero"};

/// 1 + the place of a reason; 0 for none.
std::uint8_t number_of(std::string_view reason) {
  if (reason.empty()) return 0;
  const auto at = std::find(known_reasons.begin(), known_reasons.end(), reason);
  if (at == known_reasons.end()) throw std::logic_error("unlisted reason: " + std::string(reason));
  return static_cast<std::uint8_t>(at - known_reasons.begin() + 1);
}

}  // namespace

std::span<const std::string_view> offer_measure_names() {
  static constexpr std::array<std::string_view, offer_measure_count> names{"net_cost_usd",
                                                                           "due_at_install_usd",
                                                                           "first_year_saving_usd",
                                                                           "savings_present_value_usd",
                                                                           "investment_present_value_usd",
                                                                           "net_savings_usd",
                                                                           "life_cycle_cost_without_usd",
                                                                           "life_cycle_cost_with_usd",
                                                                           "equivalent_annual_value_usd",
                                                                           "simple_payback_years",
                                                                           "discounted_payback_years",
                                                                           "lasting_simple_payback_years",
                                                                           "lasting_discounted_payback_years",
                                                                           "savings_to_investment",
                                                                           "adjusted_internal_rate_of_return",
                                                                           "internal_rate_of_return",
                                                                           "levelised_cost_usd_per_kwh",
                                                                           "break_even_fuel_price_usd",
                                                                           "break_even_installed_cost_usd",
                                                                           "loan_payment_usd",
                                                                           "loan_interest_usd",
                                                                           "net_savings_with_loan_usd",
                                                                           "average_month_net_usd",
                                                                           "lowest_month_net_usd",
                                                                           "months_out_of_pocket",
                                                                           "deepest_point_usd",
                                                                           "owed_at_end_usd"};
  return names;
}

template <class N>
OfferMeasures<N> measures_of(const Offer& offer, int study_years) {
  errors::require_in_range("study_years", study_years, 1, offers::most_years, "years");
  check(offer);
  Months<N> months;
  std::vector<N> extra(static_cast<std::size_t>(study_years) * 12 + 1, N(0));
  std::vector<N> yearly(static_cast<std::size_t>(study_years) + 1, N(0));
  const Frame<N> frame = prepare<N>(offer, study_years, &months, 1, 0, extra.data());
  Sums<N> sums;
  offers::plain::walk<N>(months, extra.data(), study_years, offer.loan_usd > 0 ? offer.loan_term_months : 0,
                         yearly.data(), sums);
  yearly.back() += frame.remaining;
  return finish<N>(offer, study_years, frame, sums, extra[0], months.payment_cents,
                   economics::internal_rate_of_return(std::span<const N>(yearly)));
}
template OfferMeasures<double> measures_of<double>(const Offer&, int);
template OfferMeasures<Decimal> measures_of<Decimal>(const Offer&, int);

namespace {

constexpr std::size_t width = offers::lanes;

/// Room for a pack: allocated once a thread.
struct Room {
  explicit Room(int years)
      : extra((static_cast<std::size_t>(years) * 12 + 1) * width),
        yearly((static_cast<std::size_t>(years) + 1) * width) {}
  struct alignas(64) Line {
    std::array<double, width> lane{};
  };
  static constexpr std::size_t month_members = sizeof(Months<double>) / sizeof(double);
  static constexpr std::size_t sum_members = sizeof(Sums<double>) / sizeof(double);
  std::array<Line, month_members> months{};
  std::array<Line, sum_members> sums{};
  Line rates{};
  std::vector<Line> extra;
  std::vector<Line> yearly;
};

void work_pack(const offers::Kernels& kernels, std::span<const Offer> offers, std::size_t first, int years, Room& room,
               OfferTable& table) {
  const std::size_t count = std::min(width, offers.size() - first);
  const std::size_t last_month = static_cast<std::size_t>(years) * 12;
  std::array<Frame<double>, width> frames;
  std::fill(room.extra.begin(), room.extra.begin() + static_cast<std::ptrdiff_t>(last_month) + 1, Room::Line{});
  int longest = 0;
  for (std::size_t lane = 0; lane < width; ++lane) {
    // A pack that is not full repeats its last offer.
    const Offer& offer = offers[first + std::min(lane, count - 1)];
    frames[lane] = prepare<double>(offer, years, reinterpret_cast<Months<double>*>(room.months.data()), width, lane,
                                   room.extra.data()->lane.data());
    if (offer.loan_usd > 0) longest = std::max(longest, offer.loan_term_months);
  }
  kernels.run(reinterpret_cast<const Months<double>*>(room.months.data()), room.extra.data()->lane.data(), years,
              longest, room.yearly.data()->lane.data(), reinterpret_cast<Sums<double>*>(room.sums.data()));
  for (std::size_t lane = 0; lane < width; ++lane) {
    room.yearly[static_cast<std::size_t>(years)].lane[lane] += frames[lane].remaining;
  }
  kernels.only_rate(room.yearly.data()->lane.data(), years, room.rates.lane.data());
  std::vector<double> flows;
  for (std::size_t lane = 0; lane < count; ++lane) {
    std::array<double, Room::sum_members> members;
    for (std::size_t k = 0; k < members.size(); ++k) members[k] = room.sums[k].lane[lane];
    Sums<double> sums;
    static_assert(sizeof(sums) == sizeof(members));
    std::copy(members.begin(), members.end(), reinterpret_cast<double*>(&sums));
    Measure<double> rate{room.rates.lane[lane], {}};
    if (std::isnan(room.rates.lane[lane])) {
      flows.clear();
      for (std::size_t y = 0; y <= static_cast<std::size_t>(years); ++y) flows.push_back(room.yearly[y].lane[lane]);
      rate = economics::internal_rate_of_return(std::span<const double>(flows));
    }
    const OfferMeasures<double> m =
        finish<double>(offers[first + lane], years, frames[lane], sums, room.extra[0].lane[lane],
                       room.months[Room::month_members - 2].lane[lane], rate);
    std::size_t column = 0;
    each_measure(m, [&](const Measure<double>& measure) {
      table.columns[column][first + lane] = measure.value.value_or(std::numeric_limits<double>::quiet_NaN());
      table.why_none[column][first + lane] = measure.value ? std::uint8_t{0} : number_of(measure.why_none);
      ++column;
    });
  }
}

}  // namespace

OfferTable measures_of(std::span<const Offer> offers, int study_years, unsigned threads) {
  errors::require_in_range("study_years", study_years, 1, offers::most_years, "years");
  OfferTable table;
  for (auto& column : table.columns) column.resize(offers.size());
  for (auto& column : table.why_none) column.resize(offers.size());
  for (const std::string_view reason : known_reasons) table.reasons.emplace_back(reason);
  const offers::Kernels& kernels = kernels_here();
  // A chunk is checked, then worked out; the first row that is out of range is the one named, whatever the threads.
  constexpr std::size_t chunk = 64 * width;
  std::atomic<std::size_t> next{0};
  std::mutex mutex;
  std::exception_ptr failure;
  std::size_t failed_row = std::numeric_limits<std::size_t>::max();
  const auto work = [&] {
    Room room(study_years);
    for (std::size_t first = next.fetch_add(chunk); first < offers.size(); first = next.fetch_add(chunk)) {
      const std::size_t last = std::min(first + chunk, offers.size());
      for (std::size_t i = first; i < last; ++i) {
        try {
          check(offers[i]);
        } catch (const errors::ValueOutOfRange& error) {
          const std::lock_guard lock(mutex);
          if (i < failed_row) {
            failed_row = i;
            errors::Problem problem = error.problem();
            problem.where.row = static_cast<long>(i) + 1;
            failure = std::make_exception_ptr(errors::ValueOutOfRange(problem));
          }
          return;
        }
      }
      for (std::size_t i = first; i < last; i += width)
        work_pack(kernels, offers.first(last), i, study_years, room, table);
    }
  };
  const std::size_t chunks = (offers.size() + chunk - 1) / chunk;
  const unsigned wanted = threads != 0 ? threads : std::max(1U, std::thread::hardware_concurrency());
  {
    std::vector<std::jthread> others;
    for (unsigned t = 1; t < std::min<std::size_t>(wanted, chunks); ++t) others.emplace_back(work);
    work();
  }
  if (failure) std::rethrow_exception(failure);
  return table;
}

}  // namespace warmledger::ledger
