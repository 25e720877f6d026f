// Result columns as Python holds them, and the cells of a sheet as the reader wants them.
#pragma once

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "bind.hpp"
#include "warmledger/screening/screening.hpp"

namespace warmledger::bind {

/// Makes one str of texts that lie in the same memory, for the first of them that differ.
class SharedText {
 public:
  explicit SharedText(std::size_t texts)
      : held_(std::bit_ceil(std::clamp<std::size_t>(2 * texts, 2, 4096))),
        shift_(64 - std::countr_zero(held_.size())) {}

  /// A new reference to the text, to None if it is empty.
  PyObject* operator()(std::string_view text) {
    if (text.empty()) return py::none().release().ptr();
    // Fibonacci hashing of the address, then linear probing.
    auto at =
        static_cast<std::size_t>((reinterpret_cast<std::uintptr_t>(text.data()) * 0x9e3779b97f4a7c15ULL) >> shift_);
    for (; held_[at].made; at = (at + 1) % held_.size()) {
      if (held_[at].text.data() == text.data() && held_[at].text.size() == text.size())
        return py::object(held_[at].made).release().ptr();
    }
    py::object made = py::str(text);
    if (count_ < held_.size() / 2) {
      ++count_;
      held_[at] = {text, made};
    }
    return made.release().ptr();
  }

 private:
  struct Held {
    std::string_view text;
    py::object made;
  };
  std::vector<Held> held_;  ///< a power of two, at most half of them taken
  int shift_;
  std::size_t count_ = 0;
};

/// An array of str, None for an empty text.
inline py::array texts_to_python(std::span<const std::string_view> texts) {
  py::array out(py::dtype("O"), {texts.size()}, {sizeof(PyObject*)});
  auto** place = static_cast<PyObject**>(out.mutable_data());
  SharedText shared(texts.size());
  for (std::size_t i = 0; i < texts.size(); ++i) place[i] = shared(texts[i]);
  return out;
}

/// Two arrays: the numbers, 0 for none, and whether there is none.
inline py::tuple numbers_to_python(std::span<const double> numbers) {
  py::array_t<double> values({numbers.size()}, {sizeof(double)});
  py::array_t<bool> none({numbers.size()}, {sizeof(bool)});
  double* value = values.mutable_data();
  bool* empty = none.mutable_data();
  for (std::size_t i = 0; i < numbers.size(); ++i) {
    // Infinite numbers never leave the library; if one did, it would have no value here either.
    empty[i] = !std::isfinite(numbers[i]);
    value[i] = empty[i] ? 0.0 : numbers[i];
  }
  return py::make_tuple(values, none);
}

/// Arrow's buffers of a column of text: bits of those that are there, ends, bytes; and how many are not there.
template <class End, class At>
py::tuple arrow_text(std::size_t count, At&& at) {
  std::size_t total = 0;
  for (std::size_t i = 0; i < count; ++i) total += at(i).size();
  if (total > static_cast<std::size_t>(std::numeric_limits<End>::max()))
    throw py::value_error("a column of " + std::to_string(count) + " rows has " + std::to_string(total) +
                          " bytes of text; allowed: up to " + std::to_string(std::numeric_limits<End>::max()) +
                          "; take batches of fewer rows");
  // Strides are said, as in arrays.hpp.
  py::array_t<End> ends({count + 1}, {sizeof(End)});
  py::array_t<std::uint8_t> bytes({total}, {sizeof(std::uint8_t)});
  py::array_t<std::uint8_t> there({(count + 7) / 8}, {sizeof(std::uint8_t)});
  End* end = ends.mutable_data();
  std::uint8_t* byte = bytes.mutable_data();
  std::uint8_t* bits = there.mutable_data();
  std::fill(bits, bits + (count + 7) / 8, std::uint8_t{0});
  std::size_t none = 0;
  *end = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const std::string_view text = at(i);
    byte = std::copy(text.begin(), text.end(), byte);
    end[i + 1] = end[i] + static_cast<End>(text.size());
    if (text.empty()) {
      ++none;
    } else {
      bits[i / 8] = static_cast<std::uint8_t>(bits[i / 8] | (1U << (i % 8)));
    }
  }
  return py::make_tuple(there, ends, bytes, none);
}

/// A column of text, until it is known how it is wanted.
struct TextColumn {
  std::shared_ptr<const void> results;  ///< what the texts look into
  std::span<const std::string_view> texts;
};

/// Column name to a TextColumn, or to two arrays of a column of numbers.
template <class Results>
py::dict columns_to_python(Results&& given) {
  const auto results = std::make_shared<const Results>(std::move(given));
  py::dict table;
  const auto specs = screening::result_columns();
  for (std::size_t c = 0; c < specs.size(); ++c) {
    const py::str name(specs[c].name.data(), specs[c].name.size());
    const screening::Values& values = results->columns[c];
    if (specs[c].kind == screening::ColumnKind::text) {
      table[name] = TextColumn{results, values.texts};
    } else {
      table[name] = numbers_to_python(values.numbers);
    }
  }
  return table;
}

inline py::list problems_to_python(std::span<const errors::Problem> found) {
  py::list problems;
  for (const errors::Problem& problem : found) problems.append(to_python(problem));
  return problems;
}

}  // namespace warmledger::bind
