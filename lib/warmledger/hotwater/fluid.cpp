#include "warmledger/hotwater/fluid.hpp"

#include <array>
#include <cmath>
#include <cstddef>
#include <string>

#include "warmledger/errors/errors.hpp"
#include "warmledger/units/units.hpp"

namespace warmledger::hotwater {

namespace {

// Melinder (2010), "Properties of secondary working fluids for indirect systems", propylene glycol: powers of
// (T - 305.8583 K) down, of (mass share - 0.307031) across. Seen in public data that cites the book.
constexpr double base_k = 305.8583;
constexpr double base_share = 0.307031;
constexpr double zero_c_k = 273.15;
using Fit = std::array<std::array<double, 6>, 4>;
constexpr Fit density{{{1018.0, 76.04, -24.98, -155.0, -113.1, 234.2},
                       {-0.5406, -0.945, 0.27, 2.829, -2.221, 0},
                       {-2.666e-3, 5.541e-3, -4.018e-3, -7.175e-3, 0, 0},
                       {1.347e-5, -1.343e-5, 3.376e-5, 0, 0, 0}}};
constexpr Fit heat_capacity{{{3882, -1304, -1598, 353.9, 5000, -4959},
                             {2.699, 5.07, 0.9534, 31.02, -71.35, 0},
                             {-1.659e-3, -4.752e-3, 0.1167, -0.295, 0, 0},
                             {-1.032e-5, 1.522e-4, -4.87e-4, 0, 0, 0}}};
constexpr Fit viscosity{{{6.837e-4, 3.328e-3, 5.453e-4, -3.9e-3, -1.587e-3, 3.564e-2},
                         {-3.045e-5, -3.984e-5, -8.6e-7, 1.054e-4, 4.475e-5, 0},
                         {2.525e-7, 4.332e-7, -1.593e-7, -1.589e-6, 0, 0},
                         {-1.399e-9, -1.86e-9, -4.465e-10, 0, 0, 0}}};
constexpr std::array<double, 6> freezing{259.9, -66.31, -109.4, -228.3, -340.9, 146.5};

double across(const std::array<double, 6>& row, double share) {
  double sum = 0;
  for (std::size_t j = row.size(); j-- > 0;) sum = sum * (share - base_share) + row[j];
  return sum;
}

double at(const Fit& fit, const GlycolMix& mix, double temperature_c) {
  errors::require_in_range("temperature_c", temperature_c, mix.freezing_c(), 100, "degC (freezing point to 100)");
  double sum = 0;
  for (std::size_t i = fit.size(); i-- > 0;) {
    sum = sum * (temperature_c + zero_c_k - base_k) + across(fit[i], mix.mass_share);
  }
  return sum;
}

}  // namespace

double water_heat_capacity_j_kgk(double t) {
  errors::require_in_range("temperature_c", t, 0, 100, "degC");
  // Least squares through the IAPWS-IF97 region 1 values at 101.325 kPa, 5 to 90 degC.
  return 4217.52691 +
         t * (-2.96764522 + t * (0.0911992528 + t * (-0.00149325584 + t * (1.33986931e-05 + t * (-4.65191287e-08)))));
}

GlycolMix::GlycolMix(double glycol_mass_share) : mass_share(glycol_mass_share) {
  errors::require_in_range("glycol_mass_share", mass_share, 0, 0.6);
}

double GlycolMix::density_kg_m3(double temperature_c) const {
  return at(density, *this, temperature_c);
}
double GlycolMix::heat_capacity_j_kgk(double temperature_c) const {
  return at(heat_capacity, *this, temperature_c);
}
double GlycolMix::viscosity_mpa_s(double temperature_c) const {
  return std::exp(1000 * at(viscosity, *this, temperature_c));
}
double GlycolMix::freezing_c() const {
  return across(freezing, mass_share) - zero_c_k;
}

double glycol_share_for(double lowest_c) {
  errors::require_in_range("lowest_c", lowest_c, -90, 60, "degC");
  if (lowest_c >= 0) return 0;
  double low = 0;
  double high = 0.6;
  if (GlycolMix(high).freezing_c() > lowest_c) {
    throw errors::NotAvailable({{"", {}, {}, "lowest_c"},
                                errors::plain_number(lowest_c),
                                "is below the freezing point of the strongest mix described, 60 % by mass",
                                errors::plain_number(GlycolMix(high).freezing_c(), 4) + " degC or more"});
  }
  while (high - low > 1e-9) {
    const double middle = (low + high) / 2;
    (GlycolMix(middle).freezing_c() > lowest_c ? low : high) = middle;
  }
  return high;
}

double loop_fluid_j_kgk(double glycol_mass_share) {
  constexpr double running_c = 50;
  return glycol_mass_share > 0 ? GlycolMix(glycol_mass_share).heat_capacity_j_kgk(running_c)
                               : water_heat_capacity_j_kgk(running_c);
}

}  // namespace warmledger::hotwater
