// Scratch: what households of one sheet share, kept by one thread from household to household.
#pragma once

#include <array>
#include <cstddef>
#include <memory>
#include <mutex>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "warmledger/climate/climate.hpp"
#include "warmledger/climate/hourly.hpp"

namespace warmledger::appraisal {

/// Per-thread store of irradiation, mains water and stations. Results do not depend on what is in it. Bounded: a long
/// sheet of roofs that are all different does not grow it without end.
class Scratch {
 public:
  /// A collector plane at a place.
  struct Roof {
    const climate::Climate* climate = nullptr;
    double tilt_deg = 0;
    double azimuth_deg = 0;
    double incidence_b0 = 0;  ///< 0 in the monthly method, which has a mean factor of its own
    bool operator==(const Roof&) const = default;
  };
  struct Hash {
    std::size_t operator()(const Roof& roof) const noexcept;
  };
  /// A place's synthesised hourly year, its sun and its cold water.
  struct HourlyPlace {
    climate::HourlyYear year;
    climate::SunYear sun;
    std::array<double, 365> mains_c{};
  };

  [[nodiscard]] const climate::Monthly& mains_by_month(const climate::Climate& climate);
  [[nodiscard]] climate::Monthly tilted_by_month(const Roof& roof);
  [[nodiscard]] std::shared_ptr<const HourlyPlace> hourly_place(const climate::Climate& climate);
  /// Irradiance behind the glass of 8760 hours, W/m2.
  [[nodiscard]] std::shared_ptr<const std::vector<double>> irradiance(const Roof& roof);

  std::unordered_map<std::string, climate::Atlas::Found> places;

  /// Irradiations and irradiances of roofs that were worked out here, those found here again left out.
  [[nodiscard]] std::size_t irradiances_made() const noexcept { return irradiances_made_; }

 private:
  std::size_t irradiances_made_ = 0;
  std::unordered_map<const climate::Climate*, climate::Monthly> mains_;
  std::unordered_map<Roof, climate::Monthly, Hash> tilted_;
  std::unordered_map<const climate::Climate*, std::shared_ptr<const HourlyPlace>> hourly_;
  std::unordered_map<Roof, std::shared_ptr<const std::vector<double>>, Hash> irradiance_;
};

/// Scratches that wait for the next call, for callers that keep none of their own. Any number of threads may share it.
class ScratchPool {
 public:
  /// Runs `work` with a Scratch that nobody else holds.
  template <class Work>
  auto lend(const Work& work) {
    struct Loan {
      ScratchPool& pool;
      std::unique_ptr<Scratch> scratch = pool.take();
      ~Loan() { pool.give(std::move(scratch)); }
    } loan{*this};
    return work(*loan.scratch);
  }

 private:
  [[nodiscard]] std::unique_ptr<Scratch> take();
  void give(std::unique_ptr<Scratch> scratch) noexcept;

  std::mutex mutex_;
  std::vector<std::unique_ptr<Scratch>> idle_;  ///< few: each may hold some 60 MB
};

}  // namespace warmledger::appraisal
