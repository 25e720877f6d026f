#include "warmledger/climate/climate.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::climate {

namespace {

constexpr double earth_radius_km = 6371.0088;  // IUGG mean radius R1
constexpr std::string_view long_record = "1976-2005";

void require_on_globe(double latitude_deg, double longitude_deg) {
  errors::require_in_range("latitude_deg", latitude_deg, -90, 90, "degrees");
  errors::require_in_range("longitude_deg", longitude_deg, -180, 180, "degrees");
}

/// Upper case (ASCII), no blanks at the ends, single blanks inside, none before a comma and one after it.
std::string folded(std::string_view text) {
  std::string result;
  for (const char letter : text) {
    const bool blank = letter == ' ' || letter == '\t' || letter == '\r' || letter == '\n';
    if (blank) {
      if (!result.empty() && result.back() != ' ') result += ' ';
      continue;
    }
    if (letter == ',') {
      if (!result.empty() && result.back() == ' ') result.pop_back();
      result += ", ";
      continue;
    }
    result += (letter >= 'a' && letter <= 'z') ? static_cast<char>(letter - 'a' + 'A') : letter;
  }
  while (!result.empty() && result.back() == ' ') result.pop_back();
  return result;
}

std::string label(const Place& place) {
  return place.state.empty() ? place.name : place.name + ", " + place.state;
}

}  // namespace

double distance_km(double latitude1_deg, double longitude1_deg, double latitude2_deg, double longitude2_deg) {
  require_on_globe(latitude1_deg, longitude1_deg);
  require_on_globe(latitude2_deg, longitude2_deg);
  // Haversine form: exact for small distances too.
  const double half_latitude = (latitude2_deg - latitude1_deg) * units::radian_per_degree / 2;
  const double half_longitude = (longitude2_deg - longitude1_deg) * units::radian_per_degree / 2;
  const double sin_latitude = std::sin(half_latitude);
  const double sin_longitude = std::sin(half_longitude);
  const double h = sin_latitude * sin_latitude + std::cos(latitude1_deg * units::radian_per_degree) *
                                                     std::cos(latitude2_deg * units::radian_per_degree) *
                                                     sin_longitude * sin_longitude;
  return 2 * earth_radius_km * std::asin(std::min(1.0, std::sqrt(h)));
}

Atlas::Atlas(std::vector<Climate> climates) : climates_(std::move(climates)) {
  directions_.reserve(climates_.size());
  by_key_.reserve(3 * climates_.size());
  for (std::size_t index = 0; index < climates_.size(); ++index) {
    const Place& place = climates_[index].place;
    require_on_globe(place.latitude_deg, place.longitude_deg);
    const double latitude = place.latitude_deg * units::radian_per_degree;
    const double longitude = place.longitude_deg * units::radian_per_degree;
    directions_.push_back(
        {std::cos(latitude) * std::cos(longitude), std::cos(latitude) * std::sin(longitude), std::sin(latitude)});
    const auto add = [&](const std::string& key) {
      if (key.empty()) return;
      const auto [slot, fresh] = by_key_.try_emplace(key, index);
      if (fresh) return;
      const bool had_long = climates_[slot->second].place.record.find(long_record) != std::string::npos;
      const bool has_long = place.record.find(long_record) != std::string::npos;
      if (has_long && !had_long) slot->second = index;
    };
    const std::string number = folded(place.station_id);
    if (!number.empty() && !by_key_.try_emplace(number, index).second) {
      throw errors::DuplicateName(
          {{"", {}, {}, "station_id"}, place.station_id, "stands twice", "each station number once"});
    }
    add(folded(place.name));
    if (!place.state.empty()) add(folded(label(place)));
  }
}

Atlas::Found Atlas::nearest(double latitude_deg, double longitude_deg) const {
  require_on_globe(latitude_deg, longitude_deg);
  if (climates_.empty()) {
    throw errors::NotAvailable(
        {{"", {}, {}, "place"}, "", "no places are known", "at least one place in climates.csv"});
  }
  const double latitude = latitude_deg * units::radian_per_degree;
  const double longitude = longitude_deg * units::radian_per_degree;
  const double x = std::cos(latitude) * std::cos(longitude);
  const double y = std::cos(latitude) * std::sin(longitude);
  const double z = std::sin(latitude);
  // The chord through the earth orders points as the arc does; a linear scan over some thousand places is cheap.
  std::size_t best = 0;
  double least = 5;  // above the largest squared chord of a unit sphere, 4
  for (std::size_t index = 0; index < directions_.size(); ++index) {
    const UnitVector& other = directions_[index];
    const double squared =
        (x - other.x) * (x - other.x) + (y - other.y) * (y - other.y) + (z - other.z) * (z - other.z);
    if (squared < least) {
      least = squared;
      best = index;
    }
  }
  const Place& place = climates_[best].place;
  return {&climates_[best], climate::distance_km(latitude_deg, longitude_deg, place.latitude_deg, place.longitude_deg)};
}

Atlas::Found Atlas::named(std::string_view name) const {
  const std::string key = folded(name);
  if (const auto hit = by_key_.find(key); hit != by_key_.end()) return {&climates_[hit->second], 0};

  // What the writer may have meant: places whose name holds the words, else the nearest by edit distance.
  std::string near;
  const std::size_t comma = key.find(',');
  const std::string words = key.substr(0, comma);
  const std::string state = comma == std::string::npos ? "" : key.substr(std::min(key.size(), comma + 2));
  if (!words.empty()) {
    int listed = 0;
    for (const Climate& climate : climates_) {
      if (folded(climate.place.name).find(words) == std::string::npos) continue;
      if (!state.empty() && folded(climate.place.state) != state) continue;
      if (++listed > 5) {
        near += " or others";
        break;
      }
      near += (listed > 1 ? " or \"" : "\"") + label(climate.place) + "\"";
    }
    if (listed == 0) {
      std::vector<std::string> labels;
      labels.reserve(climates_.size());
      for (const Climate& climate : climates_) {
        labels.push_back(folded(state.empty() ? climate.place.name : label(climate.place)));
      }
      const std::string found = errors::nearest_name(key, labels);
      if (const auto hit = by_key_.find(found); !found.empty() && hit != by_key_.end()) {
        near = "\"" + label(climates_[hit->second].place) + "\"";
      }
    }
  }
  throw errors::UnknownName(
      {{"", {}, {}, "place"},
       fmt::format("\"{}\"", name),
       near.empty() ? "is not a known place" : fmt::format("is not a known place (did you mean {}?)", near),
       fmt::format("a station number, a name, or a name and state, of one of {} places", climates_.size())});
}

}  // namespace warmledger::climate
