// The months of an offer, written once for any number type: double, the 50-digit Decimal, or eight doubles side by
// side.
//
// offers.cpp instantiates it for the first two; offers_<isa>.cpp define WARMLEDGER_OFFERS to the name of their
// namespace and compile it for packs of eight, once per instruction set, so that no function compiled for a wide
// instruction set can be picked by the linker for a machine that lacks it. Nothing here includes a library header that
// has inline functions, for the same reason. Every lane does the same operations in the same order whatever its
// neighbours do, and nothing is reassociated or fused: one offer and many give the same bits.
#pragma once

namespace warmledger::ledger::offers {

inline constexpr int lanes = 8;
inline constexpr int most_years = 50;

/// What the months need to know of an offer. Dollars unless said otherwise.
template <class N>
struct Months {
  N without[12];   ///< heater bills of the first year without the system, by month after the install date
  N with[12];      ///< backup bills with it
  N pump[12];      ///< pump electricity
  N fuel_step;     ///< 1 + yearly rise of the heater's fuel price
  N power_step;    ///< 1 + yearly rise of the electricity price, for the pumps
  N price_step;    ///< 1 + inflation
  N discount;      ///< present value of a dollar a month later
  N served_years;  ///< years in which the system works
  N upkeep;        ///< a year, dollars of the install date
  N loan_cents;    ///< lent on the install date; 0 for none
  N loan_rate;     ///< a month
  N payment_cents;
  N term_months;
};

/// The month in which a running sum reaches zero from below.
template <class N>
struct Crossing {
  N months_before;
  N sum_before;
  N flow;
};

template <class N>
struct Sums {
  N without_pv;        ///< bills without the system
  N fuel_pv;           ///< heater and backup fuel saved
  N pump_pv;           ///< pump electricity, as a cost
  N upkeep_pv;         ///< upkeep, as a cost
  N cash_pv;           ///< every flow but remaining values
  N served_discounts;  ///< sum of the discount factors of the months in which the system works
  N first_year_saving;
  N last_discount;        ///< of the study's last month
  N sum, discounted_sum;  ///< running sums at the end
  Crossing<N> first, last, first_discounted, last_discounted;
  N found, found_discounted;  ///< 1 when the first crossing was met
  N payments_pv;              ///< of the loan's payments and of what is still owed at the end, paid then
  N interest_cents;           ///< paid within the study
  N first_year_payments;
  N lowest_month_net;  ///< of the first year: bill saving less payment
  N months_out;        ///< months of the loan whose payment exceeds the bill saving
  N deepest;           ///< lowest running sum of cash with the loan; remaining values left out
  N owed_cents;        ///< at the end of the study
};

/// Kernels of an instruction set: `extra` holds months + 1 amounts (installed cost, incentives, replacements), `yearly`
/// receives years + 1 sums of all flows but remaining values. Packs are eight doubles a number, aligned to 64 bytes.
struct Kernels {
  void (*run)(const Months<double>* pack, const double* extra, int years, int longest_term, double* yearly,
              Sums<double>* sums);
  /// The only rate above -1 of `yearly` (years + 1 packs) for lanes whose flows change sign once; NaN for the others
  /// and where it is not found.
  void (*only_rate)(const double* yearly, int years, double* rates);
};

}  // namespace warmledger::ledger::offers

#ifdef WARMLEDGER_OFFERS

namespace warmledger::ledger::offers::WARMLEDGER_OFFERS {

#ifdef WARMLEDGER_OFFERS_PACKED
using Number = double __attribute__((vector_size(sizeof(double) * lanes)));
using Mask = decltype(Number{} < Number{});

inline bool any(const Mask& mask) {
  long long bits = 0;
  for (int lane = 0; lane < lanes; ++lane) bits |= mask[lane];
  return bits != 0;
}
inline Mask both(const Mask& a, const Mask& b) {
  return a & b;
}
inline Number choose(const Mask& mask, const Number& yes, const Number& no) {
  return mask ? yes : no;
}
/// Adding and taking off 1.5 * 2^52 rounds to a whole number on every instruction set; exact below 2^51.
inline Number floor_of(const Number& x) {
  const Number big = Number{} + 6755399441055744.0;
  const Number whole = (x + big) - big;
  return whole - choose(whole > x, Number{} + 1.0, Number{});
}
template <class N>
inline N constant(double value) {
  return N{} + value;
}
#endif

/// Largest and smallest by the same rule for every number type.
template <class N>
inline N lower_of(const N& a, const N& b) {
  return choose(b < a, b, a);
}

template <class N>
inline void record(Crossing<N>& at, const decltype(N() < N())& where, int months_before, const N& sum, const N& flow) {
  at.months_before = choose(where, constant<N>(months_before), at.months_before);
  at.sum_before = choose(where, sum, at.sum_before);
  at.flow = choose(where, flow, at.flow);
}

template <class N>
inline void clear(Crossing<N>& at) {
  at.months_before = at.sum_before = at.flow = constant<N>(0);
}

/// Walks the months of the study. Bills rise once a year; upkeep is paid at the end of a year and rises with inflation;
/// interest is the balance times the monthly rate, rounded half up to the cent with the tie window of
/// money::round_cents; the last payment is what is owed.
template <class N>
void walk(const Months<N>& in, const N* extra, int years, int longest_term, N* yearly, Sums<N>& out) {
  const N zero = constant<N>(0);
  const N one = constant<N>(1);
  const N hundredth = one / constant<N>(100);
  // 0.5 and the tie window of 1e-7 cents.
  const N half_up = one / constant<N>(2) + one / constant<N>(10000000);
  N saved[12];
  for (int m = 0; m < 12; ++m) saved[m] = in.without[m] - in.with[m];

  N fuel = one, power = one, prices = one, discount = one;
  N sum = extra[0], discounted = extra[0];
  N without_pv = zero, fuel_pv = zero, pump_pv = zero, upkeep_pv = zero, served_discounts = zero;
  N found = zero, found_discounted = zero;
  clear(out.first);
  clear(out.last);
  clear(out.first_discounted);
  clear(out.last_discounted);
  N owed = in.loan_cents;
  N payments_pv = zero, interest_paid = zero, first_payments = zero, months_out = zero;
  N lowest = zero;
  N with_loan = sum + in.loan_cents * hundredth;
  N deepest = with_loan;
  yearly[0] = sum;
  int t = 0;
  for (int year = 0; year < years; ++year) {
    const auto served = in.served_years > constant<N>(year);
    const N fuel_now = choose(served, fuel, zero);
    const N power_now = choose(served, power, zero);
    prices = prices * in.price_step;
    // Nothing is spent on a system in the month in which its life or the study ends.
    const N upkeep =
        year + 1 < years ? choose(in.served_years > constant<N>(year + 1), N(in.upkeep * prices), zero) : zero;
    N year_sum = zero, year_discounts = zero, year_without = zero, year_fuel = zero, year_pump = zero;
    for (int m = 0; m < 12; ++m) {
      ++t;
      discount = discount * in.discount;
      year_discounts = year_discounts + discount;
      year_without = year_without + in.without[m] * discount;
      year_fuel = year_fuel + saved[m] * discount;
      year_pump = year_pump + in.pump[m] * discount;
      const N saving = saved[m] * fuel_now - in.pump[m] * power_now;
      N flow = saving + extra[t];
      if (m == 11) {
        flow = flow - upkeep;
        upkeep_pv = upkeep_pv + upkeep * discount;
      }
      year_sum = year_sum + flow;

      const N before = sum;
      sum = sum + flow;
      const N discounted_flow = flow * discount;
      const N discounted_before = discounted;
      discounted = discounted + discounted_flow;
      const auto up = both(before < zero, sum >= zero);
      const auto up_discounted = both(discounted_before < zero, discounted >= zero);
      if (any(up)) {
        record(out.first, both(up, found < one), t - 1, before, flow);
        record(out.last, up, t - 1, before, flow);
        found = choose(up, one, found);
      }
      if (any(up_discounted)) {
        record(out.first_discounted, both(up_discounted, found_discounted < one), t - 1, discounted_before,
               discounted_flow);
        record(out.last_discounted, up_discounted, t - 1, discounted_before, discounted_flow);
        found_discounted = choose(up_discounted, one, found_discounted);
      }

      with_loan = with_loan + flow;
      N net = saving;
      if (t <= longest_term) {
        const N interest = floor_of(N(owed * in.loan_rate + half_up));
        const N due = owed + interest;
        const N paid = choose(both(in.term_months > constant<N>(t), due > in.payment_cents), in.payment_cents, due);
        owed = due - paid;
        interest_paid = interest_paid + interest;
        const N payment = paid * hundredth;
        payments_pv = payments_pv + payment * discount;
        net = net - payment;
        with_loan = with_loan - payment;
        if (year == 0) first_payments = first_payments + payment;
        months_out = months_out + choose(both(paid > zero, net < zero), one, zero);
      }
      if (year == 0) lowest = m == 0 ? net : lower_of(lowest, net);
      deepest = lower_of(deepest, with_loan);
    }
    yearly[year + 1] = year_sum;
    if (year == 0) {
      out.first_year_saving = zero;
      for (int m = 0; m < 12; ++m) out.first_year_saving = out.first_year_saving + (saved[m] - in.pump[m]);
    }
    without_pv = without_pv + year_without * fuel;
    fuel_pv = fuel_pv + year_fuel * fuel_now;
    pump_pv = pump_pv + year_pump * power_now;
    served_discounts = served_discounts + choose(served, year_discounts, zero);
    fuel = fuel * in.fuel_step;
    power = power * in.power_step;
  }
  // What is still owed at the end of the study is paid then.
  payments_pv = payments_pv + owed * hundredth * discount;
  out.deepest = lower_of(deepest, N(with_loan - owed * hundredth));
  out.without_pv = without_pv;
  out.fuel_pv = fuel_pv;
  out.pump_pv = pump_pv;
  out.upkeep_pv = upkeep_pv;
  out.cash_pv = discounted;
  out.served_discounts = served_discounts;
  out.last_discount = discount;
  out.sum = sum;
  out.discounted_sum = discounted;
  out.found = found;
  out.found_discounted = found_discounted;
  out.payments_pv = payments_pv;
  out.interest_cents = interest_paid;
  out.first_year_payments = first_payments;
  out.lowest_month_net = lowest;
  out.months_out = months_out;
  out.owed_cents = owed;
}

#ifdef WARMLEDGER_OFFERS_PACKED

inline void run(const Months<double>* pack, const double* extra, int years, int longest_term, double* yearly,
                Sums<double>* sums) {
  // Structures of packs are laid out as structures of eight doubles a member.
  walk<Number>(*reinterpret_cast<const Months<Number>*>(pack), reinterpret_cast<const Number*>(extra), years,
               longest_term, reinterpret_cast<Number*>(yearly), *reinterpret_cast<Sums<Number>*>(sums));
}

/// Newton's steps on sum flow x^k, x = 1 / (1 + rate), kept within a bracket: one sign change means one positive root.
inline void only_rate(const double* yearly, int years, double* rates) {
  const auto* flow = reinterpret_cast<const Number*>(yearly);
  const Number zero{};
  const Number one = zero + 1.0;
  const Number nan = zero + __builtin_nan("");
  Number changes = zero, sign = zero, first = zero, total = zero;
  for (int k = 0; k <= years; ++k) {
    const Number now = choose(flow[k] > zero, one, choose(flow[k] < zero, -one, zero));
    changes = changes + choose(now * sign < zero, one, zero);
    first = choose(first == zero, now, first);
    sign = choose(now == zero, sign, now);
    total = total + flow[k];
  }
  const Mask once = changes == one;
  // The value starts with the sign of the first flow at x = 0 and has the other one at the right end of the bracket.
  const auto value = [&](const Number& x, Number& slope) {
    Number f = flow[years];
    slope = zero;
    for (int k = years; k-- > 0;) {
      slope = slope * x + f;
      f = f * x + flow[k];
    }
    return f * first;
  };
  Number low = zero, high = one, slope;
  for (int doubling = 0; doubling < 40; ++doubling) {
    const Mask short_of = both(once, value(high, slope) > zero);
    if (!any(short_of)) break;
    low = choose(short_of, high, low);
    high = choose(short_of, high + high, high);
  }
  Mask open = once;
  Number x = choose(low > zero, (low + high) * 0.5, one * 0.9);
  Number settled = nan;
  for (int step = 0; step < 80; ++step) {
    const Number f = value(x, slope);
    low = choose(f > zero, x, low);
    high = choose(f > zero, high, x);
    const Number newton = x - f / (slope * first);
    const Number next = choose(both(newton >= low, newton <= high), newton, (low + high) * 0.5);
    const Number moved = choose(next < x, x - next, next - x);
    const Mask done = both(open, moved <= x * 4e-16);
    settled = choose(done, next, settled);
    open = both(open, ~done);
    if (!any(open)) break;
    x = next;
  }
  auto* rate = reinterpret_cast<Number*>(rates);
  *rate = choose(once, one / settled - one, nan);
}

#endif

}  // namespace warmledger::ledger::offers::WARMLEDGER_OFFERS

#endif
