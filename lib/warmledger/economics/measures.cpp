#include "warmledger/economics/measures.hpp"

#include <array>
#include <cmath>

#include "warmledger/economics/checks.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::economics {

using money::Decimal;

template <class N>
N single_present_value(const N& rate, const N& time) {
  using boost::multiprecision::exp, boost::multiprecision::log1p;
  using std::exp, std::log1p;
  require_rate("rate", rate);
  require_amount("time", time);
  return in_number_range("present value factor", rate, N(exp(N(-time * log1p(rate)))));
}

template <class N>
N uniform_present_value(const N& rate, int periods) {
  return modified_uniform_present_value(rate, N(0), periods);
}

template <class N>
N modified_uniform_present_value(const N& rate, const N& escalation, int periods) {
  using boost::multiprecision::expm1, boost::multiprecision::log1p;
  using std::expm1, std::log1p;
  require_rate("rate", rate);
  require_rate("escalation", escalation);
  errors::require_in_range("periods", periods, 0, most_periods, "periods");
  if (rate == escalation) return N(periods);
  // q = (1 + e) / (1 + d); the sum of q^t for t = 1..N, written so that d near e does not cancel.
  const N log_q = N(log1p(N((escalation - rate) / (N(1) + rate))));
  return in_number_range("present value factor", rate,
                         N((N(1) + escalation) / (rate - escalation) * -expm1(N(N(periods) * log_q))));
}

namespace {

/// Present values of `count` series of one length.
template <std::size_t count, class N>
void side_by_side(const N& rate, const std::span<const N>* series, N* values) {
  // Horner's rule on every fourth flow, from the last: four short chains a series in place of one long one.
  const N factor = N(1) / N(N(1) + rate);
  const N factor2 = N(factor * factor);
  const N factor4 = N(factor2 * factor2);
  std::array<std::array<N, 4>, count> lanes;
  for (auto& of : lanes) of.fill(N(0));
  std::size_t k = series[0].size();
  for (; k % 4 != 0; --k) {
    for (std::size_t s = 0; s < count; ++s) lanes[s][(k - 1) % 4] = series[s][k - 1];
  }
  for (; k > 0; k -= 4) {
    for (std::size_t s = 0; s < count; ++s) {
      for (std::size_t lane = 0; lane < 4; ++lane)
        lanes[s][lane] = N(lanes[s][lane] * factor4 + series[s][k - 4 + lane]);
    }
  }
  for (std::size_t s = 0; s < count; ++s) {
    const std::array<N, 4>& of = lanes[s];
    const N value = N((of[0] + factor2 * of[2]) + factor * (of[1] + factor2 * of[3]));
    if (!is_finite(value)) require_flows(series[s]);
    values[s] = in_number_range("present value", rate, value);
  }
}

}  // namespace

template <class N>
N net_present_value(const N& rate, std::span<const N> flows) {
  require_rate("rate", rate);
  N value(0);
  side_by_side<1>(rate, &flows, &value);
  return value;
}

template <class N>
void net_present_values(const N& rate, std::span<const std::span<const N>> series, std::span<N> values) {
  require_rate("rate", rate);
  constexpr std::size_t together = 3;
  std::size_t s = 0;
  for (; s + together <= series.size(); s += together) side_by_side<together>(rate, &series[s], &values[s]);
  for (; s < series.size(); ++s) side_by_side<1>(rate, &series[s], &values[s]);
}

template <class N>
N periodic_rate(const N& yearly_rate, int periods_per_year) {
  using boost::multiprecision::expm1, boost::multiprecision::log1p;
  using std::expm1, std::log1p;
  require_rate("yearly_rate", yearly_rate);
  errors::require_in_range("periods_per_year", periods_per_year, 1, 366, "periods");
  return N(expm1(N(log1p(yearly_rate) / N(periods_per_year))));
}

template <class N>
N monthly_rate(const N& yearly_rate) {
  return periodic_rate(yearly_rate, 12);
}

template <class N>
N yearly_rate(const N& periodic_rate, int periods_per_year) {
  using boost::multiprecision::expm1, boost::multiprecision::log1p;
  using std::expm1, std::log1p;
  require_rate("periodic_rate", periodic_rate);
  errors::require_in_range("periods_per_year", periods_per_year, 1, 366, "periods");
  return in_number_range("yearly rate", periodic_rate, N(expm1(N(log1p(periodic_rate) * N(periods_per_year)))));
}

template <class N>
N real_rate(const N& nominal_rate, const N& inflation_rate) {
  require_rate("nominal_rate", nominal_rate);
  require_rate("inflation_rate", inflation_rate);
  return N((nominal_rate - inflation_rate) / (N(1) + inflation_rate));
}

namespace {

/// Walks the running sum of flow(k) to where it first reaches zero.
template <class N, class Flow>
Measure<N> first_recovery(const N& rate, std::size_t count, const Flow& flow) {
  if (count == 0) return {std::nullopt, "there are no flows"};
  N sum = flow(0);
  if (sum >= N(0)) return {N(0), {}};
  for (std::size_t k = 1; k < count; ++k) {
    const N step = flow(k);
    const N next = N(sum + step);
    if (next >= N(0)) return {N(N(static_cast<double>(k - 1)) - sum / step), {}};
    sum = next;
  }
  (void)in_number_range("running sum", rate, sum);
  return {std::nullopt, "not recovered within the study period"};
}

}  // namespace

template <class N>
Measure<N> payback(std::span<const N> flows) {
  require_flows(flows);
  return first_recovery<N>(N(0), flows.size(), [&](std::size_t k) { return flows[k]; });
}

template <class N>
Measure<N> discounted_payback(const N& rate, std::span<const N> flows) {
  require_rate("rate", rate);
  require_flows(flows);
  const N factor = N(1) / N(N(1) + rate);
  N discount(1);
  return first_recovery<N>(rate, flows.size(), [&](std::size_t k) {
    if (k > 0) discount *= factor;
    return N(flows[k] * discount);
  });
}

template <class N>
Measure<N> savings_to_investment(const N& savings_present_value, const N& investment_present_value) {
  require_amount("savings_present_value", savings_present_value);
  require_amount("investment_present_value", investment_present_value);
  if (investment_present_value <= N(0)) return {std::nullopt, "nothing is invested"};
  return quotient(savings_present_value, investment_present_value);
}

template <class N>
Measure<N> adjusted_internal_rate_of_return(const N& rate, const Measure<N>& ratio, int years) {
  using boost::multiprecision::exp, boost::multiprecision::log;
  using std::exp, std::log;
  require_rate("rate", rate);
  errors::require_in_range("years", years, 1, 1000, "years");
  if (!ratio.value) return {std::nullopt, ratio.why_none};
  if (*ratio.value <= N(0)) return {std::nullopt, "the savings are not positive"};
  return {N((N(1) + rate) * exp(N(log(*ratio.value) / N(years))) - N(1)), {}};
}

#define WARMLEDGER_INSTANTIATE(N)                                                                   \
  template N single_present_value<N>(const N&, const N&);                                           \
  template N uniform_present_value<N>(const N&, int);                                               \
  template N modified_uniform_present_value<N>(const N&, const N&, int);                            \
  template N net_present_value<N>(const N&, std::span<const N>);                                    \
  template void net_present_values<N>(const N&, std::span<const std::span<const N>>, std::span<N>); \
  template N periodic_rate<N>(const N&, int);                                                       \
  template N yearly_rate<N>(const N&, int);                                                         \
  template N monthly_rate<N>(const N&);                                                             \
  template N real_rate<N>(const N&, const N&);                                                      \
  template Measure<N> payback<N>(std::span<const N>);                                               \
  template Measure<N> discounted_payback<N>(const N&, std::span<const N>);                          \
  template Measure<N> savings_to_investment<N>(const N&, const N&);                                 \
  template Measure<N> adjusted_internal_rate_of_return<N>(const N&, const Measure<N>&, int);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::economics
