// KnownIds: which identifiers a sheet has had so far, in bounded memory for a sheet of any length.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <memory>
#include <optional>
#include <string_view>
#include <vector>

namespace warmledger::catalog {

/// Identifiers as 128-bit hashes with their rows: two that differ are taken for the same once in 1e26 for a sheet of a
/// million rows. A table of at most `most_slots_held` slots of 24 bytes stays in memory; a longer sheet's goes to a
/// temporary file that the operating system removes with the process.
class KnownIds {
 public:
  static constexpr std::size_t most_slots_held = std::size_t{1} << 20U;

  explicit KnownIds(std::size_t most_slots = most_slots_held) : most_slots_(most_slots) {}

  /// The row of the first identifier equal to `id`; none if it is new, and then it is known with `row`, 1 or more.
  /// Throws FileUnreadable where a temporary file is needed and cannot be made or written.
  [[nodiscard]] std::optional<std::int64_t> add(std::string_view id, std::int64_t row);
  [[nodiscard]] bool in_file() const noexcept { return file_ != nullptr; }

 private:
  struct Slot {
    std::uint64_t first = 0;
    std::uint64_t second = 0;
    std::int64_t row = 0;  ///< 0: an empty slot
  };
  struct Close {
    void operator()(std::FILE* file) const noexcept;
  };
  using File = std::unique_ptr<std::FILE, Close>;

  [[nodiscard]] Slot load(std::size_t at) const;
  void store(std::size_t at, const Slot& slot);
  void insert(const Slot& slot);
  [[nodiscard]] std::size_t place_of(const Slot& slot) const noexcept;
  void grow();

  std::size_t most_slots_;
  unsigned bits_ = 0;  ///< the table has 2^bits slots; 0: none yet
  std::size_t used_ = 0;
  std::vector<Slot> held_;
  File file_;
};

}  // namespace warmledger::catalog
