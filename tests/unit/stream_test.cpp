// Batches: however a sheet is cut and shared out, the results are those of the whole sheet.
#include <doctest/doctest.h>

#include <array>
#include <memory>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "warmledger/catalog/csv_rows.hpp"
#include "warmledger/catalog/known_ids.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/screening/stream.hpp"

using namespace warmledger;

namespace {

const std::vector<std::string> header{"household_id", "place",         "occupants",        "yearly_income_usd",
                                      "heater_fuel",  "roof_tilt_deg", "roof_azimuth_deg", "shading_pct"};

/// Households of three places and several roofs, in no order; some rows are bad, one identifier stands twice.
std::string sheet(int rows) {
  static constexpr std::array<const char*, 4> places{"Quillmere", "Dunmarrow Flats", "Sorrelgate Pass", "724660"};
  static constexpr std::array<const char*, 3> fuels{"electricity", "propane", "natural_gas"};
  std::string text;
  for (std::size_t i = 0; i < static_cast<std::size_t>(rows); ++i) {
    text += fmt::format("H{},{},{},{},{},{},{},{}\n", i == 29 ? 3 : i, i == 11 ? "Quillmeer" : places[i * 7 % 4],
                        i == 5 ? "none" : std::to_string(1 + i % 6), 20000 + i * 977 % 60000, fuels[i * 5 % 3],
                        20 + i % 3 * 5, 160 + i % 4 * 15, i % 2 == 0 ? "10 %" : "");
  }
  return text;
}

struct Fixture {
  std::shared_ptr<const catalog::Catalog> data =
      std::make_shared<catalog::Catalog>(catalog::read_catalog(WARMLEDGER_DATA_DIR));
  std::shared_ptr<const appraisal::Appraiser> appraiser = std::make_shared<appraisal::Appraiser>(
      std::make_shared<catalog::Program>(catalog::read_program(WARMLEDGER_DATA_DIR "/demo/program.toml", *data)), data);

  [[nodiscard]] std::string in_batches(int rows, std::size_t batch_rows, unsigned threads, hotwater::Detail detail,
                                       std::vector<errors::Problem>& problems) const {
    screening::Options options;
    options.threads = threads;
    options.detail = detail;
    screening::Stream stream(appraiser, header, "sheet.csv", options);
    catalog::CsvRows source("sheet.csv");
    const std::string text = sheet(rows);
    std::size_t pushed = 0;
    std::string lines;
    for (;;) {
      // In pieces that end within rows, with rows taken in between.
      while (pushed < text.size() && source.ready().size() < batch_rows) {
        source.push(std::string_view(text).substr(pushed, 97));
        pushed += 97;
        if (pushed >= text.size()) source.finish();
      }
      if (source.ready().empty()) break;
      const catalog::TextRows taken = source.take(batch_rows);
      const screening::Screened screened = stream.next(screening::cells_of(taken));
      problems.insert(problems.end(), screened.problems.begin(), screened.problems.end());
      for (const std::string& part : screening::csv_lines(screened, {}, threads)) lines += part;
    }
    CHECK(stream.rows_done() == rows);
    return lines;
  }
};

}  // namespace

TEST_CASE("batches, threads and grouping change nothing") {
  const Fixture fixture;
  for (const auto detail : {hotwater::Detail::monthly, hotwater::Detail::hourly}) {
    const int rows = detail == hotwater::Detail::monthly ? 150 : 40;
    // One household at a time, in the order of the sheet: nothing is grouped.
    screening::Options options;
    options.threads = 1;
    options.detail = detail;
    catalog::SheetReader reader(header, "sheet.csv");
    catalog::CsvRows source("sheet.csv");
    source.push(sheet(rows));
    source.finish();
    const screening::CellRows cells = screening::cells_of(source.ready());
    std::string expected;
    std::vector<errors::Problem> expected_problems;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      std::vector<std::string_view> row(cells.row(i).begin(), cells.row(i).end());
      if (row.back() == "10 %") row.back() = "10";
      std::vector<catalog::SheetRow> one;
      one.push_back(reader.read(static_cast<long>(i) + 1, row));
      screening::Screener alone(fixture.appraiser, "sheet.csv", options);
      const screening::Screened screened = alone.screen(std::move(one), static_cast<long>(i) + 1);
      for (const std::string& part : screening::csv_lines(screened, {}, 1)) expected += part;
      expected_problems.insert(expected_problems.end(), screened.problems.begin(), screened.problems.end());
    }
    CHECK(expected_problems.size() == 3);
    for (const std::size_t batch_rows : {std::size_t{7}, std::size_t{64}, std::size_t{1000}}) {
      for (const unsigned threads : {1U, 2U, 5U}) {
        std::vector<errors::Problem> problems;
        CHECK(fixture.in_batches(rows, batch_rows, threads, detail, problems) == expected);
        REQUIRE(problems.size() == expected_problems.size());
        for (std::size_t i = 0; i < problems.size(); ++i)
          CHECK(errors::sentence(problems[i]) == errors::sentence(expected_problems[i]));
      }
    }
  }
}

TEST_CASE("rows that were passed over are still known") {
  const Fixture fixture;
  screening::Options options;
  options.detail = hotwater::Detail::monthly;
  screening::Stream stream(fixture.appraiser, header, "sheet.csv", options);
  catalog::CsvRows source("sheet.csv");
  source.push(sheet(31));
  source.finish();
  {
    const catalog::TextRows before = source.take(20);
    stream.skip(screening::cells_of(before));
  }
  const catalog::TextRows rest = source.take(100);
  const screening::Screened screened = stream.next(screening::cells_of(rest));
  REQUIRE(screened.problems.size() == 1);
  CHECK(screened.problems[0].where.row == 30);
  CHECK(screened.problems[0].what == "already stands in row 4");
}

TEST_CASE("a stream that is told to stop says so") {
  const Fixture fixture;
  screening::Options options;
  options.detail = hotwater::Detail::monthly;
  options.progress = [](std::size_t) { return false; };
  screening::Stream stream(fixture.appraiser, header, "sheet.csv", options);
  catalog::CsvRows source("sheet.csv");
  source.push(sheet(3000));
  source.finish();
  const catalog::TextRows rows = source.take(3000);
  CHECK(stream.next(screening::cells_of(rows)).stopped);
}

TEST_CASE("identifiers are known by their rows, in memory and in a file") {
  for (const std::size_t held : {std::size_t{512}, catalog::KnownIds::most_slots_held}) {
    catalog::KnownIds ids(held);
    constexpr int count = 20000;
    for (int i = 0; i < count; ++i) CHECK_FALSE(ids.add(fmt::format("home {}", i), i + 1).has_value());
    CHECK(ids.in_file() == (held == 512));
    for (int i = 0; i < count; i += 7) CHECK(ids.add(fmt::format("home {}", i), 99999) == i + 1);
    CHECK_FALSE(ids.add("", 1).has_value());
    CHECK_FALSE(ids.add(std::string_view("\0", 1), 2).has_value());
    CHECK(ids.add("", 3) == 1);
  }
}
