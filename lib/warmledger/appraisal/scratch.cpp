#include "warmledger/appraisal/scratch.hpp"

#include <charconv>
#include <cstdint>
#include <functional>

#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/climate/synthesis.hpp"
#include "warmledger/climate/tilted.hpp"

namespace warmledger::appraisal {

namespace {

constexpr std::size_t most_monthly_roofs = 4096;  // some 100 bytes each
constexpr std::size_t most_hourly_roofs = 256;    // 70 kB each
constexpr std::size_t most_hourly_places = 64;    // some 700 kB each
constexpr std::size_t most_idle = 2;

/// The synthetic year of a place is drawn from its station number, so that every run sees the same weather.
std::uint64_t seed_of(const climate::Place& place) {
  std::uint64_t number = 0;
  const std::string& id = place.station_id;
  std::from_chars(id.data(), id.data() + id.size(), number);
  return number;
}

}  // namespace

std::size_t Scratch::Hash::operator()(const Roof& roof) const noexcept {
  std::size_t seed = std::hash<const void*>{}(roof.climate);
  for (const double number : {roof.tilt_deg, roof.azimuth_deg, roof.incidence_b0}) {
    seed ^= std::hash<double>{}(number) + 0x9e3779b97f4a7c15ULL + (seed << 6U) + (seed >> 2U);
  }
  return seed;
}

const climate::Monthly& Scratch::mains_by_month(const climate::Climate& climate) {
  auto found = mains_.find(&climate);
  if (found == mains_.end()) found = mains_.emplace(&climate, climate::mains_by_month_c(climate)).first;
  return found->second;
}

climate::Monthly Scratch::tilted_by_month(const Roof& roof) {
  const auto found = tilted_.find(roof);
  if (found != tilted_.end()) return found->second;
  if (tilted_.size() >= most_monthly_roofs) tilted_.clear();
  ++irradiances_made_;
  return tilted_.emplace(roof, climate::tilted_irradiation(*roof.climate, roof.tilt_deg, roof.azimuth_deg))
      .first->second;
}

std::shared_ptr<const Scratch::HourlyPlace> Scratch::hourly_place(const climate::Climate& climate) {
  const auto found = hourly_.find(&climate);
  if (found != hourly_.end()) return found->second;
  if (hourly_.size() >= most_hourly_places) hourly_.clear();
  auto place = std::make_shared<HourlyPlace>();
  place->year = climate::synthesize(climate, seed_of(climate.place));
  place->sun = climate::sun_year(climate.place, place->year.years);
  place->mains_c = climate::mains_by_day_c(climate);
  return hourly_.emplace(&climate, std::move(place)).first->second;
}

std::shared_ptr<const std::vector<double>> Scratch::irradiance(const Roof& roof) {
  const auto found = irradiance_.find(roof);
  if (found != irradiance_.end()) return found->second;
  if (irradiance_.size() >= most_hourly_roofs) irradiance_.clear();
  ++irradiances_made_;
  const std::shared_ptr<const HourlyPlace> place = hourly_place(*roof.climate);
  climate::Plane plane;
  plane.tilt_deg = roof.tilt_deg;
  plane.azimuth_deg = roof.azimuth_deg;
  plane.incidence_b0 = roof.incidence_b0;
  plane.ground_albedo = roof.climate->months.ground_albedo;
  auto hours =
      std::make_shared<const std::vector<double>>(climate::plane_year(place->year, place->sun, plane).effective_w_m2);
  return irradiance_.emplace(roof, std::move(hours)).first->second;
}

std::unique_ptr<Scratch> ScratchPool::take() {
  const std::lock_guard lock(mutex_);
  if (idle_.empty()) {
    idle_.reserve(most_idle);
    return std::make_unique<Scratch>();
  }
  std::unique_ptr<Scratch> last = std::move(idle_.back());
  idle_.pop_back();
  return last;
}

void ScratchPool::give(std::unique_ptr<Scratch> scratch) noexcept {
  const std::lock_guard lock(mutex_);
  if (idle_.size() < most_idle) idle_.push_back(std::move(scratch));  // reserved by take()
}

}  // namespace warmledger::appraisal
