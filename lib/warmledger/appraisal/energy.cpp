#include "warmledger/appraisal/energy.hpp"

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

}  // namespace warmledger::appraisal
