#include "warmledger/catalog/catalog.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <set>
#include <span>
#include <system_error>
#include <tuple>
#include <utility>

#include <fmt/format.h>

#include "warmledger/catalog/data_table.hpp"
#include "warmledger/catalog/files.hpp"
#include "warmledger/catalog/income_tables.hpp"
#include "warmledger/catalog/price_tables.hpp"
#include "warmledger/catalog/text.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::catalog {

namespace fs = std::filesystem;

namespace {

std::string two_letters(const DataTable& table, std::size_t row, std::size_t column, std::string_view column_name) {
  const std::string& state = table.text(row, column);
  const bool fits =
      state.size() == 2 && std::all_of(state.begin(), state.end(), [](char c) { return c >= 'A' && c <= 'Z'; });
  if (!fits)
    fail<errors::MalformedText>(table.file(), table.line(row), column_name, shown(state), "is not a state",
                                "two capital letters");
  return state;
}

climate::Atlas read_climates(const fs::path& file) {
  struct Quantity {
    std::string_view name;
    double low, high;
    climate::Monthly climate::MonthlyClimate::*months;
  };
  static constexpr std::array<Quantity, 5> quantities{{
      {"horizontal_kwh_m2_day", 0, 12, &climate::MonthlyClimate::horizontal_kwh_m2_day},
      {"dry_bulb_c", -60, 60, &climate::MonthlyClimate::dry_bulb_c},
      {"dry_bulb_range_k", 0, 40, &climate::MonthlyClimate::dry_bulb_range_k},
      {"wind_m_s", 0, 40, &climate::MonthlyClimate::wind_m_s},
      {"ground_albedo", 0, 1, &climate::MonthlyClimate::ground_albedo},
  }};
  std::vector<std::string> columns{"station_id",    "place",       "state",        "latitude_deg",
                                   "longitude_deg", "elevation_m", "utc_offset_h", "record"};
  for (const Quantity& quantity : quantities) {
    for (int month = 1; month <= 12; ++month) columns.push_back(fmt::format("{}_{:02}", quantity.name, month));
  }
  const DataTable table(file, columns);
  std::vector<climate::Climate> climates(table.rows());
  std::set<std::string_view> seen;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    climate::Climate& climate = climates[row];
    climate::Place& place = climate.place;
    place.station_id = table.text(row, 0);
    if (!seen.insert(table.cell(row, 0)).second) table.twice(row, 0, place.station_id);
    place.name = table.text(row, 1);
    place.state = two_letters(table, row, 2, "state");
    place.latitude_deg = table.number(row, 3, -90, 90);
    place.longitude_deg = table.number(row, 4, -180, 180);
    place.elevation_m = table.number(row, 5, -500, 9000);
    place.utc_offset_h = table.number(row, 6, -12, 14);
    place.record = table.text(row, 7);
    std::size_t column = 8;
    for (const Quantity& quantity : quantities) {
      climate::Monthly& months = climate.months.*quantity.months;
      for (double& month : months) {
        // Only the albedo may be unknown; it then stays at the default of MonthlyClimate.
        if (quantity.name == "ground_albedo") {
          month = table.maybe_number(row, column, quantity.low, quantity.high).value_or(month);
        } else {
          month = table.number(row, column, quantity.low, quantity.high);
        }
        ++column;
      }
    }
  }
  return climate::Atlas(std::move(climates));
}

prices::FuelTable read_fuels(const fs::path& file) {
  const DataTable table(
      file, {"fuel", "unit", "heat_mmbtu_per_unit", "co2_kg_per_mmbtu", "co2_lb_per_mwh", "basis", "source", "status"});
  prices::FuelTable fuels{};
  std::array<bool, prices::fuel_count> read{};
  for (std::size_t row = 0; row < table.rows(); ++row) {
    const prices::Fuel fuel = table.named(row, 0, prices::fuel_named);
    const auto slot = static_cast<std::size_t>(fuel);
    if (read[slot]) table.twice(row, 0, table.cell(row, 0));
    read[slot] = true;
    if (table.text(row, 1) != prices::unit_of(fuel)) {
      fail<errors::MalformedText>(table.file(), table.line(row), "unit", shown(table.cell(row, 1)),
                                  "is not the unit this fuel is sold in", std::string(prices::unit_of(fuel)));
    }
    prices::FuelFacts& facts = fuels[slot];
    facts.source = fmt::format("{}; {}", table.source(row, 6, 7), table.text(row, 5));
    // Electricity is sold by its energy and states its emission by that energy; a burned fuel states both by its heat.
    const auto must_be_empty = [&](std::size_t column, std::string_view name) {
      if (!is_blank(table.cell(row, column)))
        fail<errors::Contradiction>(table.file(), table.line(row), name, shown(table.cell(row, column)),
                                    "does not belong to this fuel", "an empty cell");
    };
    if (fuel == prices::Fuel::electricity) {
      must_be_empty(2, "heat_mmbtu_per_unit");
      must_be_empty(3, "co2_kg_per_mmbtu");
      facts.kwh_per_unit = 1;
      facts.co2_kg_per_unit = table.number(row, 4, 0, 5000) * units::kg_per_lb / 1000.0;
    } else {
      must_be_empty(4, "co2_lb_per_mwh");
      const double mmbtu = table.number(row, 2, 0.001, 10);
      facts.kwh_per_unit = mmbtu * 1e6 * units::kwh_per_btu;
      facts.co2_kg_per_unit = mmbtu * table.number(row, 3, 0, 200);
    }
  }
  for (const prices::Fuel fuel : prices::all_fuels) {
    if (!read[static_cast<std::size_t>(fuel)]) {
      throw errors::MissingValue(
          {{table.file(), {}, {}, "fuel"}, std::string(prices::name_of(fuel)), "has no row", "one row for each fuel"});
    }
  }
  return fuels;
}

std::vector<PriceEntry> read_prices(const fs::path& file) {
  const DataTable table(file, {"fuel", "state", "usd_per_unit", "period", "source", "status"});
  std::vector<PriceEntry> entries;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    PriceEntry entry;
    entry.fuel = table.named(row, 0, prices::fuel_named);
    entry.state = two_letters(table, row, 1, "state");
    entry.price.usd_per_unit = table.number(row, 2, 0.001, 100);
    entry.period = table.text(row, 3);
    entry.price.source = table.source(row, 4, 5);
    if (std::any_of(entries.begin(), entries.end(),
                    [&](const PriceEntry& other) { return other.fuel == entry.fuel && other.state == entry.state; })) {
      table.twice(row, 1, fmt::format("{} in {}", prices::name_of(entry.fuel), entry.state));
    }
    entries.push_back(std::move(entry));
  }
  return entries;
}

std::vector<CollectorEntry> read_collectors(const fs::path& file) {
  const DataTable table(file, {"id", "title", "gross_area_m2", "optical_efficiency", "loss_w_m2k",
                               "mean_incidence_factor", "loss_2_w_m2k2", "incidence_b0", "source", "status"});
  std::vector<CollectorEntry> entries;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    CollectorEntry entry;
    entry.id = table.text(row, 0);
    if (std::any_of(entries.begin(), entries.end(), [&](const CollectorEntry& other) { return other.id == entry.id; }))
      table.twice(row, 0, entry.id);
    entry.title = table.text(row, 1);
    entry.collector.gross_area_m2 = table.number(row, 2, 0.1, 50);
    entry.collector.optical_efficiency = table.number(row, 3, 0.01, 1);
    entry.collector.loss_w_m2k = table.number(row, 4, 0.01, 50);
    entry.collector.mean_incidence_factor = table.number(row, 5, 0.1, 1.5);
    entry.loss_2_w_m2k2 = table.number(row, 6, 0, 1);
    entry.collector.incidence_b0 = table.number(row, 7, -0.2, 0.5);
    entry.source = table.source(row, 8, 9);
    entries.push_back(std::move(entry));
  }
  return entries;
}

std::vector<HeaterEntry> read_heaters(const fs::path& file) {
  const DataTable table(file, {"kind", "fuel", "least_age_years", "uniform_energy_factor", "recovery_efficiency",
                               "input_w", "input_btu_h", "source", "status"});
  std::vector<HeaterEntry> entries;
  std::set<std::tuple<hotwater::HeaterKind, prices::Fuel, int>> seen;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    HeaterEntry entry{table.named(row, 0, hotwater::heater_kind_named),
                      table.named(row, 1, prices::fuel_named),
                      table.whole(row, 2, 0, 100),
                      table.number(row, 3, 0.05, 6),
                      table.number(row, 4, 0.05, 8),
                      0,
                      table.source(row, 7, 8)};
    if (!seen.insert({entry.kind, entry.fuel, entry.least_age_years}).second) {
      table.twice(row, 2,
                  fmt::format("{} on {} of {} years", hotwater::name_of(entry.kind), prices::name_of(entry.fuel),
                              entry.least_age_years));
    }
    const auto watt = table.maybe_number(row, 5, 100, 100000);
    const auto btu_h = table.maybe_number(row, 6, 300, 400000);
    if (watt.has_value() == btu_h.has_value()) {
      fail<errors::Contradiction>(table.file(), table.line(row), "input_w", "",
                                  watt ? "is given beside input_btu_h" : "and input_btu_h are both empty",
                                  "exactly one of input_w and input_btu_h");
    }
    entry.input_w = watt ? *watt : *btu_h * units::watt_per_btu_h;
    entries.push_back(std::move(entry));
  }
  // Every kind and fuel that stands here must have a row for a new heater, or a young one would find nothing.
  for (const HeaterEntry& entry : entries) {
    if (!seen.contains({entry.kind, entry.fuel, 0})) {
      throw errors::MissingValue({{table.file(), {}, {}, "least_age_years"},
                                  fmt::format("{} on {}", hotwater::name_of(entry.kind), prices::name_of(entry.fuel)),
                                  "has no row for a new heater",
                                  "a row with least_age_years 0 for each kind and fuel"});
    }
  }
  return entries;
}

incentives::TaxTables read_taxes(const fs::path& file) {
  const DataTable table(file,
                        {"year", "filing_status", "standard_deduction_usd", "rate", "up_to_usd", "source", "status"});
  std::vector<incentives::TaxTable> tables;
  for (std::size_t row = 0; row < table.rows(); ++row) {
    const int year = table.whole(row, 0, 1913, 2200);
    const incentives::FilingStatus status = table.named(row, 1, incentives::filing_status_named);
    const double deduction = table.number(row, 2, 0, 1e6);
    const incentives::TaxTable::Bracket bracket{
        table.maybe_number(row, 4, 1, 1e9).value_or(std::numeric_limits<double>::infinity()),
        table.number(row, 3, 0, 1)};
    const std::string source = table.source(row, 5, 6);
    const auto found =
        std::find_if(tables.begin(), tables.end(), [&](const auto& t) { return t.year == year && t.status == status; });
    if (found == tables.end()) {
      tables.push_back({year, status, deduction, {bracket}, source});
      continue;
    }
    if (found->standard_deduction_usd != deduction) {
      fail<errors::Contradiction>(table.file(), table.line(row), "standard_deduction_usd", table.cell(row, 2),
                                  "differs from the row above of the same year and status",
                                  errors::plain_number(found->standard_deduction_usd));
    }
    if (!(bracket.up_to_usd > found->brackets.back().up_to_usd)) {
      fail<errors::Contradiction>(table.file(), table.line(row), "up_to_usd", shown(table.cell(row, 4)),
                                  "does not rise above the bracket before it",
                                  "upper ends that rise, the last one empty");
    }
    found->brackets.push_back(bracket);
    if (found->source.find(source) == std::string::npos) found->source += "; " + source;
  }
  for (const incentives::TaxTable& t : tables) {
    if (std::isinf(t.brackets.back().up_to_usd)) continue;
    throw errors::MissingValue({{table.file(), {}, {}, "up_to_usd"},
                                fmt::format("{} {}", t.year, incentives::name_of(t.status)),
                                "has no last bracket",
                                "a last row with an empty upper end"});
  }
  return incentives::TaxTables(std::move(tables));
}

}  // namespace

const PriceEntry* Catalog::price(std::string_view state, prices::Fuel fuel) const {
  const PriceEntry* national = nullptr;
  for (const PriceEntry& entry : prices) {
    if (entry.fuel != fuel) continue;
    if (entry.state == state) return &entry;
    if (entry.state == "US") national = &entry;
  }
  return national;
}

const CollectorEntry& Catalog::collector(std::string_view id) const {
  std::vector<std::string> ids;
  for (const CollectorEntry& entry : collectors) {
    if (entry.id == id) return entry;
    ids.push_back(entry.id);
  }
  const std::string nearest = errors::nearest_name(id, ids);
  throw errors::UnknownName({{"", {}, {}, "collector"},
                             fmt::format("\"{}\"", shown(id)),
                             nearest.empty() ? "is not known" : "is not known (did you mean " + nearest + "?)",
                             fmt::format("{}", fmt::join(ids, ", "))});
}

const HeaterEntry& Catalog::heater(hotwater::HeaterKind kind, prices::Fuel fuel, double age_years) const {
  errors::require_in_range("heater_age_years", age_years, 0, 200, "years");
  const HeaterEntry* best = nullptr;
  for (const HeaterEntry& entry : heaters) {
    if (entry.kind != kind || entry.fuel != fuel || entry.least_age_years > age_years) continue;
    if (best == nullptr || entry.least_age_years > best->least_age_years) best = &entry;
  }
  if (best != nullptr) return *best;
  std::vector<std::string> possible;
  for (const HeaterEntry& entry : heaters) {
    const std::string name(prices::name_of(entry.fuel));
    if (entry.kind == kind && std::find(possible.begin(), possible.end(), name) == possible.end())
      possible.push_back(name);
  }
  throw errors::UnknownName({{"", {}, {}, "heater_fuel"},
                             std::string(prices::name_of(fuel)),
                             fmt::format("does not occur together with heater_kind {}", hotwater::name_of(kind)),
                             fmt::format("{}", fmt::join(possible, ", "))});
}

Catalog read_catalog(const fs::path& data, const fs::path& override_folder) {
  std::error_code error;
  for (const fs::path* folder : {&data, &override_folder}) {
    if (folder == &override_folder && folder->empty()) continue;
    if (fs::is_directory(*folder, error)) continue;
    throw errors::FileUnreadable({{folder->string(), {}, {}, ""},
                                  "",
                                  fs::exists(*folder, error) ? "is not a folder" : "does not exist",
                                  "the folder that holds the catalogue files"});
  }
  const auto file = [&](const char* name) {
    if (!override_folder.empty() && fs::exists(override_folder / name)) return override_folder / name;
    return data / name;
  };
  Catalog catalog;
  catalog.atlas = read_climates(file("climates.csv"));
  catalog.fuels = read_fuels(file("fuels.csv"));
  catalog.prices = read_prices(file("prices.csv"));
  catalog.collectors = read_collectors(file("collectors.csv"));
  catalog.heaters = read_heaters(file("heaters.csv"));
  catalog.taxes = read_taxes(file("tax.csv"));
  catalog.escalation = read_escalation(file("escalation.csv"));
  catalog.upkeep = read_upkeep(file("upkeep.csv"));
  catalog.poverty = read_poverty(file("poverty.csv"));
  catalog.income_tiers = read_income_tiers(file("income_tiers.csv"));

  std::map<std::string, fs::path> jurisdictions;
  for (const fs::path* folder : {&data, &override_folder}) {
    if (folder->empty()) continue;
    std::error_code absent;
    for (const fs::directory_entry& entry : fs::directory_iterator(*folder / "incentives", absent)) {
      if (entry.path().extension() == ".toml") jurisdictions[entry.path().stem().string()] = entry.path();
    }
  }
  for (const auto& [name, path] : jurisdictions) {
    catalog.jurisdictions[name] = parse_rules(read_utf8(path), path.string());
  }
  return catalog;
}

}  // namespace warmledger::catalog
