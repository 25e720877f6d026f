// Climate: places and their monthly means.
//
// A place's climate is twelve monthly means (data/climates.csv, computed from hourly typical years; the file carries
// its source, credit and cautions). The tilted-plane irradiation and the mains temperature come from sun.hpp and
// mains.hpp.
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace warmledger::climate {

using Monthly = std::array<double, 12>;  ///< January to December

struct Place {
  std::string station_id;    ///< six digits
  std::string name;          ///< as in the data set, for example "DENVER INTL AP"
  std::string state;         ///< two letters
  double latitude_deg = 0;   ///< north positive
  double longitude_deg = 0;  ///< east positive, so negative for the mainland US
  double elevation_m = 0;
  double utc_offset_h = 0;  ///< standard time minus UTC
  std::string record;       ///< data set and record the months were picked from
};

struct MonthlyClimate {
  Monthly horizontal_kwh_m2_day{};  ///< mean daily global irradiation on the horizontal, kWh/m2
  Monthly dry_bulb_c{};             ///< mean air temperature, degC
  Monthly dry_bulb_range_k{};       ///< mean of the daily (highest - lowest) hourly air temperature, K
  Monthly wind_m_s{};
  Monthly ground_albedo{0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2};  ///< 0.2: common practice
};

struct Climate {
  Place place;
  MonthlyClimate months;
};

/// Great-circle distance of two points on a sphere of radius 6371.0088 km (IUGG mean radius), km.
[[nodiscard]] double distance_km(double latitude1_deg, double longitude1_deg, double latitude2_deg,
                                 double longitude2_deg);

/// All places known, with look-up by station number, by name, and by nearness.
class Atlas {
 public:
  Atlas() = default;
  /// Throws ValueOutOfRange for a place off the globe, DuplicateName for a station number that stands twice.
  explicit Atlas(std::vector<Climate> climates);

  struct Found {
    const Climate* climate = nullptr;
    double distance_km = 0;  ///< from the point asked for to the station; 0 when looked up by name
  };
  /// The nearest station; of equally near ones the first. Throws ValueOutOfRange for coordinates off the globe,
  /// NotAvailable if there are no places.
  [[nodiscard]] Found nearest(double latitude_deg, double longitude_deg) const;
  /// By station number ("725650"), by name and state ("Denver Intl AP, CO") or by name alone; case and surplus blanks
  /// do not matter. Of several stations with the name, the first with the long record (1976-2005) is taken, else the
  /// first. Throws UnknownName with names that are near.
  [[nodiscard]] Found named(std::string_view name) const;

  [[nodiscard]] const std::vector<Climate>& climates() const noexcept { return climates_; }

 private:
  struct UnitVector {
    double x, y, z;
  };
  std::vector<Climate> climates_;
  std::vector<UnitVector> directions_;                   // of each climate's place, for nearest()
  std::unordered_map<std::string, std::size_t> by_key_;  // upper-case number, name, and "NAME, ST" to index
};

}  // namespace warmledger::climate
