// Catalog: what stands in data/: places and climates, fuels, prices, equipment, tax tables, jurisdictions' incentives.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/climate/climate.hpp"
#include "warmledger/hotwater/heater.hpp"
#include "warmledger/hotwater/system.hpp"
#include "warmledger/incentives/income_tiers.hpp"
#include "warmledger/incentives/poverty.hpp"
#include "warmledger/incentives/rule.hpp"
#include "warmledger/incentives/tax.hpp"
#include "warmledger/prices/fuels.hpp"
#include "warmledger/prices/upkeep.hpp"

namespace warmledger::catalog {

/// A collector of data/equipment: generic, no brand.
struct CollectorEntry {
  std::string id;
  std::string title;
  hotwater::Collector collector;
  double loss_2_w_m2k2 = 0;  ///< second-order loss on gross area, for the hourly method
  std::string source;
};

/// What a water heater of a kind, fuel and age is like when its rating is not known.
struct HeaterEntry {
  hotwater::HeaterKind kind;
  prices::Fuel fuel;
  int least_age_years = 0;  ///< the row with the largest least_age_years not above the heater's age is used
  double uniform_energy_factor = 0;
  double recovery_efficiency = 0;
  double input_w = 0;
  std::string source;
};

struct PriceEntry {
  std::string state;  ///< two letters, or "US"
  prices::Fuel fuel;
  prices::Price price;
  std::string period;  ///< "2024", "2026-03-30", ...
};

/// Real price indices of one fuel in one region (data/escalation.csv).
struct EscalationEntry {
  prices::Fuel fuel;
  prices::EscalationTable table;
};

struct Catalog {
  climate::Atlas atlas;
  prices::FuelTable fuels;
  std::vector<PriceEntry> prices;
  std::vector<CollectorEntry> collectors;
  std::vector<HeaterEntry> heaters;
  incentives::TaxTables taxes;
  incentives::PovertyTables poverty;
  std::vector<incentives::TierLine> income_tiers;  ///< definitions of low, moderate, ... income, side by side
  std::vector<EscalationEntry> escalation;
  std::map<hotwater::Loop, std::vector<prices::Upkeep>> upkeep;  ///< of packages that state none, by kind of system
  std::map<std::string, std::vector<incentives::Rule>> jurisdictions;  ///< by file name without ending, e.g. "federal"

  /// The state's price, else the US one; nullptr if the file has neither.
  [[nodiscard]] const PriceEntry* price(std::string_view state, prices::Fuel fuel) const;
  /// Throws UnknownName with the nearest id.
  [[nodiscard]] const CollectorEntry& collector(std::string_view id) const;
  /// The entry for a heater of this kind, fuel and age; throws UnknownName for a kind and fuel that do not exist
  /// together (a heat pump on oil).
  [[nodiscard]] const HeaterEntry& heater(hotwater::HeaterKind kind, prices::Fuel fuel, double age_years) const;
};

/// Reads the catalogue from `data`; a file of the same name in `override_folder` (if not empty) takes its place. Throws
/// FileUnreadable naming the folder, or the error of the first wrong cell with file, line and column.
[[nodiscard]] Catalog read_catalog(const std::filesystem::path& data,
                                   const std::filesystem::path& override_folder = {});

/// A CSV file (RFC 4180, UTF-8 with or without a byte-order mark) as header and rows of text.
struct CsvTable {
  std::vector<std::string> header;
  std::vector<std::vector<std::string>> rows;
  std::vector<long> lines;  ///< line on which each row begins
};
/// Throws FileUnreadable (missing, not UTF-8), MalformedText (ragged row, open quote), DuplicateName (column twice),
/// MissingValue (empty file).
[[nodiscard]] CsvTable read_csv(const std::filesystem::path& file);

}  // namespace warmledger::catalog
