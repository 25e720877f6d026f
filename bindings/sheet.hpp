// Rows of Python cells as rows of text for the household sheet reader.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "warmledger/catalog/household.hpp"

namespace warmledger::bind {

/// A sheet whose cells are Python strings or None. Views into the strings live as long as the lists that hold them.
class Sheet {
 public:
  Sheet(std::vector<std::string> header, std::string file) : reader_(std::move(header), std::move(file)) {}

  [[nodiscard]] static std::string_view view(const py::handle& cell) {
    if (cell.is_none()) return {};
    if (!PyUnicode_Check(cell.ptr())) throw py::type_error("cells of a sheet must be str or None");
    Py_ssize_t size = 0;
    const char* data = PyUnicode_AsUTF8AndSize(cell.ptr(), &size);
    if (data == nullptr) {
      // A lone surrogate has no UTF-8. The row's reader finds these bytes and reports the cell; other rows go on.
      PyErr_Clear();
      return "\xED\xA0\x80";
    }
    return {data, static_cast<std::size_t>(size)};
  }

  catalog::SheetRow row(const py::list& cells, long number) {
    std::vector<std::string_view> views;
    views.reserve(cells.size());
    for (const py::handle cell : cells) views.push_back(view(cell));
    return reader_.read(number, views);
  }

  [[nodiscard]] catalog::SheetReader& reader() noexcept { return reader_; }

 private:
  catalog::SheetReader reader_;
};

}  // namespace warmledger::bind
