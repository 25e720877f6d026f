#include "warmledger/units/units.hpp"

#include <cmath>

namespace warmledger::units {

double tilt_deg_from_rise_in_12(double rise_in_12) {
  return std::atan(rise_in_12 / 12.0) / radian_per_degree;
}

}  // namespace warmledger::units
