// Hours: what the simulation of an appraisal saw hour by hour.
#pragma once

#include <vector>

#include "warmledger/appraisal/appraisal.hpp"

namespace warmledger::appraisal {

/// 8760 values each, from January 1st, in standard time; temperatures of the plant are those at the end of the hour.
struct Hours {
  std::vector<double> dry_bulb_c;
  std::vector<double> irradiance_w_m2;  ///< on the collectors, behind the glass; the yearly shading is taken off later
  hotwater::HourlyTrace trace;
};

/// Simulates the system of an appraisal once more and keeps every hour; the year is the same bits as the appraisal's
/// own. Throws NotAvailable for one by the monthly method.
template <class N>
[[nodiscard]] Hours hours_of(const Appraisal<N>& appraisal);

}  // namespace warmledger::appraisal
