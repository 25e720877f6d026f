#include "warmledger/hotwater/heater.hpp"

#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::hotwater {

namespace {

// Rating condition of the uniform energy factor, 10 CFR 430 subpart B appendix E (values from memory): 58 F inlet,
// 125 F delivered, 67.5 F air; the medium draw pattern takes 55 gal a day.
constexpr double rating_gallons = 55;
constexpr double rating_rise_f = 125 - 58;
constexpr double rating_tank_over_room_f = 125 - 67.5;
// Water of the daily energy equation as its authors use it (Lutz et al. 1998): lb/gal and Btu/(lb F).
constexpr double water_btu_per_gallon_f = 8.293752 * 1.000743;

// Older rating condition: 64.3 gal a day through 77 F, tank 135 F in air of 67.5 F.
constexpr double old_rating_btu_day = 41094;
constexpr double old_rating_tank_over_room_f = 67.5;

[[noreturn]] void refuse(std::string_view key, double value, std::string what, std::string allowed) {
  throw errors::ValueOutOfRange(
      {{"", {}, {}, std::string(key)}, errors::plain_number(value), std::move(what), std::move(allowed)});
}

double most_recovery(HeaterKind kind) {
  return kind == HeaterKind::heat_pump ? 10.0 : 1.0;
}

void check_input(double input_w) {
  errors::require_in_range("input_w", input_w, 100, 1e6, "W");
}

void check_kind(HeaterKind kind, prices::Fuel fuel) {
  if (kind == HeaterKind::heat_pump && fuel != prices::Fuel::electricity) {
    throw errors::Contradiction({{"", {}, {}, "fuel"},
                                 std::string(prices::name_of(fuel)),
                                 "does not go with kind heat_pump",
                                 "electricity for a heat pump"});
  }
}

}  // namespace

std::string_view name_of(HeaterKind kind) {
  switch (kind) {
    case HeaterKind::storage:
      return "storage";
    case HeaterKind::instantaneous:
      return "instantaneous";
    case HeaterKind::heat_pump:
      return "heat_pump";
  }
  return "";
}

HeaterKind heater_kind_named(std::string_view name) {
  for (const HeaterKind kind : {HeaterKind::storage, HeaterKind::instantaneous, HeaterKind::heat_pump}) {
    if (name_of(kind) == name) return kind;
  }
  throw errors::unknown_name("heater_kind", name, {"storage", "instantaneous", "heat_pump"});
}

void check(const Heater& heater) {
  check_kind(heater.kind, heater.fuel);
  errors::require_in_range("recovery_efficiency", heater.recovery_efficiency, 0.1, most_recovery(heater.kind));
  errors::require_in_range("standby_ua_w_k", heater.standby_ua_w_k, 0, 100, "W/K");
  check_input(heater.input_w);
  errors::require_in_range("room_c", heater.room_c, -20, 50, "degC");
  if (heater.kind == HeaterKind::instantaneous && heater.standby_ua_w_k > 0) {
    throw errors::Contradiction({{"", {}, {}, "standby_ua_w_k"},
                                 errors::plain_number(heater.standby_ua_w_k),
                                 "does not go with kind instantaneous, which has no store",
                                 "0 for an instantaneous heater"});
  }
}

Heater heater_from_rating(HeaterKind kind, prices::Fuel fuel, double uniform_energy_factor, double recovery_efficiency,
                          double input_w) {
  check_kind(kind, fuel);
  check_input(input_w);
  Heater heater;
  heater.kind = kind;
  heater.fuel = fuel;
  heater.input_w = input_w;
  if (kind == HeaterKind::instantaneous) {
    errors::require_in_range("uniform_energy_factor", uniform_energy_factor, 0.1, 1);
    heater.recovery_efficiency = uniform_energy_factor;
    return heater;
  }
  errors::require_in_range("recovery_efficiency", recovery_efficiency, 0.1, most_recovery(kind));
  if (!(uniform_energy_factor > 0 && uniform_energy_factor < recovery_efficiency)) {
    refuse("uniform_energy_factor", uniform_energy_factor, "leaves no standby loss or is not above 0",
           fmt::format("above 0 and below the recovery efficiency, {}", errors::plain_number(recovery_efficiency)));
  }
  heater.recovery_efficiency = recovery_efficiency;

  // The daily energy equation at the rating condition,
  //   W/UEF = W/RE (1 - UA dT/P) + 24 UA dT   =>   UA dT (24 - W/(RE P)) = W (1/UEF - 1/RE).
  const double heat_btu = rating_gallons * water_btu_per_gallon_f * rating_rise_f;
  const double input_btu_h = input_w / units::watt_per_btu_h;
  const double idle_h = 24 - heat_btu / (recovery_efficiency * input_btu_h);
  const double loss_btu_h = idle_h > 0 ? heat_btu * (1 / uniform_energy_factor - 1 / recovery_efficiency) / idle_h
                                       : std::numeric_limits<double>::infinity();
  if (!(loss_btu_h < input_btu_h)) {
    refuse("input_w", input_w,
           fmt::format("cannot make the heat of the federal test day ({:.2f} kWh and the standby loss)",
                       heat_btu * units::kwh_per_btu),
           "an input that fits the rating");
  }
  heater.standby_ua_w_k = loss_btu_h / rating_tank_over_room_f * units::w_k_per_btu_hf;
  return heater;
}

double standby_ua_btu_hf_from_energy_factor(double energy_factor, double recovery_efficiency, double input_btu_h) {
  errors::require_in_range("recovery_efficiency", recovery_efficiency, 0.1, 10);
  errors::require_in_range("input_btu_h", input_btu_h, 300, 4e6, "Btu/h");
  if (!(energy_factor > 0 && energy_factor < recovery_efficiency)) {
    refuse("energy_factor", energy_factor, "leaves no standby loss or is not above 0",
           fmt::format("above 0 and below the recovery efficiency, {}", errors::plain_number(recovery_efficiency)));
  }
  const double idle_h = 24 - old_rating_btu_day / (recovery_efficiency * input_btu_h);
  const double loss_btu_h = idle_h > 0 ? old_rating_btu_day * (1 / energy_factor - 1 / recovery_efficiency) / idle_h
                                       : std::numeric_limits<double>::infinity();
  if (!(loss_btu_h < input_btu_h)) {
    refuse("input_btu_h", input_btu_h, "cannot make the heat of the rating day", "an input that fits the rating");
  }
  return loss_btu_h / old_rating_tank_over_room_f;
}

double energy_in_kwh_day(const Heater& heater, double heat_to_water_kwh, double tank_c) {
  if (!(heat_to_water_kwh >= 0 && std::isfinite(heat_to_water_kwh))) {
    refuse("heat_to_water_kwh", heat_to_water_kwh, "is out of range", "finite and not below 0 kWh");
  }
  errors::require_in_range("tank_c", tank_c, -20, 120, "degC");
  // In the equation UA is on the input side: its loss is not divided by the efficiency again. So it holds as it stands
  // for a heat pump, whose recovery efficiency is above 1.
  const double loss_w = heater.standby_ua_w_k * (tank_c > heater.room_c ? tank_c - heater.room_c : 0.0);
  if (!(loss_w < heater.input_w)) {
    refuse("standby_ua_w_k", heater.standby_ua_w_k,
           fmt::format("loses {:.0f} W with the tank at {} degC, which the input of {} W cannot make up", loss_w,
                       errors::plain_number(tank_c), errors::plain_number(heater.input_w)),
           "a loss below the rated input");
  }
  return heat_to_water_kwh / heater.recovery_efficiency * (1 - loss_w / heater.input_w) + 24 * loss_w / 1000;
}

}  // namespace warmledger::hotwater
