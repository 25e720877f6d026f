#include "warmledger/appraisal/energy.hpp"

#include <algorithm>
#include <atomic>
#include <functional>
#include <mutex>
#include <thread>

#include "warmledger/errors/errors.hpp"

namespace warmledger::appraisal {

namespace {

Energy monthly_year(const Job& job, Scratch& scratch) {
  Energy energy;
  try {
    const climate::Monthly tilted =
        scratch.tilted_by_month({job.climate, job.system.tilt_deg, job.system.azimuth_deg, 0});
    energy.year = hotwater::correlate(job.system, job.demand, job.heater, *job.climate, tilted,
                                      scratch.mains_by_month(*job.climate));
  } catch (const errors::Error&) {
    energy.failure = std::current_exception();
  }
  return energy;
}

/// What a case looks at while it is simulated.
struct Sky {
  std::shared_ptr<const Scratch::HourlyPlace> place;
  std::shared_ptr<const std::vector<double>> irradiance;
  hotwater::Weather weather;
};

std::vector<Energy> hourly_years(std::span<const Job> jobs, Scratch& scratch, bool hours_of_day) {
  std::vector<Energy> energies(jobs.size());
  std::vector<Sky> skies(jobs.size());
  std::vector<hotwater::Case> cases;
  std::vector<std::size_t> job_of;
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    const Job& job = jobs[i];
    try {
      Sky& sky = skies[i];
      sky.place = scratch.hourly_place(*job.climate);
      sky.irradiance = scratch.irradiance(
          {job.climate, job.system.tilt_deg, job.system.azimuth_deg, job.system.collector.incidence_b0});
      sky.weather = {*sky.irradiance, sky.place->year.dry_bulb_c, sky.place->mains_c};
      cases.push_back({job.system, job.plant, job.demand, job.heater, nullptr, &sky.weather});
      job_of.push_back(i);
    } catch (const errors::Error&) {
      energies[i].failure = std::current_exception();
    }
  }
  const auto keep = [&](std::size_t k, hotwater::SimulatedYear&& simulated) {
    Energy& energy = energies[job_of[k]];
    energy.year = simulated.year;
    energy.simulated = std::move(simulated);
  };
  if (cases.empty()) return energies;
  hotwater::SimulationOptions options;
  options.hours_of_day = hours_of_day;
  try {
    std::vector<hotwater::SimulatedYear> years = hotwater::simulate(cases, *cases.front().weather, options);
    for (std::size_t k = 0; k < years.size(); ++k) keep(k, std::move(years[k]));
  } catch (const errors::Error&) {
    // One case's input is refused before any step is run: alone, each either runs or says what is wrong with it.
    for (std::size_t k = 0; k < cases.size(); ++k) {
      try {
        keep(k, hotwater::simulate(cases[k], *cases[k].weather, options));
      } catch (const errors::Error&) {
        energies[job_of[k]].failure = std::current_exception();
      }
    }
  }
  return energies;
}

}  // namespace

std::vector<Energy> years_of(std::span<const Job> jobs, hotwater::Detail detail, Scratch& scratch, bool hours_of_day) {
  if (detail == hotwater::Detail::hourly) return hourly_years(jobs, scratch, hours_of_day);
  std::vector<Energy> energies;
  energies.reserve(jobs.size());
  for (const Job& job : jobs) energies.push_back(monthly_year(job, scratch));
  return energies;
}

namespace {

Scratch::Roof roof_of(const Job& job, hotwater::Detail detail) {
  return {job.climate, job.system.tilt_deg, job.system.azimuth_deg,
          detail == hotwater::Detail::hourly ? job.system.collector.incidence_b0 : 0};
}

/// Jobs that a thread simulates at a time, so that lanes are full and roofs are shared.
constexpr std::size_t batch_jobs = 64;

}  // namespace

std::size_t EnergyStore::Hash::operator()(const Job& job) const noexcept {
  std::size_t seed = std::hash<const void*>{}(job.climate);
  for (const double number :
       {job.system.area_m2(), job.system.tilt_deg, job.system.azimuth_deg, job.system.shading_share,
        job.system.storage_l, job.demand.litre_day, job.demand.set_temperature_c, job.heater.standby_ua_w_k}) {
    seed ^= std::hash<double>{}(number) + 0x9e3779b97f4a7c15ULL + (seed << 6U) + (seed >> 2U);
  }
  return seed;
}

std::size_t EnergyStore::add(const Job& job) {
  const auto [at, is_new] = places_.try_emplace(job, jobs_.size());
  if (is_new) jobs_.push_back(job);
  return at->second;
}

void EnergyStore::work_out(unsigned threads) {
  std::vector<std::size_t> wanted;
  for (std::size_t i = energies_.size(); i < jobs_.size(); ++i) wanted.push_back(i);
  energies_.resize(jobs_.size());
  // Jobs of one roof side by side: their sun is worked out once, by the thread that meets the roof. A thread takes
  // whole roofs, and as many of them as fill its lanes.
  std::unordered_map<Scratch::Roof, std::size_t, Scratch::Hash> roof_number;
  std::vector<std::vector<std::size_t>> by_roof;
  for (const std::size_t i : wanted) {
    const auto [at, is_new] = roof_number.try_emplace(roof_of(jobs_[i], detail_), by_roof.size());
    if (is_new) by_roof.emplace_back();
    by_roof[at->second].push_back(i);
  }
  // The sun of roofs that several batches share is made here, before they are dealt out.
  Scratch shared;
  std::vector<std::vector<std::size_t>> batches;
  bool open = false;
  for (const std::vector<std::size_t>& of_roof : by_roof) {
    if (of_roof.size() > batch_jobs) {
      const Scratch::Roof roof = roof_of(jobs_[of_roof.front()], detail_);
      try {
        if (detail_ == hotwater::Detail::hourly) {
          (void)shared.irradiance(roof);
        } else {
          (void)shared.tilted_by_month(roof);
        }
      } catch (const errors::Error&) {  // NOLINT(bugprone-empty-catch): each of its jobs says so itself
      }
      for (std::size_t first = 0; first < of_roof.size(); first += batch_jobs) {
        const auto from = of_roof.begin() + static_cast<std::ptrdiff_t>(first);
        const std::size_t count = std::min(batch_jobs, of_roof.size() - first);
        batches.emplace_back(from, from + static_cast<std::ptrdiff_t>(count));
      }
      open = false;
      continue;
    }
    if (!open || batches.back().size() + of_roof.size() > batch_jobs) batches.emplace_back();
    batches.back().insert(batches.back().end(), of_roof.begin(), of_roof.end());
    open = true;
  }

  std::atomic<std::size_t> next{0};
  std::atomic<std::size_t> irradiances{shared.irradiances_made()};
  std::mutex mutex;
  std::exception_ptr failure;
  const auto work = [&] {
    try {
      Scratch scratch = shared;
      const std::size_t before = scratch.irradiances_made();
      for (std::size_t b = next++; b < batches.size(); b = next++) {
        std::vector<Job> jobs;
        for (const std::size_t i : batches[b]) jobs.push_back(jobs_[i]);
        std::vector<Energy> found = years_of(jobs, detail_, scratch, hours_of_day_);
        for (std::size_t k = 0; k < found.size(); ++k) energies_[batches[b][k]] = std::move(found[k]);
      }
      irradiances += scratch.irradiances_made() - before;
    } catch (...) {
      const std::lock_guard lock(mutex);
      if (!failure) failure = std::current_exception();
    }
  };
  {
    const std::size_t most = threads != 0 ? threads : std::max(1U, std::thread::hardware_concurrency());
    std::vector<std::jthread> pool;
    for (std::size_t t = 1; t < std::min(most, batches.size()); ++t) pool.emplace_back(work);
    work();
  }
  if (failure) std::rethrow_exception(failure);
  irradiances_ += irradiances;
}

}  // namespace warmledger::appraisal
