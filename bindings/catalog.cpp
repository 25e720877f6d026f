#include "bind.hpp"
#include "warmledger/catalog/assumptions.hpp"
#include "warmledger/catalog/household.hpp"
#include "warmledger/catalog/program.hpp"

namespace warmledger::bind {

void catalog_room(py::module_& module) {
  using namespace catalog;
  py::module_ room = module.def_submodule("catalog", "Catalogues, program files and the household sheet.");
  py::class_<Catalog, std::shared_ptr<Catalog>>(room, "Catalog", "What stands in the data folder.")
      .def(py::init([](const std::string& data, const std::string& override_folder) {
             return std::make_shared<Catalog>(read_catalog(data, override_folder));
           }),
           py::arg("data"), py::arg("override_folder") = "")
      .def(
          "nearest",
          [](const Catalog& c, double latitude, double longitude) {
            const auto found = c.atlas.nearest(latitude, longitude);
            return py::make_tuple(*found.climate, found.distance_km);
          },
          py::arg("latitude_deg"), py::arg("longitude_deg"))
      .def(
          "named", [](const Catalog& c, const std::string& name) { return *c.atlas.named(name).climate; },
          py::arg("name"))
      .def_property_readonly("place_count", [](const Catalog& c) { return c.atlas.climates().size(); });
  py::class_<Program, std::shared_ptr<Program>>(room, "Program", "A program file, read and checked.")
      .def_readonly("title", &Program::title)
      .def_readonly("note", &Program::note)
      .def_property_readonly("install_date", [](const Program& p) { return to_python(p.install_date); })
      .def_readonly("study_years", &Program::study_years)
      .def_readonly("nominal_discount_rate", &Program::nominal_discount_rate)
      .def_readonly("inflation_rate", &Program::inflation_rate)
      .def_property_readonly("pools",
                             [](const catalog::Program& p) {
                               std::vector<std::string> ids;
                               for (const auto& pool : p.pools) ids.push_back(pool.id);
                               return ids;
                             })
      .def_property_readonly("tiers",
                             [](const Program& p) {
                               std::vector<std::string> names;
                               for (const auto& tier : p.income.tiers) names.push_back(tier.name);
                               return names;
                             })
      .def_property_readonly("packages",
                             [](const Program& p) {
                               std::vector<std::string> ids;
                               for (const auto& package : p.packages) ids.push_back(package.id);
                               return ids;
                             })
      .def_property_readonly("incentives",
                             [](const Program& p) {
                               std::vector<std::string> ids;
                               for (const auto& rule : p.rules) ids.push_back(rule.id);
                               return ids;
                             })
      .def_readonly("as_if", &Program::as_if)
      .def_property_readonly("loans", [](const Program& p) {
        std::vector<std::string> ids;
        for (const auto& loan : p.loans) ids.push_back(loan.id);
        return ids;
      });
  room.def(
      "read_program",
      [](const std::string& file, const Catalog& c) { return std::make_shared<Program>(read_program(file, c)); },
      py::arg("file"), py::arg("catalog"));
  room.def(
      "parse_program",
      [](const std::string& text, const std::string& name, const Catalog& c) {
        return std::make_shared<Program>(parse_program(text, name, c));
      },
      py::arg("text"), py::arg("name"), py::arg("catalog"));
  room.def(
      "assumptions",
      [](const Program& p, const Catalog& c) {
        py::list rows;
        for (const Assumption& a : assumptions(p, c)) rows.append(py::make_tuple(a.what, a.value, a.source));
        return rows;
      },
      py::arg("program"), py::arg("catalog"), "Everything a run rests on: (what, value, source).");
  room.def(
      "household_columns",
      [] {
        py::list rows;
        for (const Column& c : household_columns()) {
          py::dict row;
          row["name"] = c.name;
          static constexpr std::array<const char*, 5> kinds{"text", "number", "whole number", "choice", "numbers"};
          row["kind"] = kinds.at(static_cast<std::size_t>(c.kind));
          row["unit"] = c.unit;
          row["low"] = c.low;
          row["high"] = c.high;
          row["choices"] = c.choices;
          row["required"] = c.required;
          row["default"] = c.default_text;
          row["why"] = c.why;
          row["meaning"] = c.meaning;
          row["instead_of"] = c.instead_of;
          rows.append(row);
        }
        return rows;
      },
      "The columns of a household sheet.");
  room.def(
      "income_tiers",
      [](const Program& p, const Catalog& c, double income, int persons) {
        py::list rows;
        for (const incentives::TierFinding& found : incentives::find_tiers(c.income_tiers, p.income, income, persons)) {
          py::dict row;
          row["definition"] = found.definition;
          row["title"] = found.title;
          row["tier"] = found.tier;
          row["least_usd"] = found.least_usd;
          row["most_usd"] = found.most_usd;
          row["reason"] = found.reason;
          row["source"] = found.source;
          rows.append(row);
        }
        return rows;
      },
      py::arg("program"), py::arg("catalog"), py::arg("yearly_income_usd"), py::arg("occupants"),
      "In which income tier of each definition of the catalogue a household falls.");
  room.def("household_columns_markdown", &household_columns_markdown);
  room.def("program_keys_markdown", &program_keys_markdown);
}

}  // namespace warmledger::bind
