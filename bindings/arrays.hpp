// NumPy arrays of doubles.
#pragma once

#include "bind.hpp"

// After Python.h, which the line above brings.
#include <pybind11/numpy.h>

#include <cstddef>
#include <vector>

namespace warmledger::bind {

/// A NumPy array over the numbers, or a copy of them if no owner is given. The stride is said, because pybind11 2.10
/// takes it from a field that NumPy 2 has moved.
inline py::array_t<double> array_of(const double* values, std::size_t count, const py::object& owner = {}) {
  return py::array_t<double>({count}, {sizeof(double)}, values, owner);
}
inline py::array_t<double> array_of(const std::vector<double>& values) {
  return array_of(values.data(), values.size());
}

}  // namespace warmledger::bind
