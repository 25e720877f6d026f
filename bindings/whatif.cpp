#include "bind.hpp"
#include "columns.hpp"
#include "sheet.hpp"
#include "warmledger/whatif/cases.hpp"

namespace warmledger::bind {

namespace {

using appraisal::Appraiser;

py::dict cases(const std::vector<std::shared_ptr<Appraiser>>& appraisers, const std::vector<std::size_t>& which,
               const std::vector<std::string>& header, const std::vector<py::list>& rows, const std::string& detail,
               unsigned threads) {
  if (which.size() != rows.size()) throw py::value_error("one appraiser for each row");
  Sheet sheet(header, "");
  std::vector<whatif::Case> all;
  all.reserve(rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i)
    all.push_back({appraisers.at(which[i]).get(), sheet.row(rows[i], static_cast<long>(i) + 1)});
  whatif::Answers answers;
  {
    const py::gil_scoped_release release;
    answers = whatif::appraise_cases(all, hotwater::detail_named(detail), threads);
  }
  py::list unknown;
  for (const auto& column : sheet.reader().unknown_columns())
    unknown.append(py::make_tuple(column.name, column.nearest));
  py::dict result;
  result["columns"] = columns_to_python(answers.columns);
  result["problems"] = problems_to_python(answers.problems);
  result["unknown_columns"] = unknown;
  result["bad_rows"] = answers.bad_rows;
  result["simulations"] = answers.simulations;
  result["irradiances"] = answers.irradiances;
  return result;
}

}  // namespace

void whatif_room(py::module_& module) {
  py::module_ room = module.def_submodule("whatif", "What-ifs.");
  room.def("cases", &cases, py::arg("appraisers"), py::arg("which"), py::arg("header"), py::arg("rows"),
           py::arg("detail"), py::arg("threads"),
           "Appraises rows of cells (str or None), row i by appraisers[which[i]]. Returns what screening.screen does, "
           "and simulations and irradiances: how many were worked out.");
}

}  // namespace warmledger::bind
