#include "bind.hpp"

namespace warmledger::bind {

namespace {

PyObject* base_type = nullptr;
PyObject* missing_type = nullptr;
PyObject* out_of_range_type = nullptr;
PyObject* malformed_type = nullptr;
PyObject* unknown_type = nullptr;
PyObject* duplicate_type = nullptr;
PyObject* contradiction_type = nullptr;
PyObject* unreadable_type = nullptr;
PyObject* unavailable_type = nullptr;

PyObject* make_type(py::module_& module, const char* name, const char* doc, const py::object& base) {
  const std::string full = std::string("warmledger.errors.") + name;
  PyObject* type = PyErr_NewExceptionWithDoc(full.c_str(), doc, base.ptr(), nullptr);
  if (type == nullptr) throw py::error_already_set();
  module.attr(name) = py::reinterpret_borrow<py::object>(type);
  return type;
}

void raise(PyObject* type, const errors::Error& error) {
  py::object instance = py::reinterpret_borrow<py::object>(type)(error.what());
  instance.attr("problem") = to_python(error.problem());
  PyErr_SetObject(type, instance.ptr());
}

}  // namespace

void errors_room(py::module_& module) {
  py::module_ room =
      module.def_submodule("errors", "Everything the library raises on purpose; each carries its problem as a dict.");
  const py::object value_error = py::reinterpret_borrow<py::object>(PyExc_ValueError);
  base_type = make_type(room, "Error",
                        "Base of what the library raises on purpose. The attribute problem is a dict: file, line, row, "
                        "key, value, what, allowed, sentence.",
                        value_error);
  const py::object base = py::reinterpret_borrow<py::object>(base_type);
  out_of_range_type = make_type(room, "ValueOutOfRange", "A number outside its allowed range, NaN or infinite.", base);
  missing_type = make_type(room, "MissingValue", "Something required is not there.", base);
  malformed_type = make_type(room, "MalformedText", "Text that is not the number, date or format expected.", base);
  unknown_type = make_type(room, "UnknownName", "A key, fuel, place or choice that does not exist.", base);
  duplicate_type = make_type(room, "DuplicateName", "A name that must be unique stands twice.", base);
  contradiction_type = make_type(room, "Contradiction", "Values that are allowed alone but not together.", base);
  unreadable_type = make_type(room, "FileUnreadable", "A file that cannot be opened, read or decoded.", base);
  unavailable_type = make_type(room, "NotAvailable", "Something this version does not do.", base);
  room.def(
      "problem",
      [](const std::string& what, const std::string& allowed, const std::string& value, const std::string& file,
         std::optional<long> line, std::optional<long> row, const std::string& key) {
        return to_python(errors::Problem{{file, line, row, key}, value, what, allowed});
      },
      py::arg("what"), py::kw_only(), py::arg("allowed") = "", py::arg("value") = "", py::arg("file") = "",
      py::arg("line") = py::none(), py::arg("row") = py::none(), py::arg("key") = "",
      "A problem as a dict, its sentence written by the library.");
  py::register_exception_translator([](std::exception_ptr pointer) {  // NOLINT(performance-unnecessary-value-param):
                                                                      // the signature that pybind11 takes
    try {
      if (pointer) std::rethrow_exception(pointer);
    } catch (const errors::ValueOutOfRange& error) {
      raise(out_of_range_type, error);
    } catch (const errors::MissingValue& error) {
      raise(missing_type, error);
    } catch (const errors::MalformedText& error) {
      raise(malformed_type, error);
    } catch (const errors::UnknownName& error) {
      raise(unknown_type, error);
    } catch (const errors::DuplicateName& error) {
      raise(duplicate_type, error);
    } catch (const errors::Contradiction& error) {
      raise(contradiction_type, error);
    } catch (const errors::FileUnreadable& error) {
      raise(unreadable_type, error);
    } catch (const errors::NotAvailable& error) {
      raise(unavailable_type, error);
    } catch (const errors::Error& error) {
      raise(base_type, error);
    }
  });
}

}  // namespace warmledger::bind
