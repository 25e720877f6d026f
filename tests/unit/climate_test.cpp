// Climate: our own promises. Published values are in tests/reference.
#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "warmledger/climate/climate.hpp"
#include "warmledger/climate/mains.hpp"
#include "warmledger/climate/sun.hpp"
#include "warmledger/errors/errors.hpp"

using namespace warmledger;
using climate::Atlas;
using climate::Climate;
using doctest::Approx;

namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
constexpr double infinite = std::numeric_limits<double>::infinity();

Climate at(std::string id, std::string name, std::string state, double latitude, double longitude,
           std::string record = "record 1991-2005") {
  Climate c;
  c.place = {std::move(id), std::move(name), std::move(state), latitude, longitude, 0, -6, std::move(record)};
  return c;
}

Atlas invented() {
  return Atlas({at("900001", "ALDER FIELD", "KS", 39, -95), at("900002", "ALDER CREEK AP", "MO", 38.5, -93),
                at("900003", "TWIN HILLS", "KS", 38, -97, "record 1991-2005"),
                at("900004", "TWIN HILLS", "KS", 38.1, -97.1, "record 1976-2005"),
                at("900005", "TWIN HILLS", "KS", 38.2, -97.2, "record 1976-2005"),
                at("900006", "FAR ISLE", "AK", 52.7, 174.1)});
}

template <class Call>
std::string refusal(Call&& call) {
  try {
    call();
  } catch (const errors::Error& error) {
    return error.what();
  }
  return "nothing was thrown";
}

}  // namespace

TEST_CASE("great-circle distance") {
  CHECK(climate::distance_km(40, -100, 40, -100) == 0);
  // A quarter and half of the circumference of the mean sphere.
  CHECK(climate::distance_km(0, 0, 90, 50) == Approx(10007.557).epsilon(1e-6));
  CHECK(climate::distance_km(0, -180, 0, 0) == Approx(20015.115).epsilon(1e-6));
  CHECK(climate::distance_km(30, 10, -30, -170) == Approx(20015.115).epsilon(1e-6));
  CHECK(climate::distance_km(0, 179.5, 0, -179.5) == Approx(111.1950802).epsilon(1e-9));  // over the date line
  CHECK(climate::distance_km(39, -95, 38, -94) == climate::distance_km(38, -94, 39, -95));
  CHECK_THROWS_WITH_AS((void)climate::distance_km(91, 0, 0, 0),
                       "latitude_deg: 91 is out of range; allowed: -90 to 90 degrees", errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)climate::distance_km(0, 0, 0, nan_value),
                       "longitude_deg: NaN is out of range; allowed: -180 to 180 degrees", errors::ValueOutOfRange);
}

TEST_CASE("nearest place: as a plain search over the distances, ties to the first") {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> latitude(-90, 90), longitude(-180, 180);
  std::vector<Climate> many;
  for (int k = 0; k < 300; ++k)
    many.push_back(at(std::to_string(k), "P" + std::to_string(k), "KS", latitude(random), longitude(random)));
  const Atlas atlas(many);
  for (int k = 0; k < 500; ++k) {
    const double p = latitude(random), l = longitude(random);
    double least = infinite;
    std::string id;
    for (const Climate& c : many) {
      const double d = climate::distance_km(p, l, c.place.latitude_deg, c.place.longitude_deg);
      if (d < least) {
        least = d;
        id = c.place.station_id;
      }
    }
    const Atlas::Found found = atlas.nearest(p, l);
    CHECK(found.climate->place.station_id == id);
    CHECK(found.distance_km == least);
  }
  const Atlas twins({at("1", "A", "KS", 39, -95), at("2", "B", "KS", 39, -95)});
  CHECK(twins.nearest(40, -95).climate->place.station_id == "1");
  // Over the date line.
  CHECK(invented().nearest(52, -179).climate->place.name == "FAR ISLE");
}

TEST_CASE("nearest place: bad input") {
  const Atlas atlas = invented();
  CHECK_THROWS_WITH_AS((void)atlas.nearest(90.5, -95), "latitude_deg: 90.5 is out of range; allowed: -90 to 90 degrees",
                       errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)atlas.nearest(39, -950),
                       "longitude_deg: -950 is out of range; allowed: -180 to 180 degrees", errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)atlas.nearest(nan_value, -95), errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)Atlas().nearest(39, -95),
                       "place: no places are known; allowed: at least one place in climates.csv", errors::NotAvailable);
}

TEST_CASE("place by name") {
  const Atlas atlas = invented();
  for (const std::string_view name :
       {"900001", " 900001 ", "ALDER FIELD, KS", "alder field, ks", "Alder Field", "  Alder   Field ,KS "}) {
    CAPTURE(name);
    CHECK(atlas.named(name).climate->place.station_id == "900001");
    CHECK(atlas.named(name).distance_km == 0);
  }
  // Of several stations the first with the long record; each still answers to its number.
  CHECK(atlas.named("twin hills").climate->place.station_id == "900004");
  CHECK(atlas.named("Twin Hills, KS").climate->place.station_id == "900004");
  CHECK(atlas.named("900003").climate->place.station_id == "900003");
  CHECK(atlas.named("900005").climate->place.station_id == "900005");
}

TEST_CASE("place by name: unknown") {
  const Atlas atlas = invented();
  const std::string allowed = "; allowed: a station number, a name, or a name and state, of one of 6 places";
  CHECK(refusal([&] { (void)atlas.named("Alder"); }) ==
        "place: \"Alder\" is not a known place (did you mean \"ALDER FIELD, KS\" or \"ALDER CREEK AP, MO\"?)" +
            allowed);
  CHECK(refusal([&] { (void)atlas.named("alder, mo"); }) ==
        "place: \"alder, mo\" is not a known place (did you mean \"ALDER CREEK AP, MO\"?)" + allowed);
  CHECK(refusal([&] { (void)atlas.named("Far Ile, AK"); }) ==
        "place: \"Far Ile, AK\" is not a known place (did you mean \"FAR ISLE, AK\"?)" + allowed);
  CHECK(refusal([&] { (void)atlas.named("xqzw"); }) == "place: \"xqzw\" is not a known place" + allowed);
  CHECK(refusal([&] { (void)atlas.named(""); }) == "place: \"\" is not a known place" + allowed);
  CHECK(refusal([&] { (void)atlas.named(" , "); }) == "place: \" , \" is not a known place" + allowed);
  CHECK_THROWS_AS((void)atlas.named("900009"), errors::UnknownName);
  CHECK_THROWS_AS((void)Atlas().named("ALDER FIELD"), errors::UnknownName);
}

TEST_CASE("an atlas refuses places off the globe and a station number twice") {
  CHECK_THROWS_WITH_AS(Atlas({at("1", "A", "KS", 100, 0)}),
                       "latitude_deg: 100 is out of range; allowed: -90 to 90 degrees", errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS(Atlas({at("1", "A", "KS", 0, 0), at("1", "B", "KS", 1, 1)}),
                       "station_id: 1 stands twice; allowed: each station number once", errors::DuplicateName);
  // A copy stands on its own.
  Atlas copy;
  {
    const Atlas first = invented();
    copy = first;
  }
  CHECK(copy.named("900002").climate == &copy.climates()[1]);
}

TEST_CASE("months out of range") {
  CHECK_THROWS_WITH_AS((void)climate::average_day_of_month(0), "month: 0 is out of range; allowed: 1 to 12",
                       errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)climate::tilted_month(4, 40, 13, 30, 0, 0.2),
                       "month: 13 is out of range; allowed: 1 to 12", errors::ValueOutOfRange);
}

TEST_CASE("tilted irradiation: properties") {
  for (int month = 1; month <= 12; ++month) {
    CAPTURE(month);
    const double h = 0.5 * climate::extraterrestrial_kwh_m2_day(40, climate::average_day_of_month(month));
    // A plane that lies flat receives the horizontal value, whatever its azimuth and the ground.
    for (const double azimuth : {-180.0, -30.0, 0.0, 77.0}) {
      CHECK(climate::tilted_month(h, 40, month, 0, azimuth, 0.7).tilted_kwh_m2_day == Approx(h).epsilon(1e-12));
    }
    // East and west mirror each other.
    for (const double azimuth : {10.0, 45.0, 90.0, 135.0, 180.0}) {
      CHECK(climate::tilted_month(h, 40, month, 50, azimuth, 0.2).tilted_kwh_m2_day ==
            Approx(climate::tilted_month(h, 40, month, 50, -azimuth, 0.2).tilted_kwh_m2_day).epsilon(1e-12));
    }
    // South is best for a plane at latitude 40 tilted by 40 in winter; north is worse than east.
    const double south = climate::tilted_month(h, 40, month, 40, 0, 0.2).tilted_kwh_m2_day;
    const double east = climate::tilted_month(h, 40, month, 40, -90, 0.2).tilted_kwh_m2_day;
    const double north = climate::tilted_month(h, 40, month, 40, 180, 0.2).tilted_kwh_m2_day;
    if (month <= 3 || month >= 9) {
      CHECK(south > east);
      CHECK(east > north);
    }
    // More light from the ground with a brighter ground, by albedo (1 - cos b)/2 of the horizontal.
    CHECK(climate::tilted_month(h, 40, month, 90, 0, 0.6).tilted_kwh_m2_day -
              climate::tilted_month(h, 40, month, 90, 0, 0.2).tilted_kwh_m2_day ==
          Approx(h * 0.4 / 2).epsilon(1e-9));
    // The two hemispheres mirror each other half a year apart, but for the earth's distance from the sun.
    const double d = climate::declination_deg(climate::average_day_of_month(month));
    CHECK(climate::mean_beam_ratio(40, d, 35, 20) == Approx(climate::mean_beam_ratio(-40, -d, 35, 160)).epsilon(1e-12));
  }
  CHECK(climate::tilted_month(0, 40, 6, 40, 0, 0.2).tilted_kwh_m2_day == 0);
}

TEST_CASE("tilted irradiation: all steps belong together") {
  const climate::TiltedMonth step = climate::tilted_month(4, 40, 4, 35, 15, 0.25);
  CHECK(step.clearness == 4 / step.extraterrestrial_kwh_m2_day);
  const double c = std::cos(35 * std::acos(-1) / 180);
  CHECK(step.tilted_kwh_m2_day ==
        Approx(4 * ((1 - step.diffuse_share) * step.beam_ratio + step.diffuse_share * (1 + c) / 2 + 0.25 * (1 - c) / 2))
            .epsilon(1e-12));
  Climate place = at("1", "A", "KS", 40, -100);
  place.months.horizontal_kwh_m2_day.fill(2);
  place.months.ground_albedo[3] = 0.6;
  const climate::Monthly months = climate::tilted_irradiation(place, 35, 15);
  for (int month = 1; month <= 12; ++month) {
    CHECK(months[static_cast<std::size_t>(month - 1)] ==
          climate::tilted_month(2, 40, month, 35, 15, month == 4 ? 0.6 : 0.2).tilted_kwh_m2_day);
  }
}

TEST_CASE("tilted irradiation: polar night, polar day and sun at the horizon") {
  CHECK(climate::extraterrestrial_kwh_m2_day(80, 355) == 0);
  const climate::TiltedMonth night = climate::tilted_month(0, 80, 12, 60, 0, 0.7);
  CHECK(night.extraterrestrial_kwh_m2_day == 0);
  CHECK(night.clearness == 0);
  CHECK(night.beam_ratio == 0);
  CHECK(night.tilted_kwh_m2_day == 0);
  CHECK_THROWS_AS((void)climate::tilted_month(0.01, 80, 12, 60, 0, 0.7), errors::ValueOutOfRange);

  const climate::TiltedMonth day = climate::tilted_month(6, 80, 6, 60, 0, 0.2);
  CHECK(day.tilted_kwh_m2_day > 0);
  CHECK(std::isfinite(day.tilted_kwh_m2_day));

  // 71.3 N in November: no sun on the average day, some on the first days of the month. What there is, is diffuse.
  const climate::TiltedMonth graze = climate::tilted_month(0.028, 71.32, 11, 60, 0, 0.2);
  CHECK(graze.extraterrestrial_kwh_m2_day == 0);
  CHECK(graze.diffuse_share == 1);
  CHECK(graze.tilted_kwh_m2_day == Approx(0.028 * (0.75 + 0.05)).epsilon(1e-12));
  CHECK_THROWS_AS((void)climate::tilted_month(0.5, 71.32, 11, 60, 0, 0.2), errors::ValueOutOfRange);
  CHECK(climate::mean_beam_ratio(80, -20, 60, 0) == 0);
  // A plane that the sun never gets before: north-facing wall in winter.
  CHECK(climate::mean_beam_ratio(40, -20, 90, 180) == 0);
}

TEST_CASE("tilted irradiation: bad input, each by name and range") {
  struct Row {
    double horizontal, latitude, tilt, azimuth, albedo;
    std::string sentence;
  };
  for (const Row& row : {
           Row{6, 40, 40, 0, 0.2,
               "horizontal_kwh_m2_day: 6 is out of range for month 1 at latitude 40; allowed: 0 to 4.225 kWh/m2 a day, "
               "which is what arrives outside the atmosphere"},
           Row{-1, 40, 40, 0, 0.2,
               "horizontal_kwh_m2_day: -1 is out of range for month 1 at latitude 40; allowed: 0 to 4.225 kWh/m2 a "
               "day, "
               "which is what arrives outside the atmosphere"},
           Row{nan_value, 40, 40, 0, 0.2,
               "horizontal_kwh_m2_day: NaN is out of range for month 1 at latitude 40; allowed: 0 to 4.225 kWh/m2 a "
               "day, "
               "which is what arrives outside the atmosphere"},
           Row{2, 95, 40, 0, 0.2, "latitude_deg: 95 is out of range; allowed: -90 to 90 degrees"},
           Row{2, 40, 91, 0, 0.2, "tilt_deg: 91 is out of range; allowed: 0 to 90 degrees"},
           Row{2, 40, -1, 0, 0.2, "tilt_deg: -1 is out of range; allowed: 0 to 90 degrees"},
           Row{2, 40, 40, 270, 0.2, "azimuth_deg: 270 is out of range; allowed: -180 to 180 degrees"},
           Row{2, 40, 40, infinite, 0.2, "azimuth_deg: infinity is out of range; allowed: -180 to 180 degrees"},
           Row{2, 40, 40, 0, 1.5, "ground_albedo: 1.5 is out of range; allowed: 0 to 1"},
       }) {
    CHECK(refusal([&] {
            (void)climate::tilted_month(row.horizontal, row.latitude, 1, row.tilt, row.azimuth, row.albedo);
          }) == row.sentence);
  }
}

TEST_CASE("mains temperature: properties and bad input") {
  // No swing, no season: 6 F above the air, the offset of the correlation.
  CHECK(climate::mains_temperature_c(100, 10, 0) == Approx(10 + 6 / 1.8).epsilon(1e-12));
  // Held at the freezing point.
  CHECK(climate::mains_temperature_c(30, -20, 40) == 0);
  // South of the equator the year is shifted by half.
  CHECK(climate::mains_temperature_c(200, 15, 15, true) == climate::mains_temperature_c(17.5, 15, 15));
  CHECK(climate::mains_temperature_c(17, 15, 15, true) == climate::mains_temperature_c(199.5, 15, 15));

  CHECK_THROWS_WITH_AS((void)climate::mains_temperature_c(0, 15, 15),
                       "day_of_year: 0 is out of range; allowed: 1 to 366", errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)climate::mains_temperature_c(1, 99, 15),
                       "yearly_mean_air_c: 99 is out of range; allowed: -60 to 50 degC", errors::ValueOutOfRange);
  CHECK_THROWS_WITH_AS((void)climate::mains_temperature_c(1, 15, -1),
                       "monthly_mean_span_k: -1 is out of range; allowed: 0 to 90 K", errors::ValueOutOfRange);
  CHECK_THROWS_AS((void)climate::mains_temperature_c(1, nan_value, 15), errors::ValueOutOfRange);
}

TEST_CASE("mains by month is the mean over the days, from a mean weighted by days and the span of the months") {
  Climate place = at("1", "A", "KS", 39, -95);
  place.months.dry_bulb_c = {-2, 0, 6, 12, 18, 23, 26, 25, 20, 13, 6, 0};
  double mean = 0;
  for (std::size_t m = 0; m < 12; ++m) mean += place.months.dry_bulb_c[m] * climate::days_in_month[m];
  mean /= 365;
  const climate::Monthly mains = climate::mains_by_month_c(place);
  double february = 0;
  for (int day = 32; day <= 59; ++day) february += climate::mains_temperature_c(day, mean, 28) / 28;
  CHECK(mains[1] == Approx(february).epsilon(1e-12));
  CHECK(*std::min_element(mains.begin(), mains.end()) == mains[1]);
  CHECK(*std::max_element(mains.begin(), mains.end()) == mains[7]);

  // The same weather half a year later south of the equator gives the same mains half a year later.
  Climate south = place;
  south.place.latitude_deg = -39;
  std::rotate(south.months.dry_bulb_c.begin(), south.months.dry_bulb_c.begin() + 6, south.months.dry_bulb_c.end());
  const climate::Monthly shifted = climate::mains_by_month_c(south);
  for (std::size_t m = 0; m < 12; ++m) CHECK(std::fabs(shifted[m] - mains[(m + 6) % 12]) < 0.3);

  place.months.dry_bulb_c[4] = nan_value;
  CHECK_THROWS_AS((void)climate::mains_by_month_c(place), errors::ValueOutOfRange);
}
