// Household: one household as the library sees it, and the table of sheet columns that describes, validates and
// documents how it is written in a sheet.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "warmledger/catalog/known_ids.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/hotwater/heater.hpp"
#include "warmledger/incentives/assistance.hpp"
#include "warmledger/incentives/rule.hpp"

namespace warmledger::catalog {

/// One household, SI inside. An empty optional means "not given"; appraisal fills it from the program or catalogue and
/// lists what it used.
struct Household {
  std::string id;
  std::string place;  ///< a name from the program's places or the atlas; may be empty
  std::optional<double> latitude_deg;
  std::optional<double> longitude_deg;
  int occupants = 0;
  double yearly_income_usd = 0;
  incentives::Tenure tenure = incentives::Tenure::owner;
  incentives::FilingStatus filing_status = incentives::FilingStatus::single;
  std::optional<double> tax_liability_usd;
  hotwater::HeaterKind heater_kind = hotwater::HeaterKind::storage;
  prices::Fuel heater_fuel = prices::Fuel::electricity;
  std::optional<double> heater_uniform_energy_factor;
  std::optional<double> heater_age_years;
  double set_temperature_c = 51.6667;  ///< 125 F
  std::optional<double> hot_water_l_day;
  double roof_tilt_deg = 26.565;           ///< 6 in 12
  double roof_azimuth_deg = 180;           ///< compass: 90 east, 180 south, 270 west
  double shading_share = 0;                ///< 0 to 1
  std::optional<double> roof_area_m2;      ///< free for collectors
  std::optional<double> collector_lift_m;  ///< from the reservoir of a drain-back loop to the top of the collectors
  std::array<std::optional<double>, prices::fuel_count> own_price_usd_per_unit;  ///< indexed by Fuel
  std::optional<double> yearly_energy_bills_usd;
  std::optional<double> monthly_debt_payments_usd;  ///< before the loan, housing included where the lender counts it
  std::optional<double> installed_cost_usd;
  std::string package;                     ///< id of a package of the program; empty: the best that fits
  incentives::AssistanceSet assistance;    ///< programs it is already in
  std::vector<std::string> defaults_used;  ///< "column = value (why)" for each default that was used
  std::optional<double> state_tax_liability_usd;
  std::optional<double> local_tax_liability_usd;
  double other_tax_credits_usd = 0;  ///< come off an estimated federal liability
  bool itemizes = false;
  incentives::Installer installed_by = incentives::Installer::contractor;
  bool new_home = false;
  double ineligible_cost_usd = 0;    ///< part of the installed cost that no incentive counts
  bool heater_replaced_now = false;  ///< a new heater of the same kind on the install date, in both worlds
  // Own bills: nothing, one sum of a year, or twelve months from January. Units are those the heater's fuel is sold in.
  std::vector<double> water_heating_units;
  std::vector<double> water_heating_bill_usd;
  std::vector<double> home_fuel_units;  ///< the whole home's use of the heater's fuel
  std::vector<double> home_fuel_bill_usd;
};

/// numbers: one number for a year, or twelve from January, parted by semicolons.
enum class CellKind { text, number, whole_number, choice, numbers };

/// One column of the household sheet: the single source of validation and documentation.
struct Column {
  std::string_view name;  ///< unit stands in the name
  CellKind kind;
  std::string_view unit;     ///< in words, empty for text
  double low, high;          ///< allowed range of numbers, both ends included
  std::string_view choices;  ///< of a choice: words parted by ", "
  bool required;
  std::string_view default_text;  ///< used when the cell is empty; empty: nothing is assumed here
  std::string_view why;           ///< why that default, or what happens when the cell is empty
  std::string_view meaning;
  std::string_view instead_of;  ///< another column that says the same in other units; giving both is an error
};
[[nodiscard]] std::span<const Column> household_columns();
/// The table as Markdown; the documentation of the sheet is this text.
[[nodiscard]] std::string household_columns_markdown();

/// A row as read: the household, and every problem found in it (empty: the household is good).
struct SheetRow {
  Household household;
  std::vector<errors::Problem> problems;
  bool has_id = false;  ///< the household's identifier is good in itself
};

/// What a header means: which of its columns are known, and the names of those that are not.
///
/// Throws DuplicateName for a column that stands twice, MissingValue when a required column is absent; `file` is named
/// in the errors and in every row's problems.
class SheetReader {
 public:
  SheetReader(std::vector<std::string> header, std::string file);

  /// Names in the header that are no columns of a household sheet, with the nearest known name where one is near.
  struct Unknown {
    std::string name;
    std::string nearest;
  };
  [[nodiscard]] const std::vector<Unknown>& unknown_columns() const noexcept { return unknown_; }

  /// Reads one row. `row` counts data rows from 1; `cells` are in header order, as text ("" is empty). Never throws for
  /// the content of a cell. Numbers may have a leading $, thousands commas and blanks around them; nothing else is
  /// guessed. Problems name file, row, column, value and what is allowed. An identifier already read by this reader is
  /// a problem of the later row.
  [[nodiscard]] SheetRow read(long row, std::span<const std::string_view> cells);

  /// The two halves of read(), for a sheet that several threads read. parse() reads a row and looks at no other; any
  /// number of threads may call it at once. claim_id() then finds an identifier that stood before: one thread calls it,
  /// once for each row, in the order of the rows.
  [[nodiscard]] SheetRow parse(long row, std::span<const std::string_view> cells) const;
  void claim_id(long row, SheetRow& parsed);

  SheetReader(const SheetReader&) = delete;
  SheetReader& operator=(const SheetReader&) = delete;
  SheetReader(SheetReader&&) noexcept;
  SheetReader& operator=(SheetReader&&) noexcept;
  ~SheetReader();

 private:
  std::string file_;
  std::vector<int> column_of_;  ///< index into household_columns() for each header cell, -1 if unknown
  std::vector<Unknown> unknown_;
  std::unique_ptr<KnownIds> known_ids_;
};

}  // namespace warmledger::catalog
