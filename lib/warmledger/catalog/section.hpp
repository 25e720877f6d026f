// Section: one table of a TOML file, read key by key through the key table, with errors that name file, line and key.
// Inside this room only.
#pragma once

#include <algorithm>
#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

// toml++ 3.3 holds some input for impossible that a broken file can bring about, and goes on undefined. Here, in the
// one place that includes it, "impossible" is an error like any other; parse_toml() turns it into a sentence.
#include <stdexcept>
namespace warmledger::catalog {
struct TomlGaveUp : std::runtime_error {
  TomlGaveUp() : std::runtime_error("the reader of TOML gave up") {}
};
[[noreturn]] inline void toml_gave_up() {
  throw TomlGaveUp();
}
}  // namespace warmledger::catalog
#if __has_include(<toml++/impl/preprocessor.h>)
#include <toml++/impl/preprocessor.h>
#undef TOML_UNREACHABLE
#define TOML_UNREACHABLE ::warmledger::catalog::toml_gave_up()
#undef TOML_ASSERT
#define TOML_ASSERT(expression) ((expression) ? static_cast<void>(0) : ::warmledger::catalog::toml_gave_up())
#undef TOML_ASSERT_ASSUME
#define TOML_ASSERT_ASSUME(expression) TOML_ASSERT(expression)
#endif
#include <toml++/toml.h>

#include "warmledger/catalog/program_keys.hpp"
#include "warmledger/catalog/text.hpp"
#include "warmledger/dates/dates.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

inline std::string value_text(const toml::node& node) {
  if (const auto* t = node.as_string()) return fmt::format("\"{}\"", shown(t->get()));
  if (const auto* i = node.as_integer()) return fmt::format("{}", i->get());
  if (const auto* f = node.as_floating_point()) return errors::plain_number(f->get());
  if (const auto* b = node.as_boolean()) return b->get() ? "true" : "false";
  if (const auto* d = node.as_date())
    return fmt::format("{:04}-{:02}-{:02}", d->get().year, d->get().month, d->get().day);
  if (node.is_date_time()) return "a date with a time";
  if (node.is_time()) return "a time of day";
  if (node.is_table()) return "a table";
  return "a list";
}

inline long line_of(const toml::node& node) {
  return static_cast<long>(node.source().begin.line);
}

inline std::optional<long> known_line(long line) {
  return line > 0 ? std::optional<long>(line) : std::nullopt;
}

/// Runs `work` and gives every error of this library the file and line it lacks.
template <class Work>
auto located(const std::string& file, long line, Work&& work) {
  const auto again = [&](const errors::Error& error) { return error.located(file, known_line(line)); };
  try {
    return work();
  } catch (const errors::ValueOutOfRange& error) {
    throw errors::ValueOutOfRange(again(error));
  } catch (const errors::MissingValue& error) {
    throw errors::MissingValue(again(error));
  } catch (const errors::Contradiction& error) {
    throw errors::Contradiction(again(error));
  } catch (const errors::UnknownName& error) {
    throw errors::UnknownName(again(error));
  } catch (const errors::DuplicateName& error) {
    throw errors::DuplicateName(again(error));
  } catch (const errors::MalformedText& error) {
    throw errors::MalformedText(again(error));
  }
}

/// One table of the file, read key by key through the table of specs.
class Section {
 public:
  /// `parts`: names of the tables and lists of tables that may stand in it. An unknown key throws; the earliest in the
  /// file is named.
  Section(const toml::table* node, std::string_view name, const std::string& file,
          std::initializer_list<std::string_view> parts = {}, long parent_line = 0)
      : node_(node),
        name_(name),
        file_(file),
        line_(node != nullptr && line_of(*node) > 0 ? line_of(*node) : parent_line) {
    if (node_ == nullptr) return;
    std::vector<std::string> known(parts.begin(), parts.end());
    for (const Spec& spec : specs()) {
      if (spec.table == name_) known.emplace_back(spec.name);
    }
    const toml::key* worst = nullptr;
    for (const auto& [key, value] : *node_) {
      if (std::find(known.begin(), known.end(), key.str()) != known.end()) continue;
      if (worst == nullptr || key.source().begin.line < worst->source().begin.line) worst = &key;
    }
    if (worst == nullptr) return;
    const std::string nearest = errors::nearest_name(worst->str().substr(0, 200), known);
    throw errors::UnknownName(
        {{file_, known_line(static_cast<long>(worst->source().begin.line)), {}, path_of(name_, shown(worst->str()))},
         "",
         nearest.empty() ? "is no key of this table"
                         : fmt::format("is no key of this table (did you mean {}?)", nearest),
         fmt::format("{}", fmt::join(known, ", "))});
  }

  [[nodiscard]] long line() const { return line_; }
  [[nodiscard]] const std::string& file() const { return file_; }

  [[nodiscard]] bool has(std::string_view name) const { return find(name) != nullptr; }

  /// Line of a key's value, or of the table if the key is absent.
  [[nodiscard]] long line_of_key(std::string_view name) const {
    const toml::node* value = find(name);
    return value != nullptr ? line_of(*value) : line_;
  }

  [[nodiscard]] std::optional<double> maybe_number(std::string_view name) const {
    const Spec& spec = spec_of(name);
    const toml::node* value = find(name);
    if (value == nullptr) return default_number(spec);
    double found = 0;
    if (const auto* i = value->as_integer()) {
      found = static_cast<double>(i->get());
    } else if (const auto* f = value->as_floating_point(); f != nullptr && spec.type == KeyType::number) {
      found = f->get();
    } else {
      fail<errors::MalformedText>(name, *value,
                                  spec.type == KeyType::number ? "is not a number" : "is not a whole number");
    }
    if (!(found >= spec.low && found <= spec.high)) fail<errors::ValueOutOfRange>(name, *value, "is out of range");
    return found;
  }
  [[nodiscard]] double number_of(std::string_view name) const {
    const auto found = maybe_number(name);
    return found ? *found : missing<double>(name);
  }
  [[nodiscard]] int whole_of(std::string_view name) const { return static_cast<int>(number_of(name)); }

  /// Text without control characters; empty if absent and not required.
  [[nodiscard]] std::string text_of(std::string_view name) const {
    const Spec& spec = spec_of(name);
    const toml::node* value = find(name);
    if (value == nullptr) return spec.default_text == required ? missing<std::string>(name) : std::string();
    const auto* found = value->as_string();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is not text");
    check_text(name, *value, found->get(), name == "id" ? most_id : most_text);
    return found->get();
  }
  /// One of the words of the spec, as its position; the default's position if absent.
  [[nodiscard]] std::size_t choice_of(std::string_view name) const {
    const Spec& spec = spec_of(name);
    const std::vector<std::string> words = words_of(spec.unit);
    const toml::node* value = find(name);
    const std::string word = value != nullptr                ? text_of(name)
                             : spec.default_text == required ? missing<std::string>(name)
                                                             : std::string(spec.default_text);
    return position(name, value, word, words);
  }
  [[nodiscard]] std::optional<dates::Date> maybe_date(std::string_view name) const {
    const toml::node* value = find(name);
    if (value == nullptr)
      return spec_of(name).default_text == required ? missing<dates::Date>(name) : std::optional<dates::Date>();
    const auto* found = value->as_date();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is not a date");
    const Spec& spec = spec_of(name);
    const int first = spec.low > 0 ? static_cast<int>(spec.low) : first_year;
    const int last = spec.low > 0 ? static_cast<int>(spec.high) : last_year;
    if (found->get().year < first || found->get().year > last)
      fail<errors::ValueOutOfRange>(name, *value, "is out of range");
    return dates::make_date(found->get().year, found->get().month, found->get().day);
  }
  [[nodiscard]] bool flag_of(std::string_view name) const {
    const toml::node* value = find(name);
    if (value == nullptr) return spec_of(name).default_text == "true";
    const auto* found = value->as_boolean();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is neither true nor false");
    return found->get();
  }
  [[nodiscard]] std::vector<std::string> list_of(std::string_view name) const {
    (void)spec_of(name);
    std::vector<std::string> out;
    const toml::node* value = find(name);
    if (value == nullptr) return out;
    const auto* found = value->as_array();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is not a list");
    for (const toml::node& item : *found) {
      const auto* word = item.as_string();
      if (word == nullptr) fail<errors::MalformedText>(name, item, "is not text");
      check_text(name, item, word->get(), most_id);
      if (std::find(out.begin(), out.end(), word->get()) != out.end())
        fail<errors::DuplicateName>(name, item, "stands twice in the list");
      out.push_back(word->get());
    }
    return out;
  }
  /// A list of numbers; empty if absent.
  [[nodiscard]] std::vector<double> numbers_of(std::string_view name) const {
    const Spec& spec = spec_of(name);
    std::vector<double> out;
    const toml::node* value = find(name);
    if (value == nullptr) return out;
    const auto* found = value->as_array();
    if (found == nullptr) fail<errors::MalformedText>(name, *value, "is not a list");
    if (found->empty()) fail<errors::MissingValue>(name, *value, "is empty");
    for (const toml::node& item : *found) {
      const std::optional<double> number = item.value<double>();
      if (!number || item.is_boolean()) fail<errors::MalformedText>(name, item, "is not a number");
      if (!(*number >= spec.low && *number <= spec.high)) fail<errors::ValueOutOfRange>(name, item, "is out of range");
      out.push_back(*number);
    }
    return out;
  }
  /// A list of words of the spec, as positions.
  [[nodiscard]] std::vector<std::size_t> choices_of(std::string_view name) const {
    const std::vector<std::string> words = words_of(spec_of(name).unit);
    std::vector<std::size_t> out;
    for (const std::string& word : list_of(name)) out.push_back(position(name, find(name), word, words));
    return out;
  }

  /// Which one of several keys is given; Contradiction or MissingValue unless it is exactly one (or, if not `needed`,
  /// none: the result is then empty).
  [[nodiscard]] std::string_view only_one(std::initializer_list<std::string_view> names, bool needed = true) const {
    std::string_view found;
    const std::string all = fmt::format("{} of {}", needed ? "exactly one" : "at most one", fmt::join(names, ", "));
    for (const std::string_view name : names) {
      if (!has(name)) continue;
      if (!found.empty()) {
        throw errors::Contradiction({{file_, known_line(line_of_key(name)), {}, path_of(name_, name)},
                                     value_text(*find(name)),
                                     fmt::format("stands beside {}", found),
                                     all});
      }
      found = name;
    }
    if (found.empty() && needed)
      throw errors::MissingValue(
          {{file_, known_line(line_), {}, path_of(name_, *names.begin())}, "", "is missing", all});
    return found;
  }

  /// A table within this one; nullptr if absent.
  [[nodiscard]] const toml::table* table(std::string_view name) const {
    const toml::node* value = find(name);
    if (value == nullptr) return nullptr;
    const auto* found = value->as_table();
    if (found == nullptr) structure(name, *value, "is not a table", fmt::format("a table: [{}]", path_of(name_, name)));
    return found;
  }
  /// The tables of a list of tables; none if absent.
  [[nodiscard]] std::vector<const toml::table*> tables(std::string_view name) const {
    std::vector<const toml::table*> out;
    const toml::node* value = find(name);
    if (value == nullptr) return out;
    const std::string allowed = fmt::format("a list of tables: [[{}]]", path_of(name_, name));
    const auto* found = value->as_array();
    if (found == nullptr) structure(name, *value, "is not a list of tables", allowed);
    for (const toml::node& item : *found) {
      const auto* one = item.as_table();
      if (one == nullptr) structure(name, item, "is not a table", allowed);
      out.push_back(one);
    }
    return out;
  }

  template <class E>
  [[noreturn]] void fail(std::string_view name, const toml::node& value, std::string what) const {
    throw E({{file_, known_line(line_of(value)), {}, path_of(name_, name)},
             value_text(value),
             std::move(what),
             allowed_of(spec_of(name))});
  }
  template <class E>
  [[noreturn]] void fail(std::string_view name, std::string value, std::string what, std::string allowed) const {
    throw E({{file_, known_line(line_of_key(name)), {}, path_of(name_, name)},
             std::move(value),
             std::move(what),
             std::move(allowed)});
  }

 private:
  [[nodiscard]] const toml::node* find(std::string_view name) const {
    return node_ == nullptr ? nullptr : node_->get(name);
  }

  [[nodiscard]] const Spec& spec_of(std::string_view name) const { return spec_named(name_, name); }

  static std::optional<double> default_number(const Spec& spec) {
    const NumberText read = number_from(spec.default_text);
    return read.what.empty() ? std::optional<double>(read.value) : std::nullopt;
  }

  template <class T>
  [[nodiscard]] T missing(std::string_view name) const {
    throw errors::MissingValue(
        {{file_, known_line(line_), {}, path_of(name_, name)}, "", "is missing", allowed_of(spec_of(name))});
  }

  void check_text(std::string_view name, const toml::node& value, const std::string& found, std::size_t most) const {
    if (is_blank(found)) fail<errors::MissingValue>(name, value, "is blank");
    if (has_control_character(found))
      fail<errors::MalformedText>(name, value, "has a control character (a tab, a line end or the like)");
    if (character_count(found) > most) {
      throw errors::MalformedText({{file_, known_line(line_of(value)), {}, path_of(name_, name)},
                                   value_text(value),
                                   "is too long",
                                   fmt::format("up to {} characters", most)});
    }
  }

  static std::vector<std::string> words_of(std::string_view choices) {
    std::vector<std::string> words;
    while (!choices.empty()) {
      const std::size_t comma = choices.find(", ");
      words.emplace_back(choices.substr(0, comma));
      choices.remove_prefix(comma == std::string_view::npos ? choices.size() : comma + 2);
    }
    return words;
  }

  [[nodiscard]] std::size_t position(std::string_view name, const toml::node* value, const std::string& word,
                                     const std::vector<std::string>& words) const {
    const auto found = std::find(words.begin(), words.end(), word);
    if (found != words.end()) return static_cast<std::size_t>(found - words.begin());
    const std::string nearest = errors::nearest_name(word, words);
    throw errors::UnknownName(
        {{file_, known_line(value != nullptr ? line_of(*value) : line_), {}, path_of(name_, name)},
         fmt::format("\"{}\"", shown(word)),
         nearest.empty() ? "is not known" : fmt::format("is not known (did you mean {}?)", nearest),
         fmt::format("{}", fmt::join(words, ", "))});
  }

  [[noreturn]] void structure(std::string_view name, const toml::node& value, std::string what,
                              std::string allowed) const {
    throw errors::MalformedText({{file_, known_line(line_of(value)), {}, path_of(name_, name)},
                                 value_text(value),
                                 std::move(what),
                                 std::move(allowed)});
  }

  const toml::table* node_;
  std::string_view name_;
  const std::string& file_;
  long line_;
};

/// Parses TOML; a syntax error becomes a sentence with file, line, and where it can be told the key and value.
[[nodiscard]] toml::table parse_toml(std::string_view content, const std::string& file);

template <class Items, class Id>
void refuse_twin(const Section& section, std::string_view key, const Items& items, const std::string& id, Id id_of) {
  for (const auto& item : items) {
    if (id_of(item) == id)
      section.fail<errors::DuplicateName>(key, fmt::format("\"{}\"", shown(id)), "stands twice", "each once");
  }
}

}  // namespace warmledger::catalog
