#include "warmledger/economics/more_measures.hpp"

#include <array>
#include <cmath>
#include <vector>

#include "warmledger/economics/checks.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::economics {

using money::Decimal;

namespace {

constexpr std::array<std::string_view, 4> timing_names{"end_of_year", "mid_year", "start_of_year", "monthly"};

}  // namespace

std::string_view name_of(Timing timing) {
  return timing_names.at(static_cast<std::size_t>(timing));
}

Timing timing_named(std::string_view name) {
  for (std::size_t k = 0; k < timing_names.size(); ++k) {
    if (timing_names[k] == name) return static_cast<Timing>(k);
  }
  throw errors::unknown_name("timing", name, {timing_names[0], timing_names[1], timing_names[2], timing_names[3]});
}

template <class N>
N timing_factor(const N& rate, Timing timing) {
  using boost::multiprecision::sqrt;
  using std::sqrt;
  require_rate("rate", rate);
  N growth = N(N(1) + rate);
  switch (timing) {
    case Timing::end_of_year:
      return N(1);
    case Timing::mid_year:
      return N(sqrt(growth));
    case Timing::start_of_year:
      return growth;
    case Timing::monthly:
      return N(growth * uniform_present_value(monthly_rate(rate), 12) / N(12));
  }
  return N(1);
}

template <class N>
N present_value(const N& rate, std::span<const N> flows, Timing timing) {
  N value = net_present_value(rate, flows);
  if (timing == Timing::end_of_year || flows.empty()) return value;
  // Everything after time 0 moves forward by the same time.
  const N later = N(value - flows.front());
  return in_number_range("present value", rate, N(flows.front() + later * timing_factor(rate, timing)));
}

template <class N>
N uniform_capital_recovery(const N& rate, int periods) {
  errors::require_in_range("periods", periods, 1, most_periods, "periods");
  return N(N(1) / uniform_present_value(rate, periods));
}

template <class N>
N equivalent_annual_value(const N& rate, const N& present_value, int years) {
  errors::require_in_range("years", years, 1, most_periods, "years");
  require_amount("present_value", present_value);
  return N(present_value * uniform_capital_recovery(rate, years));
}

template <class N>
Measure<N> levelised_cost(const N& cost_present_value, const N& quantity_present_value) {
  require_amount("cost_present_value", cost_present_value);
  require_amount("quantity_present_value", quantity_present_value);
  if (!(quantity_present_value > N(0))) return {std::nullopt, "no quantity is delivered"};
  return quotient(cost_present_value, quantity_present_value);
}

template <class N>
Measure<N> levelised_cost(const N& rate, std::span<const N> costs, std::span<const N> quantities) {
  return levelised_cost(net_present_value(rate, costs), net_present_value(rate, quantities));
}

template <class N>
Measure<N> break_even(const N& value_a, const N& net_savings_a, const N& value_b, const N& net_savings_b) {
  require_amount("value_a", value_a);
  require_amount("net_savings_a", net_savings_a);
  require_amount("value_b", value_b);
  require_amount("net_savings_b", net_savings_b);
  if (value_a == value_b) {
    throw errors::Contradiction({{"", {}, {}, "value_b"},
                                 errors::plain_number(money::to_double(value_b)),
                                 "equals value_a",
                                 "two different values"});
  }
  if (net_savings_a == net_savings_b) return {std::nullopt, "net savings do not change with the value"};
  Measure<N> step = quotient(N(net_savings_a * (value_b - value_a)), N(net_savings_b - net_savings_a));
  if (!step.value) return step;
  return {N(value_a - *step.value), {}};
}

namespace {

/// Walks the running sum of flow(k) to where it last reaches zero from below.
template <class N, class Flow>
Measure<N> last_recovery(const N& rate, std::size_t count, const Flow& flow) {
  if (count == 0) return {std::nullopt, "there are no flows"};
  N sum(0);
  Measure<N> found{N(0), {}};
  bool below = false;
  for (std::size_t k = 0; k < count; ++k) {
    const N step = flow(k);
    const N next = N(sum + step);
    if (below && next >= N(0)) found = {N(N(static_cast<double>(k - 1)) - sum / step), {}};
    below = next < N(0);
    sum = next;
  }
  (void)in_number_range("running sum", rate, sum);
  if (below) return {std::nullopt, "not recovered for good within the study period"};
  return found;
}

}  // namespace

template <class N>
Measure<N> lasting_payback(std::span<const N> flows) {
  require_flows(flows);
  return last_recovery<N>(N(0), flows.size(), [&](std::size_t k) { return flows[k]; });
}

template <class N>
Measure<N> lasting_discounted_payback(const N& rate, std::span<const N> flows) {
  require_flows(flows);
  const N factor = single_present_value(rate, N(1));
  N discount(1);
  return last_recovery<N>(rate, flows.size(), [&](std::size_t k) {
    if (k > 0) discount *= factor;
    return N(flows[k] * discount);
  });
}

template <class N>
Measure<N> modified_internal_rate_of_return(std::span<const N> flows, const N& finance_rate, const N& reinvest_rate) {
  using boost::multiprecision::exp, boost::multiprecision::log;
  using std::exp, std::log;
  require_flows(flows);
  std::vector<N> received;
  std::vector<N> paid;
  for (const N& flow : flows) {
    received.push_back(flow > N(0) ? flow : N(0));
    paid.push_back(flow < N(0) ? N(-flow) : N(0));
  }
  const N gains = net_present_value(reinvest_rate, std::span<const N>(received));
  const N outlay = net_present_value(finance_rate, std::span<const N>(paid));
  if (!(outlay > N(0))) return {std::nullopt, "nothing is paid"};
  if (!(gains > N(0))) return {std::nullopt, "nothing is received"};
  // Both positive means two flows at least, so there is a period to grow over.
  const N periods = N(static_cast<double>(flows.size() - 1));
  Measure<N> growth = quotient(gains, outlay);
  if (!growth.value) return growth;
  if (*growth.value == N(0)) return {std::nullopt, "what is received is too small for a number"};
  return {N(exp(N(log(*growth.value) / periods)) * (N(1) + reinvest_rate) - N(1)), {}};
}

#define WARMLEDGER_INSTANTIATE(N)                                                          \
  template N timing_factor<N>(const N&, Timing);                                           \
  template N present_value<N>(const N&, std::span<const N>, Timing);                       \
  template N uniform_capital_recovery<N>(const N&, int);                                   \
  template N equivalent_annual_value<N>(const N&, const N&, int);                          \
  template Measure<N> levelised_cost<N>(const N&, const N&);                               \
  template Measure<N> levelised_cost<N>(const N&, std::span<const N>, std::span<const N>); \
  template Measure<N> break_even<N>(const N&, const N&, const N&, const N&);               \
  template Measure<N> lasting_payback<N>(std::span<const N>);                              \
  template Measure<N> lasting_discounted_payback<N>(const N&, std::span<const N>);         \
  template Measure<N> modified_internal_rate_of_return<N>(std::span<const N>, const N&, const N&);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::economics
