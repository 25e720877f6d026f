#include "warmledger/catalog/known_ids.hpp"

#include <algorithm>
#include <cstring>
#include <utility>

#include "warmledger/errors/errors.hpp"

namespace warmledger::catalog {

namespace {

constexpr unsigned first_bits = 10;

/// Finalizer of SplitMix64 (Steele, Lea & Flood 2014): one to one, and every bit of the input moves every bit out.
std::uint64_t mixed(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15ULL;
  x = (x ^ (x >> 30U)) * 0xbf58476d1ce4e5b9ULL;
  x = (x ^ (x >> 27U)) * 0x94d049bb133111ebULL;
  return x ^ (x >> 31U);
}

std::uint64_t hash_of(std::string_view text, std::uint64_t start) {
  std::uint64_t hash = mixed(start ^ text.size());
  while (!text.empty()) {
    std::uint64_t word = 0;
    const std::size_t bytes = std::min(text.size(), sizeof word);
    std::memcpy(&word, text.data(), bytes);
    hash = mixed(hash ^ word);
    text.remove_prefix(bytes);
  }
  return hash;
}

[[noreturn]] void fail(const char* what) {
  throw errors::FileUnreadable(
      {{"temporary file of identifiers", {}, {}, ""}, "", what, "room in the temporary folder"});
}

}  // namespace

void KnownIds::Close::operator()(std::FILE* file) const noexcept {
  (void)std::fclose(file);
}

std::size_t KnownIds::place_of(const Slot& slot) const noexcept {
  // The leading bits: when the table grows, slots keep their order, so that a file is written from front to back.
  return static_cast<std::size_t>(slot.first >> (64U - bits_));
}

KnownIds::Slot KnownIds::load(std::size_t at) const {
  if (!file_) return held_[at];
  Slot slot;
  if (std::fseek(file_.get(), static_cast<long>(at * sizeof slot), SEEK_SET) != 0 ||
      std::fread(&slot, sizeof slot, 1, file_.get()) != 1)
    fail("cannot be read");
  return slot;
}

void KnownIds::store(std::size_t at, const Slot& slot) {
  if (!file_) {
    held_[at] = slot;
  } else if (std::fseek(file_.get(), static_cast<long>(at * sizeof slot), SEEK_SET) != 0 ||
             std::fwrite(&slot, sizeof slot, 1, file_.get()) != 1) {
    fail("cannot be written");
  }
}

void KnownIds::insert(const Slot& slot) {
  const std::size_t mask = (std::size_t{1} << bits_) - 1;
  std::size_t at = place_of(slot);
  while (load(at).row != 0) at = (at + 1) & mask;
  store(at, slot);
}

void KnownIds::grow() {
  const std::size_t old_slots = bits_ == 0 ? 0 : std::size_t{1} << bits_;
  std::vector<Slot> held = std::move(held_);
  const File file = std::move(file_);
  bits_ = bits_ == 0 ? first_bits : bits_ + 2;
  const std::size_t slots = std::size_t{1} << bits_;
  held_.clear();
  if (slots <= most_slots_) {
    held_.resize(slots);
  } else {
    file_.reset(std::tmpfile());
    if (!file_) fail("cannot be made");
    // A read or write of one slot must not fetch a whole buffer.
    (void)std::setvbuf(file_.get(), nullptr, _IONBF, 0);
    // The file reads as zeros, empty slots, up to its last byte.
    store(slots - 1, {});
  }
  if (!file) {
    for (const Slot& slot : held) {
      if (slot.row != 0) insert(slot);
    }
    return;
  }
  std::vector<Slot> some(std::min<std::size_t>(old_slots, 4096));
  if (std::fseek(file.get(), 0, SEEK_SET) != 0) fail("cannot be read");
  for (std::size_t done = 0; done < old_slots; done += some.size()) {
    if (std::fread(some.data(), sizeof(Slot), some.size(), file.get()) != some.size()) fail("cannot be read");
    for (const Slot& slot : some) {
      if (slot.row != 0) insert(slot);
    }
  }
}

std::optional<std::int64_t> KnownIds::add(std::string_view id, std::int64_t row) {
  if (bits_ == 0 || used_ * 5 >= (std::size_t{1} << bits_) * 3) grow();
  const Slot slot{hash_of(id, 1), hash_of(id, 2), row};
  const std::size_t mask = (std::size_t{1} << bits_) - 1;
  for (std::size_t at = place_of(slot);; at = (at + 1) & mask) {
    const Slot other = load(at);
    if (other.row == 0) {
      store(at, slot);
      ++used_;
      return std::nullopt;
    }
    if (other.first == slot.first && other.second == slot.second) return other.row;
  }
}

}  // namespace warmledger::catalog
