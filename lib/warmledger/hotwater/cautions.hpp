// Cautions: what can hurt a person or a house, in plain words, with deference to local codes and licensed practice.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/hotwater/year.hpp"

namespace warmledger::hotwater {

/// What a caution is about; the text says the rest.
enum class Topic { scald, bacteria, overheating, freezing, pressure, roof_work, wiring, gas, glycol_care };
[[nodiscard]] std::string_view name_of(Topic topic);

struct Caution {
  Topic topic;
  std::string text;  ///< one or two plain sentences
};

/// The cautions that fit this system, heater, demand and year. Numbers behind them are cited in cautions.cpp.
[[nodiscard]] std::vector<Caution> cautions(const SolarSystem& system, const Demand& demand, const Heater& existing,
                                            const Year& year, const climate::Climate& climate);

/// The same from a simulated year, with its hours and temperatures in the words.
[[nodiscard]] std::vector<Caution> cautions(const SolarSystem& system, const Demand& demand, const Heater& existing,
                                            const SimulatedYear& year, const climate::Climate& climate);

}  // namespace warmledger::hotwater
