#include "bind.hpp"
#include "columns.hpp"
#include "sheet.hpp"
#include "warmledger/whatif/cases.hpp"
#include "warmledger/whatif/trials.hpp"

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
  result["problems"] = problems_to_python(answers.problems);
  result["unknown_columns"] = unknown;
  result["bad_rows"] = answers.bad_rows;
  result["simulations"] = answers.simulations;
  result["irradiances"] = answers.irradiances;
  result["columns"] = columns_to_python(std::move(answers));
  return result;
}

whatif::Distribution distribution_from(const py::dict& given) {
  whatif::Distribution result;
  result.shape = whatif::shape_named(given["shape"].cast<std::string>());
  result.first = given["first"].cast<double>();
  result.second = given["second"].cast<double>();
  result.third = given["third"].cast<double>();
  result.low = given["low"].cast<double>();
  result.high = given["high"].cast<double>();
  return result;
}

whatif::RiskModel model_from(const py::dict& given) {
  whatif::RiskModel model;
  for (std::size_t i = 0; i < whatif::input_count; ++i) {
    const std::string name(whatif::name_of(static_cast<whatif::Input>(i)));
    model.inputs.at(i) = distribution_from(given["inputs"][name.c_str()].cast<py::dict>());
  }
  model.correlation = given["correlation"].cast<std::vector<double>>();
  for (const py::handle& row : given["prices"]) {
    const auto [fuel, volatility, persistence] = row.cast<std::tuple<std::string, double, double>>();
    model.prices.push_back({prices::fuel_named(fuel), volatility, persistence});
  }
  model.price_correlation = given["price_correlation"].cast<std::vector<double>>();
  model.sun_deviation = given["sun_deviation"].cast<double>();
  model.sun_years = given["sun_years"].cast<std::vector<double>>();
  model.gone = given["gone"].cast<std::vector<std::pair<std::string, double>>>();
  return model;
}

/// A prospect with the appraiser that it rests on.
struct HeldProspect {
  std::shared_ptr<Appraiser> appraiser;
  whatif::Prospect prospect;
};

py::dict table_to_python(const whatif::TrialTable& table) {
  py::dict columns;
  const auto texts = whatif::trial_columns();
  for (std::size_t c = 0; c < texts.size(); ++c) columns[py::str(std::string(texts[c].name))] = array_of(table.at(c));
  return columns;
}

using Numbers = py::array_t<double, py::array::c_style | py::array::forcecast>;

void bind_prospect(py::module_& room) {
  py::class_<HeldProspect>(room, "Prospect")
      .def(py::init([](std::shared_ptr<Appraiser> appraiser, const std::vector<std::string>& header,
                       const py::list& cells, const std::string& detail, const py::dict& given,
                       const std::optional<std::string>& loan, unsigned threads) {
             Sheet sheet(header, "");
             const catalog::SheetRow row = sheet.row(cells, 1);
             if (!row.problems.empty()) throw errors::Error(row.problems.front());
             whatif::RiskModel model = model_from(given);
             const hotwater::Detail method = hotwater::detail_named(detail);
             const py::gil_scoped_release release;
             whatif::Prospect prospect(*appraiser, row.household, method, std::move(model), loan, threads);
             return HeldProspect{std::move(appraiser), std::move(prospect)};
           }),
           py::arg("appraiser"), py::arg("header"), py::arg("cells"), py::arg("detail"), py::arg("model"),
           py::arg("loan"), py::arg("threads"))
      .def_property_readonly("dimensions", [](const HeldProspect& self) { return self.prospect.dimensions(); })
      .def_property_readonly("loan",
                             [](const HeldProspect& self) {
                               const auto loan = self.prospect.loan();
                               return loan ? py::object(py::str(self.appraiser->program().loans[*loan].id))
                                           : py::object(py::none());
                             })
      .def(
          "run",
          [](const HeldProspect& self, std::uint64_t seed, std::uint64_t first, std::size_t count, unsigned threads) {
            whatif::TrialTable table;
            {
              const py::gil_scoped_release release;
              table = self.prospect.run(seed, first, count, threads);
            }
            return table_to_python(table);
          },
          py::arg("seed"), py::arg("first"), py::arg("count"), py::arg("threads"))
      .def(
          "run_uniforms",
          [](const HeldProspect& self, const Numbers& uniforms, unsigned threads) {
            const std::span<const double> numbers(uniforms.data(), static_cast<std::size_t>(uniforms.size()));
            whatif::TrialTable table;
            {
              const py::gil_scoped_release release;
              table = self.prospect.run(numbers, threads);
            }
            return table_to_python(table);
          },
          py::arg("uniforms"), py::arg("threads"));
  room.def("trial_columns", [] {
    py::list rows;
    for (const whatif::TrialColumnText& text : whatif::trial_columns())
      rows.append(py::make_tuple(std::string(text.name), std::string(text.unit), std::string(text.meaning)));
    return rows;
  });
  room.def(
      "philox",
      [](const std::array<std::uint64_t, 4>& counter, const std::array<std::uint64_t, 2>& key) {
        return whatif::philox(counter, key);
      },
      py::arg("counter"), py::arg("key"), "A block of the counter-based generator Philox4x64-10.");
  room.def(
      "values",
      [](const py::dict& distribution, const std::vector<double>& uniforms) {
        const whatif::Distribution how = distribution_from(distribution);
        whatif::check(how, "distribution");
        std::vector<double> values;
        values.reserve(uniforms.size());
        for (const double u : uniforms) values.push_back(whatif::value_at(how, whatif::normal_quantile(u)));
        return array_of(values);
      },
      py::arg("distribution"), py::arg("uniforms"), "Values of a distribution at probabilities between 0 and 1.");
}

}  // namespace

void whatif_room(py::module_& module) {
  py::module_ room = module.def_submodule("whatif", "What-ifs.");
  room.def("cases", &cases, py::arg("appraisers"), py::arg("which"), py::arg("header"), py::arg("rows"),
           py::arg("detail"), py::arg("threads"),
           "Appraises rows of cells (str or None), row i by appraisers[which[i]]. Returns what screening.screen does, "
           "and simulations and irradiances: how many were worked out.");
  bind_prospect(room);
}

}  // namespace warmledger::bind
