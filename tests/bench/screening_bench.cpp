// What a sheet costs inside the library: the hourly simulation of all its systems alone, its households appraised many
// at once, and one household alone. Processor time of one thread, all samples as JSON; tests/bench/run.py sets it
// beside the same sheet through Python.
//
//   screening_bench DATA PROGRAM SHEET.csv OUT.json [ROUNDS]
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <exception>
#include <fstream>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "warmledger/appraisal/appraisal.hpp"

using namespace warmledger;

namespace {

double processor_seconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

template <class Work>
double seconds_of(const Work& work) {
  const double start = processor_seconds();
  work();
  return processor_seconds() - start;
}

/// So that nothing is optimised away.
double kept = 0;

std::vector<catalog::Household> households_of(const std::string& sheet) {
  const catalog::CsvTable table = catalog::read_csv(sheet);
  catalog::SheetReader reader(table.header, sheet);
  std::vector<catalog::Household> households;
  for (std::size_t row = 0; row < table.rows.size(); ++row) {
    const std::vector<std::string_view> cells(table.rows[row].begin(), table.rows[row].end());
    catalog::SheetRow read = reader.read(static_cast<long>(row) + 1, cells);
    if (read.problems.empty()) households.push_back(std::move(read.household));
  }
  return households;
}

/// Every system that the households' packages offer, with its weather: what the screening simulates.
struct Systems {
  std::vector<hotwater::Case> cases;
  std::vector<std::shared_ptr<const appraisal::Scratch::HourlyPlace>> places;
  std::vector<std::shared_ptr<const std::vector<double>>> light;
  std::vector<std::unique_ptr<hotwater::Weather>> weather;
};

Systems systems_of(const appraisal::Appraiser& appraiser, std::span<const catalog::Household> households,
                   appraisal::Scratch& scratch) {
  Systems all;
  for (const catalog::Household& household : households) {
    for (const catalog::Package& package : appraiser.program().packages) {
      const bool fits = household.occupants >= package.least_occupants && household.occupants <= package.most_occupants;
      if (household.package.empty() ? !fits : household.package != package.id) continue;
      catalog::Household with = household;
      with.package = package.id;
      const auto a = appraiser.appraise<double>(with, hotwater::Detail::monthly, scratch);
      all.places.push_back(scratch.hourly_place(*a.climate));
      all.light.push_back(
          scratch.irradiance({a.climate, a.system.tilt_deg, a.system.azimuth_deg, a.system.collector.incidence_b0}));
      all.weather.push_back(std::make_unique<hotwater::Weather>(
          hotwater::Weather{*all.light.back(), all.places.back()->year.dry_bulb_c, all.places.back()->mains_c}));
      all.cases.push_back({a.system, a.plant, a.demand, a.heater, nullptr, all.weather.back().get()});
    }
  }
  return all;
}

int run(std::span<char*> words) {
  const auto data = std::make_shared<catalog::Catalog>(catalog::read_catalog(words[1]));
  const auto program = std::make_shared<catalog::Program>(catalog::read_program(words[2], *data));
  const appraisal::Appraiser appraiser(program, data);
  const std::vector<catalog::Household> households = households_of(words[3]);
  const int rounds = words.size() > 5 ? std::max(1, std::atoi(words[5])) : 5;
  appraisal::Scratch scratch;
  const Systems systems = systems_of(appraiser, households, scratch);

  std::vector<const catalog::Household*> many;
  for (const catalog::Household& household : households) many.push_back(&household);
  const std::size_t some = std::min<std::size_t>(100, households.size());
  std::vector<double> kernel, hourly, monthly, one_monthly, one_hourly;
  for (int round = 0; round < rounds; ++round) {
    kernel.push_back(
        seconds_of([&] { kept += hotwater::simulate(systems.cases, *systems.weather.front()).back().peak_tank_c; }));
    // A store of its own each time, as a screening has.
    const auto screened = [&](hotwater::Detail detail) {
      return seconds_of([&] {
        appraisal::Scratch fresh;
        for (std::size_t first = 0; first < many.size(); first += 64) {
          const auto chunk = std::span(many).subspan(first, std::min<std::size_t>(64, many.size() - first));
          for (const auto& attempt : appraiser.appraise_many<double>(chunk, detail, fresh))
            kept += attempt.appraisal ? attempt.appraisal->measures.net_savings : 0;
        }
      });
    };
    hourly.push_back(screened(hotwater::Detail::hourly));
    monthly.push_back(screened(hotwater::Detail::monthly));
    const auto alone = [&](hotwater::Detail detail) {
      return seconds_of([&] {
               for (std::size_t k = 0; k < some; ++k)
                 kept += appraiser.appraise<double>(households[k], detail, scratch).measures.net_savings;
             }) /
             static_cast<double>(some);
    };
    one_monthly.push_back(alone(hotwater::Detail::monthly));
    one_hourly.push_back(alone(hotwater::Detail::hourly));
  }
  std::ofstream out(words[4]);
  out << fmt::format(
      "{{\"households\": {}, \"systems\": {}, \"kernel_s\": [{}], \"appraise_many_hourly_s\": [{}], "
      "\"appraise_many_monthly_s\": [{}], \"appraise_one_monthly_s\": [{}], \"appraise_one_hourly_s\": [{}]}}\n",
      households.size(), systems.cases.size(), fmt::join(kernel, ", "), fmt::join(hourly, ", "),
      fmt::join(monthly, ", "), fmt::join(one_monthly, ", "), fmt::join(one_hourly, ", "));
  return out.good() && kept != 0 ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  if (count < 5) {
    std::fputs("screening_bench DATA PROGRAM SHEET.csv OUT.json [ROUNDS]\n", stderr);
    return 2;
  }
  try {
    return run(std::span(words, static_cast<std::size_t>(count)));
  } catch (const std::exception& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return 1;
  }
}
