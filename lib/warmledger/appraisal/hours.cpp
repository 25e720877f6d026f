#include "warmledger/appraisal/hours.hpp"

#include <utility>

#include "warmledger/appraisal/scratch.hpp"
#include "warmledger/errors/errors.hpp"

namespace warmledger::appraisal {

template <class N>
Hours hours_of(const Appraisal<N>& appraisal) {
  if (!appraisal.simulated) {
    throw errors::NotAvailable({{"", {}, {}, "hours"},
                                "the monthly method",
                                "knows no hours",
                                "an appraisal by the hourly method, detail = hourly"});
  }
  Scratch scratch;
  const auto place = scratch.hourly_place(*appraisal.climate);
  const auto irradiance = scratch.irradiance({appraisal.climate, appraisal.system.tilt_deg,
                                              appraisal.system.azimuth_deg, appraisal.system.collector.incidence_b0});
  const hotwater::Weather weather{*irradiance, place->year.dry_bulb_c, place->mains_c};
  hotwater::SimulationOptions options;
  options.trace = true;
  hotwater::SimulatedYear simulated = hotwater::simulate(
      {appraisal.system, appraisal.plant, appraisal.demand, appraisal.heater, nullptr, nullptr}, weather, options);
  const auto& dry_bulb = place->year.dry_bulb_c;
  return {{dry_bulb.begin(), dry_bulb.end()}, *irradiance, std::move(*simulated.trace)};
}

template Hours hours_of(const Appraisal<double>&);
template Hours hours_of(const Appraisal<money::Decimal>&);

}  // namespace warmledger::appraisal
