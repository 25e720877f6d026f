// Sheets of any length: CSV bytes or Arrow columns in, columns or CSV out, and no Python object for a household.
#include "warmledger/screening/stream.hpp"
#include "bind.hpp"
#include "columns.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <utility>

#include "warmledger/errors/errors.hpp"

namespace warmledger::bind {

namespace {

using screening::CellRows;

/// Results of a batch of rows. Arrays that it gives out look into it and keep it alive.
struct Batch {
  screening::Screened screened;
  std::unique_ptr<catalog::TextRows> source;  ///< what kept columns look into
  std::vector<screening::KeptColumn> kept;
  std::size_t rows = 0;
  unsigned threads = 0;
};

/// A column of text as Arrow lays it out: ends of the texts, their bytes, and a bit for each that is there.
struct ArrowText {
  py::buffer_info ends, bytes, there;
  std::size_t offset = 0;
  bool wide = false;  ///< 64-bit ends

  [[nodiscard]] std::string_view operator[](std::size_t row) const {
    const std::size_t at = offset + row;
    if (there.ptr != nullptr && ((static_cast<const std::uint8_t*>(there.ptr)[at / 8] >> (at % 8)) & 1U) == 0)
      return {};
    const auto end = [&](std::size_t i) {
      return wide ? static_cast<std::size_t>(static_cast<const std::int64_t*>(ends.ptr)[i])
                  : static_cast<std::size_t>(static_cast<const std::int32_t*>(ends.ptr)[i]);
    };
    return {static_cast<const char*>(bytes.ptr) + end(at), end(at + 1) - end(at)};
  }
};

class Stream {
 public:
  Stream(std::shared_ptr<const appraisal::Appraiser> appraiser, std::vector<std::string> header,
         const std::string& file, const std::string& detail, unsigned threads, std::vector<std::size_t> kept)
      : stream_(std::move(appraiser), std::move(header), file, options_of(detail, threads)),
        kept_(std::move(kept)),
        threads_(threads) {
    for (const std::size_t column : kept_) {
      if (column >= stream_.header().size()) throw py::index_error("no such column to keep");
    }
  }

  std::unique_ptr<Batch> screen_csv(catalog::CsvRows& rows, std::size_t most, const py::object& progress) {
    auto batch = std::make_unique<Batch>();
    CellRows cells;
    {
      const py::gil_scoped_release release;
      batch->source = std::make_unique<catalog::TextRows>(rows.take(most));
      cells = screening::cells_of(*batch->source);
    }
    run(*batch, cells, progress);
    return batch;
  }

  std::size_t skip_csv(catalog::CsvRows& rows, std::size_t most) {
    const py::gil_scoped_release release;
    const catalog::TextRows taken = rows.take(most);
    stream_.skip(screening::cells_of(taken));
    return taken.size();
  }

  /// Kept columns of the batch look into the buffers, which the caller keeps alive.
  std::unique_ptr<Batch> screen_arrow(const std::vector<py::tuple>& columns, std::size_t count,
                                      const py::object& progress) {
    const std::vector<ArrowText> texts = texts_of(columns, count);
    auto batch = std::make_unique<Batch>();
    CellRows cells;
    {
      const py::gil_scoped_release release;
      cells = cells_of(texts, count);
    }
    run(*batch, cells, progress);
    return batch;
  }

  void skip_arrow(const std::vector<py::tuple>& columns, std::size_t count) {
    const std::vector<ArrowText> texts = texts_of(columns, count);
    const py::gil_scoped_release release;
    stream_.skip(cells_of(texts, count));
  }

  [[nodiscard]] long rows_done() const { return stream_.rows_done(); }
  [[nodiscard]] py::list unknown_columns() const {
    py::list unknown;
    for (const auto& column : stream_.unknown_columns()) unknown.append(py::make_tuple(column.name, column.nearest));
    return unknown;
  }

 private:
  screening::Options options_of(const std::string& detail, unsigned threads) {
    screening::Options options;
    options.detail = hotwater::detail_named(detail);
    options.threads = threads;
    options.progress = [this](std::size_t done) { return tell(done); };
    return options;
  }

  /// Called without the interpreter's lock.
  bool tell(std::size_t done) {
    const py::gil_scoped_acquire acquire;
    if (PyErr_CheckSignals() != 0) {
      in_callback_ = std::make_exception_ptr(py::error_already_set());
      return false;
    }
    if (progress_.is_none()) return true;
    try {
      progress_(done);
      return true;
    } catch (...) {
      in_callback_ = std::current_exception();
      return false;
    }
  }

  std::vector<ArrowText> texts_of(const std::vector<py::tuple>& columns, std::size_t count) const {
    if (columns.size() != stream_.header().size()) throw py::value_error("one column for each name in the header");
    std::vector<ArrowText> texts;
    for (const py::tuple& column : columns) {
      ArrowText text;
      text.ends = column[0].cast<py::buffer>().request();
      if (!column[1].is_none()) text.bytes = column[1].cast<py::buffer>().request();
      if (!column[2].is_none()) text.there = column[2].cast<py::buffer>().request();
      text.offset = column[3].cast<std::size_t>();
      text.wide = column[4].cast<bool>();
      const auto held = static_cast<std::size_t>(text.ends.size * text.ends.itemsize) / (text.wide ? 8 : 4);
      if (count > 0 && held < text.offset + count + 1) throw py::value_error("a column is shorter than its batch");
      texts.push_back(std::move(text));
    }
    return texts;
  }

  static CellRows cells_of(const std::vector<ArrowText>& texts, std::size_t count) {
    CellRows cells;
    cells.cells.reserve(texts.size() * count);
    for (std::size_t row = 0; row < count; ++row) {
      for (const ArrowText& text : texts) cells.cells.push_back(text[row]);
      cells.ends.push_back(cells.cells.size());
    }
    return cells;
  }

  void run(Batch& batch, const CellRows& cells, const py::object& progress) {
    progress_ = progress;
    in_callback_ = nullptr;
    batch.rows = cells.size();
    batch.threads = threads_;
    {
      const py::gil_scoped_release release;
      batch.screened = stream_.next(cells);
      for (const std::size_t column : kept_) {
        screening::KeptColumn kept{stream_.header()[column], {}};
        kept.cells.reserve(cells.size());
        for (std::size_t row = 0; row < cells.size(); ++row)
          kept.cells.push_back(stream_.kept_cell(cells, row, column));
        batch.kept.push_back(std::move(kept));
      }
    }
    progress_ = py::none();
    if (in_callback_) std::rethrow_exception(std::exchange(in_callback_, nullptr));
  }

  screening::Stream stream_;
  std::vector<std::size_t> kept_;
  unsigned threads_;
  py::object progress_ = py::none();
  std::exception_ptr in_callback_;
};

py::dict decisions_of(const Batch& batch) {
  const auto specs = screening::result_columns();
  std::map<std::string_view, std::size_t> counts;
  for (std::size_t c = 0; c < specs.size(); ++c) {
    if (specs[c].name != "decision") continue;
    for (const std::string_view decision : batch.screened.columns[c].texts) ++counts[decision];
  }
  return py::cast(counts);
}

}  // namespace

void streaming_room(py::module_& module) {
  py::module_ room = module.def_submodule("streaming", "Sheets of any length.");
  py::class_<catalog::CsvRows>(room, "CsvRows", "CSV as its bytes come, row by row.")
      .def(py::init<std::string>(), py::arg("file"))
      .def(
          "push",
          [](catalog::CsvRows& rows, const py::bytes& bytes) {
            const std::string_view view = bytes;
            const py::gil_scoped_release release;
            rows.push(view);
          },
          py::arg("data"), "Takes the next bytes.")
      .def("finish", &catalog::CsvRows::finish, "Says that no bytes follow.")
      .def_property_readonly(
          "ready", [](const catalog::CsvRows& rows) { return rows.ready().size(); },
          "Whole rows that wait to be taken.")
      .def(
          "first",
          [](const catalog::CsvRows& rows, std::size_t most) {
            std::vector<std::vector<std::string_view>> first(std::min(most, rows.ready().size()));
            for (std::size_t i = 0; i < first.size(); ++i) rows.ready().append_row(i, first[i]);
            return first;
          },
          py::arg("most"), "Cells of the first rows that wait, without taking them.")
      .def(
          "drop", [](catalog::CsvRows& rows, std::size_t count) { (void)rows.take(count); }, py::arg("count"),
          "Passes over rows.");

  py::class_<Batch>(room, "Batch", "Results of some rows.")
      .def_property_readonly("rows", [](const Batch& batch) { return batch.rows; })
      .def_property_readonly("bad_rows", [](const Batch& batch) { return batch.screened.bad_rows; })
      .def_property_readonly("decisions", &decisions_of, "How often each decision stands in it.")
      .def_property_readonly(
          "problems",
          [](const Batch& batch) {
            py::list problems;
            for (const errors::Problem& problem : batch.screened.problems) problems.append(to_python(problem));
            return problems;
          },
          "As dicts, in the order of the rows.")
      .def(
          "numbers",
          [](const py::object& self, std::size_t column) {
            const auto& values = self.cast<const Batch&>().screened.columns.at(column).numbers;
            return array_of(values.data(), values.size(), self);
          },
          py::arg("column"), "A column of numbers without a copy; NaN for no value.")
      .def(
          "text",
          [](const Batch& batch, std::size_t column) {
            const auto& texts = batch.screened.columns.at(column).texts;
            return arrow_text<std::int32_t>(texts.size(), [&](std::size_t i) { return texts[i]; });
          },
          py::arg("column"),
          "A column of text as Arrow lays it out: (bits of those that are there, ends, bytes, how many are empty).")
      .def(
          "kept_text",
          [](const Batch& batch, std::size_t column) {
            const auto& cells = batch.kept.at(column).cells;
            return arrow_text<std::int32_t>(cells.size(), [&](std::size_t i) { return cells[i]; });
          },
          py::arg("column"), "A kept column likewise.")
      .def(
          "csv",
          [](const Batch& batch) {
            std::vector<std::string> parts;
            std::size_t size = 0;
            {
              const py::gil_scoped_release release;
              parts = screening::csv_lines(batch.screened, batch.kept, batch.threads);
              for (const std::string& part : parts) size += part.size();
            }
            py::bytes lines(nullptr, size);
            char* place = PyBytes_AS_STRING(lines.ptr());
            for (const std::string& part : parts) place = std::copy(part.begin(), part.end(), place);
            return lines;
          },
          "The rows as lines of CSV, kept columns at the right.");

  py::class_<Stream>(room, "Stream", "Screens a sheet batch after batch.")
      .def(py::init([](const std::shared_ptr<appraisal::Appraiser>& appraiser, std::vector<std::string> header,
                       const std::string& file, const std::string& detail, unsigned threads,
                       std::vector<std::size_t> kept) {
             return std::make_unique<Stream>(appraiser, std::move(header), file, detail, threads, std::move(kept));
           }),
           py::arg("appraiser"), py::arg("header"), py::arg("file"), py::arg("detail"), py::arg("threads"),
           py::arg("kept"))
      .def("screen_csv", &Stream::screen_csv, py::arg("rows"), py::arg("most"), py::arg("progress"),
           "Screens the next rows, `most` or fewer; progress is called with the rows of the batch that are done.")
      .def("skip_csv", &Stream::skip_csv, py::arg("rows"), py::arg("most"), "Passes over rows; says how many.")
      .def(
          "screen_arrow", &Stream::screen_arrow, py::arg("columns"), py::arg("count"), py::arg("progress"),
          "Screens columns of text, each (ends, bytes or None, bits or None, offset, ends are wide) as Arrow lays them "
          "out. The caller keeps the buffers alive as long as the batch.")
      .def("skip_arrow", &Stream::skip_arrow, py::arg("columns"), py::arg("count"))
      .def_property_readonly("rows_done", &Stream::rows_done)
      .def_property_readonly("unknown_columns", &Stream::unknown_columns);
  room.def(
      "csv_header", [](const std::vector<std::string>& kept) { return py::bytes(screening::csv_header(kept)); },
      py::arg("kept"), "The header line of results, kept columns at the right.");
  room.def("number_text", &screening::number_text, py::arg("value"), "A number as it stands in CSV.");
}

}  // namespace warmledger::bind
