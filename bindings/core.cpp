// The extension module warmledger._core: one submodule for each room that has a door to Python.
#include "bind.hpp"

#include <datetime.h>

namespace warmledger::bind {

py::object to_python(dates::Date date) {
  if (PyDateTimeAPI == nullptr) PyDateTime_IMPORT;
  return py::reinterpret_steal<py::object>(
      PyDate_FromDate(dates::year_of(date), dates::month_of(date), dates::day_of(date)));
}

dates::Date date_from(const py::handle& date) {
  if (PyDateTimeAPI == nullptr) PyDateTime_IMPORT;
  if (PyUnicode_Check(date.ptr())) return dates::parse_date(utf8_of(date.ptr()));
  if (!PyDate_Check(date.ptr())) {
    throw errors::MalformedText({{"", {}, {}, "date"},
                                 py::cast<std::string>(py::repr(date)),
                                 "is not a date",
                                 "a datetime.date or text such as 2026-09-01"});
  }
  return dates::make_date(PyDateTime_GET_YEAR(date.ptr()), static_cast<unsigned>(PyDateTime_GET_MONTH(date.ptr())),
                          static_cast<unsigned>(PyDateTime_GET_DAY(date.ptr())));
}

py::object to_python(const money::Decimal& value) {
  // Kept for the life of the process: a static py::object would outlive the interpreter.
  static const auto* decimal = new py::object(py::module_::import("decimal").attr("Decimal"));
  return (*decimal)(value.str());
}

py::dict to_python(const errors::Problem& problem) {
  py::dict result;
  result["file"] = problem.where.file;
  result["line"] = problem.where.line;
  result["row"] = problem.where.row;
  result["key"] = problem.where.key;
  result["value"] = problem.value;
  result["what"] = problem.what;
  result["allowed"] = problem.allowed;
  result["sentence"] = errors::sentence(problem);
  return result;
}

std::string_view utf8_of(PyObject* text) {
  Py_ssize_t size = 0;
  const char* data = PyUnicode_AsUTF8AndSize(text, &size);
  if (data == nullptr) {
    PyErr_Clear();
    throw errors::MalformedText({{},
                                 py::cast<std::string>(py::repr(text)),
                                 "holds characters that are not text (lone surrogates)",
                                 "text in UTF-8"});
  }
  return {data, static_cast<std::size_t>(size)};
}

}  // namespace warmledger::bind

PYBIND11_MODULE(_core, module) {
  using namespace warmledger::bind;
  module.doc() =
      "The C++ library warmledger. The package warmledger is its face; nothing here is meant to be called directly.";
  module.attr("version") = WARMLEDGER_VERSION;
#if defined(__clang__)
  module.attr("compiler") = "Clang " __clang_version__;
#elif defined(__GNUC__)
  module.attr("compiler") = "GCC " __VERSION__;
#else
  module.attr("compiler") = "unknown";
#endif
  errors_room(module);
  loans_room(module);
  economics_room(module);
  offers_room(module);
  climate_room(module);
  hotwater_room(module);
  catalog_room(module);
  appraisal_room(module);
  screening_room(module);
  streaming_room(module);
  whatif_room(module);
}
