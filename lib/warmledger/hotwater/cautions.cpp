#include "warmledger/hotwater/cautions.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "warmledger/units/units.hpp"

// Numbers and where they are from:
// - Burn times of adult skin: 120 F (49 C) more than 5 minutes, 130 F about 30 s, 140 F (60 C) less than 5 s, 150 F
// about
//   1.5 s: burn-prevention tables published by children's hospitals and valve makers (seen; they differ by a factor of
//   2 at 120 F). Children burn in a quarter to half of the time: from memory.
// - ASSE 1017 valves stand at the source and do not replace point-of-use protection; ASSE 1070 valves limit a fixture
// to
//   120 F: scopes of the standards (seen).
// - Legionella grows at 77 to 113 F (25 to 45 C); stores at 140 F (60 C) or more: WHO and CDC figures, ASHRAE
//   Guideline 12 (seen as quoted).
// - Relief valve of a storage tank 150 psi and 210 F: common practice. Glycol: test of freezing point and acidity every
// 2
//   to 3 years, propylene glycol behind a double-wall exchanger: common practice and plumbing codes.
// - Clear skies can freeze a collector in air of 37 to 41 F (3 to 5 C): common practice.
namespace warmledger::hotwater {

namespace {

constexpr double scald_c = 49;       // 120 F
constexpr double safe_store_c = 60;  // 140 F
// Glycol stands a sunny day off now and then; a week of afternoons a year wears it out early (common practice).
constexpr double many_still_hours = 40;
constexpr double full_month_share = 0.95;  // of the load; above it the tank is often full at noon
// The coldest hours of a year lie some 10 K below the average night of the coldest month (common practice), so frost is
// to be reckoned with where that night is below 10 degC.
constexpr double frost_sign_c = 10;

long whole_f(double celsius) {
  return std::lround(units::fahrenheit_from_celsius(celsius));
}

}  // namespace

std::string_view name_of(Topic topic) {
  switch (topic) {
    case Topic::scald:
      return "scald";
    case Topic::bacteria:
      return "bacteria";
    case Topic::overheating:
      return "overheating";
    case Topic::freezing:
      return "freezing";
    case Topic::pressure:
      return "pressure";
    case Topic::roof_work:
      return "roof_work";
    case Topic::wiring:
      return "wiring";
    case Topic::gas:
      return "gas";
    case Topic::glycol_care:
      return "glycol_care";
  }
  return "";
}

std::vector<Caution> cautions(const SolarSystem& system, const Demand& demand, const Heater& existing, const Year& year,
                              const climate::Climate& climate) {
  const bool glycol = system.loop == Loop::pressurized_glycol;
  const bool one_tank = system.arrangement == Arrangement::one_tank;
  const bool burns_fuel = existing.fuel != prices::Fuel::electricity;
  std::vector<Caution> list;

  std::string scald =
      "A solar tank can get far hotter than 120 F (49 C) on a sunny day. Water of 140 F (60 C) burns adult skin in "
      "less "
      "than 5 seconds and a child's sooner; at 120 F it takes more than 5 minutes. A tempering valve to ASSE 1017 "
      "belongs "
      "at the outlet, and valves to ASSE 1070 at the fixtures where the plumbing code asks for them; a licensed "
      "plumber "
      "sets and tests both.";
  if (demand.set_temperature_c > scald_c) {
    scald += fmt::format(" The set temperature of {} F is itself above 120 F.", whole_f(demand.set_temperature_c));
  }
  list.push_back({Topic::scald, std::move(scald)});

  if (demand.set_temperature_c < safe_store_c || !one_tank) {
    std::string bacteria;
    if (demand.set_temperature_c < safe_store_c) {
      bacteria = fmt::format(
          "The set temperature of {} F is below the 140 F (60 C) that guidance asks of stored hot water against "
          "Legionella, which grows at 77 to 113 F.",
          whole_f(demand.set_temperature_c));
    }
    if (!one_tank) {
      if (!bacteria.empty()) bacteria += ' ';
      bacteria +=
          existing.kind == HeaterKind::instantaneous
              ? "The preheat tank stands lukewarm in cloudy weeks, in the range in which Legionella grows, and the "
                "tankless heater behind it heats the water only for seconds."
              : "The preheat tank stands lukewarm in cloudy weeks, in the range in which Legionella grows; keep the "
                "heater behind it at 140 F (60 C) with a tempering valve after it.";
    }
    bacteria +=
        " Where someone in the home has weak defenses, ask the local health department and follow the plumbing code.";
    list.push_back({Topic::bacteria, std::move(bacteria)});
  }

  if (glycol) {
    const double most = *std::max_element(year.solar_fraction.begin(), year.solar_fraction.end());
    const auto full = std::count_if(year.solar_fraction.begin(), year.solar_fraction.end(),
                                    [](double fraction) { return fraction >= 1; });
    if (most >= full_month_share) {
      std::string text = fmt::format(
          "The sun covers {:.0f} % of the hot water in the best month{}, so the tank is often full and the collectors "
          "stand still in full sun: the glycol then overheats, boils and turns acid.",
          100 * most, full >= 2 ? fmt::format(" and all of it in {} months", full) : "");
      text +=
          " Fewer collectors, a steeper tilt, a drain-back loop or a way to shed heat avoids it; have a licensed "
          "installer "
          "size the expansion vessel for it.";
      list.push_back({Topic::overheating, std::move(text)});
    }
  }

  double coldest = climate.months.dry_bulb_c[0] - climate.months.dry_bulb_range_k[0] / 2;
  for (std::size_t m = 1; m < 12; ++m) {
    coldest = std::min(coldest, climate.months.dry_bulb_c[m] - climate.months.dry_bulb_range_k[m] / 2);
  }
  if (coldest < frost_sign_c) {
    std::string text = fmt::format(
        "An average night of the coldest month is near {} F ({:.0f} C) here; typical weather years hold no extremes, "
        "so "
        "single nights are much colder, and under a clear sky a collector can freeze in air of 41 F (5 C).",
        whole_f(coldest), coldest);
    text += glycol
                ? " The glycol has to be mixed for the lowest temperature on record at the place, and tested."
                : " All collectors and pipes above the drain-back reservoir have to fall towards it without a sag, so "
                  "that they empty whenever the pump stops.";
    text += " Follow local code and the installer's freeze plan.";
    list.push_back({Topic::freezing, std::move(text)});
  }

  std::string pressure =
      "Every tank needs a temperature and pressure relief valve of 150 psi and 210 F, piped to a safe place and never "
      "plugged, and room for the water to expand.";
  if (glycol) pressure += " The glycol loop needs its own relief valve and expansion vessel.";
  pressure += " This is a licensed plumber's work under the local code.";
  list.push_back({Topic::pressure, std::move(pressure)});

  list.push_back(
      {Topic::roof_work,
       "Work on a roof kills people who fall, and collectors full of fluid load the roof and catch wind. The "
       "installer needs fall protection; the roof structure and its mounts need the check that the local building "
       "code asks for, by a licensed contractor or engineer."});

  list.push_back(
      {Topic::wiring, one_tank ? "The pump, its control and the tank's electric element need circuits to the "
                                 "electrical code, by a licensed electrician; switch the element off at the panel "
                                 "before the tank is drained or opened."
                               : "The pump and its control need a circuit to the electrical code, by a licensed "
                                 "electrician; switch it off at the panel before the system is opened."});

  if (burns_fuel) {
    list.push_back(
        {Topic::gas,
         one_tank ? "The fuel-burning heater that is taken out leaves a fuel line to be capped and perhaps a vent that "
                    "is now "
                    "too large for the other appliances on it, which can spill carbon monoxide. A licensed fitter "
                    "closes the "
                    "line and checks the venting; keep carbon monoxide alarms."
                  : "The fuel-burning heater stays as backup: preheated water makes it fire less, so have its venting, "
                    "draft and fuel line checked by a licensed fitter for spilling and condensation, and keep carbon "
                    "monoxide alarms."});
  }

  if (glycol) {
    list.push_back(
        {Topic::glycol_care,
         "The glycol needs a test of freezing point and acidity every 2 to 3 years and a change when it fails. "
         "Use propylene glycol, never the toxic ethylene kind, behind a double-wall heat exchanger where the "
         "plumbing code asks for one."});
  }
  return list;
}

std::vector<Caution> cautions(const SolarSystem& system, const Demand& demand, const Heater& existing,
                              const SimulatedYear& year, const climate::Climate& climate) {
  std::vector<Caution> list = cautions(system, demand, existing, year.year, climate);
  const auto about = [&list](Topic topic) {
    return std::find_if(list.begin(), list.end(), [topic](const Caution& c) { return c.topic == topic; });
  };
  const double hot_hours = year.year.yearly(year.hot_tap_hours);
  if (hot_hours >= 1) {
    about(Topic::scald)->text += fmt::format(
        " In the simulated year the water drawn would be above 120 F in {:.0f} hours without the valve; the "
        "solar tank reaches {} F.",
        hot_hours, whole_f(year.peak_tank_c));
  }
  const double still_hours = year.year.yearly(year.stagnation_hours);
  if (still_hours >= 1) {
    std::string text = fmt::format(
        "In the simulated year the collectors stand still in the sun for {:.0f} hours above the temperature at which "
        "glycol degrades; they reach {} F.",
        still_hours, whole_f(year.peak_collector_c));
    const auto found = about(Topic::overheating);
    if (found != list.end()) {
      found->text += " " + text;
    } else if (still_hours >= many_still_hours) {
      text +=
          " Fewer collectors, a steeper tilt, a drain-back loop or a way to shed heat avoids it; have a licensed "
          "installer size the expansion vessel for it.";
      list.insert(about(Topic::pressure), {Topic::overheating, std::move(text)});
    }
  }
  return list;
}

}  // namespace warmledger::hotwater
