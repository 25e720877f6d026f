// Appraises one household: consumer DATA_FOLDER PROGRAM.toml
#include <iostream>

#include "warmledger/appraisal/appraisal.hpp"

int main(int count, char** arguments) {
  using namespace warmledger;
  if (count != 3) return 2;
  const auto data = std::make_shared<catalog::Catalog>(catalog::read_catalog(arguments[1]));
  const auto program = std::make_shared<catalog::Program>(catalog::read_program(arguments[2], *data));
  const appraisal::Appraiser appraiser(program, data);

  catalog::Household household;
  household.id = "first";
  household.place = "Quillmere";
  household.occupants = 4;
  household.yearly_income_usd = 52000;
  household.heater_fuel = prices::Fuel::propane;
  const auto result = appraiser.appraise(household);
  std::cout << appraisal::name_of(result.decision) << ": " << appraiser.reason(result) << '\n';
  return result.measures.first_year_saving > 0 ? 0 : 1;
}
