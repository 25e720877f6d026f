// Energy: the years of many systems at once, by either method. Internal to the room.
#pragma once

#include <exception>
#include <optional>
#include <span>
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

}  // namespace warmledger::appraisal
