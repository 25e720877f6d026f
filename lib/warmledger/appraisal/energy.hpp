// Energy: the years of many systems at once, by either method, and a store that works each one out once.
#pragma once

#include <cstddef>
#include <exception>
#include <optional>
#include <span>
#include <unordered_map>
#include <vector>

#include "warmledger/appraisal/scratch.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/hotwater/year.hpp"

namespace warmledger::appraisal {

/// One system in one house.
struct Job {
  const climate::Climate* climate = nullptr;
  hotwater::SolarSystem system;  ///< as it stands on that roof
  hotwater::Plant plant;
  hotwater::Demand demand;
  hotwater::Heater heater;
  bool operator==(const Job&) const = default;
};

/// A job's year, or what was wrong with it.
struct Energy {
  hotwater::Year year;
  std::optional<hotwater::SimulatedYear> simulated;  ///< Detail::hourly
  std::exception_ptr failure;
};

/// One result for each job, in order; a job's result does not depend on the others. `hours_of_day`: for prices that
/// change with the hour (hourly method).
[[nodiscard]] std::vector<Energy> years_of(std::span<const Job> jobs, hotwater::Detail detail, Scratch& scratch,
                                           bool hours_of_day = false);

/// Energies of jobs that are often the same: each distinct one is worked out once, and so is each sun on a roof.
class EnergyStore {
 public:
  EnergyStore(hotwater::Detail detail, bool hours_of_day) : detail_(detail), hours_of_day_(hours_of_day) {}

  /// The job's place; equal jobs have the same one.
  std::size_t add(const Job& job);
  /// Works out all jobs that were added since. The energies do not depend on `threads` (0: one for each core).
  void work_out(unsigned threads);
  /// After work_out().
  [[nodiscard]] const Energy& operator[](std::size_t place) const { return energies_.at(place); }

  [[nodiscard]] std::size_t simulations() const noexcept { return energies_.size(); }  ///< years worked out so far
  [[nodiscard]] std::size_t irradiances() const noexcept { return irradiances_; }      ///< roofs' years of sun so far

 private:
  struct Hash {
    std::size_t operator()(const Job& job) const noexcept;
  };
  hotwater::Detail detail_;
  bool hours_of_day_;
  std::unordered_map<Job, std::size_t, Hash> places_;
  std::vector<Job> jobs_;
  std::vector<Energy> energies_;
  std::size_t irradiances_ = 0;
};

}  // namespace warmledger::appraisal
