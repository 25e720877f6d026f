// A program against the installed library; status 0 if the library answers as it should.
#include <cmath>
#include <iostream>

#include "warmledger/dates/dates.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/units/units.hpp"

int main() {
  using namespace warmledger;
  const double tilt_deg = units::tilt_deg_from_rise_in_12(8.0);
  const auto due = dates::iso(dates::add_months(dates::parse_date("2026-01-31"), 1));
  const auto price = money::dollars(money::round_cents(4999.995));
  bool refused = false;
  try {
    (void)dates::make_date(2026, 2, 30);
  } catch (const errors::ValueOutOfRange&) {
    refused = true;  // an exception type of the library crosses its border
  }
  std::cout << "8 in 12 is " << tilt_deg << " degrees; due " << due << "; " << price << '\n';
  return std::abs(tilt_deg - 33.690) < 0.001 && due == "2026-02-28" && price == "$5,000.00" && refused ? 0 : 1;
}
