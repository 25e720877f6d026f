#include "warmledger/economics/cost_tests.hpp"

#include <cmath>
#include <optional>
#include <vector>

#include <fmt/format.h>

#include "warmledger/economics/checks.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::economics {

using money::Decimal;

namespace {

constexpr int effect(Entry entry) {
  return entry == Entry::none ? 0 : entry == Entry::cost ? -1 : 1;
}

constexpr bool rows_in_order() {
  for (std::size_t k = 0; k < cost_item_count; ++k) {
    if (static_cast<std::size_t>(cost_test_rows[k].item) != k) return false;
  }
  return true;
}
static_assert(rows_in_order(), "entry_of looks rows up by item");

// Money between participant and ratepayers must cancel item by item: what both together win or lose is what the total
// resource test counts. A wrong cell in the table fails to compile.
constexpr bool transfers_cancel() {
  for (const CostTestRow& row : cost_test_rows) {
    if (effect(entry_of(row.item, CostTest::participant)) + effect(entry_of(row.item, CostTest::ratepayer_impact)) !=
        effect(entry_of(row.item, CostTest::total_resource))) {
      return false;
    }
  }
  return true;
}
static_assert(transfers_cancel(), "participant and ratepayer impact must add up to total resource");

constexpr std::array<CostTest, cost_test_count> all_tests{CostTest::participant, CostTest::administrator,
                                                          CostTest::ratepayer_impact, CostTest::total_resource,
                                                          CostTest::societal};

constexpr std::array<std::string_view, cost_test_count> test_names{"participant", "administrator", "ratepayer_impact",
                                                                   "total_resource", "societal"};

errors::UnknownName unknown(std::string_view key, std::string_view name, const std::vector<std::string>& names) {
  const std::string nearest = errors::nearest_name(name, names);
  return errors::UnknownName(
      {{"", {}, {}, std::string(key)},
       fmt::format("\"{}\"", name),
       nearest.empty() ? "is not known" : fmt::format("is not known (did you mean {}?)", nearest),
       fmt::format("{}", fmt::join(names, ", "))});
}

}  // namespace

std::string_view name_of(CostTest test) {
  return test_names.at(static_cast<std::size_t>(test));
}

CostTest cost_test_named(std::string_view name) {
  for (const CostTest test : all_tests) {
    if (name_of(test) == name) return test;
  }
  throw unknown("test", name, {test_names.begin(), test_names.end()});
}

CostItem cost_item_named(std::string_view name) {
  std::vector<std::string> names;
  for (const CostTestRow& row : cost_test_rows) {
    if (row.name == name) return row.item;
    names.emplace_back(row.name);
  }
  throw unknown("item", name, names);
}

std::string_view title(CostTest test) {
  switch (test) {
    case CostTest::participant:
      return "Participant";
    case CostTest::administrator:
      return "Program administrator";
    case CostTest::ratepayer_impact:
      return "Ratepayer impact";
    case CostTest::total_resource:
      return "Total resource cost";
    case CostTest::societal:
      return "Societal";
  }
  return {};
}

std::string_view usual_discount_rate(CostTest test) {
  switch (test) {
    case CostTest::participant:
      return "the participant's";
    case CostTest::societal:
      return "society's, lower than the administrator's";
    default:
      return "the administrator's";
  }
}

std::string_view title(Entry entry) {
  switch (entry) {
    case Entry::benefit:
      return "benefit";
    case Entry::cost:
      return "cost";
    case Entry::reduces_cost:
      return "less cost";
    case Entry::none:
      break;
  }
  return "-";
}

std::string cost_test_table() {
  std::string text = fmt::format("{:<39}", "Item");
  for (const CostTest test : all_tests) text += fmt::format(" | {:<21}", title(test));
  for (const CostTestRow& row : cost_test_rows) {
    text += fmt::format("\n{:<39}", row.title);
    for (const Entry entry : row.entries) text += fmt::format(" | {:<21}", title(entry));
  }
  return text + "\n";
}

template <class N>
CostTestResult<N> cost_test(CostTest test, const ItemAmounts<N>& amounts) {
  CostTestResult<N> result;
  for (const CostTestRow& row : cost_test_rows) {
    const N& amount = amounts[row.item];
    if (!is_finite(amount) || amount < N(0)) {
      throw errors::ValueOutOfRange({{"", {}, {}, std::string(row.title)},
                                     errors::plain_number(money::to_double(amount)),
                                     "is out of range",
                                     "finite present values of 0 or more dollars"});
    }
    switch (entry_of(row.item, test)) {
      case Entry::none:
        break;
      case Entry::benefit:
        result.benefits += amount;
        break;
      case Entry::cost:
        result.costs += amount;
        break;
      case Entry::reduces_cost:
        result.costs -= amount;
        break;
    }
  }
  result.net = N(result.benefits - result.costs);
  if (result.costs > N(0)) {
    result.ratio = quotient(result.benefits, result.costs);
  } else {
    result.ratio = {std::nullopt, "there are no costs to compare benefits with"};
  }
  return result;
}

template <class N>
std::array<CostTestResult<N>, cost_test_count> cost_tests(const ItemAmounts<N>& amounts) {
  std::array<CostTestResult<N>, cost_test_count> results;
  for (const CostTest test : all_tests) results[static_cast<std::size_t>(test)] = cost_test(test, amounts);
  return results;
}

namespace {

/// Present values of streams, each worked out once a rate, when it is asked for.
template <class N>
class Values {
 public:
  Values(std::span<const CostStream<N>> streams, const std::array<N, cost_test_count>& rates)
      : streams_(streams), rates_(rates), known_(streams.size() * cost_test_count) {}

  [[nodiscard]] const N& of(std::size_t stream, CostTest test) {
    const auto slot = static_cast<std::size_t>(test);
    const N& rate = rates_[slot];
    // Tests of one rate share the place of the first of them.
    std::size_t first = 0;
    while (first < slot && rates_[first] != rate) ++first;
    std::optional<N>& value = known_[stream * cost_test_count + first];
    if (!value) value = net_present_value(rate, std::span<const N>(streams_[stream].flows));
    return *value;
  }

 private:
  std::span<const CostStream<N>> streams_;
  const std::array<N, cost_test_count>& rates_;
  std::vector<std::optional<N>> known_;
};

template <class N>
CostTestOutcome<N> outcome_of(CostTest test, std::span<const CostStream<N>> streams, Values<N>& values) {
  try {
    ItemAmounts<N> amounts;
    for (std::size_t k = 0; k < streams.size(); ++k) {
      const CostStream<N>& stream = streams[k];
      if (entry_of(stream.when_positive, test) == Entry::none && entry_of(stream.when_negative, test) == Entry::none)
        continue;
      if (!stream.missing.empty()) return {std::nullopt, stream.missing};
      const N& value = values.of(k, test);
      if (value < N(0) && stream.when_negative != stream.when_positive) {
        amounts[stream.when_negative] -= value;
      } else {
        amounts[stream.when_positive] += value;
      }
    }
    return {cost_test(test, amounts), {}};
  } catch (const errors::Error& error) {
    return {std::nullopt, error.what()};
  }
}

}  // namespace

template <class N>
std::array<CostTestOutcome<N>, cost_test_count> cost_tests(std::span<const CostStream<N>> streams,
                                                           const std::array<N, cost_test_count>& rates) {
  Values<N> values(streams, rates);
  std::array<CostTestOutcome<N>, cost_test_count> outcomes;
  for (const CostTest test : all_tests) outcomes[static_cast<std::size_t>(test)] = outcome_of(test, streams, values);
  return outcomes;
}

namespace {
template <class N>
using Streams = std::span<const CostStream<N>>;
template <class N>
using Rates = std::array<N, cost_test_count>;
}  // namespace

#define WARMLEDGER_INSTANTIATE(N)                                                               \
  template CostTestResult<N> cost_test<N>(CostTest, const ItemAmounts<N>&);                     \
  template std::array<CostTestResult<N>, cost_test_count> cost_tests<N>(const ItemAmounts<N>&); \
  template std::array<CostTestOutcome<N>, cost_test_count> cost_tests<N>(Streams<N>, const Rates<N>&);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::economics
