// Speed of the hourly simulation: household-years per second and core for one lane and for the default lanes, against
// the plain scalar reference of tests/support, and as a share of the core's multiply-add peak measured here.
// `--json=FILE` takes the rows in turns, writes every sample, and runs nothing else; `--rounds=N` of them (9).
#include <algorithm>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include "support/plain_simulation.hpp"
#include "support/synthetic_weather.hpp"
#include "warmledger/hotwater/simulation.hpp"
#include "warmledger/units/units.hpp"

using namespace warmledger;
using namespace hotwater;

namespace {

const support::WeatherYear& weather_year() {
  static const support::WeatherYear year = support::invented_year();
  return year;
}

/// A county's households: the same plant, different draws and tanks.
std::vector<Case> households(std::size_t count) {
  support::Random random(7);
  std::vector<Case> cases(count);
  for (Case& c : cases) {
    c.demand = {random.uniform(100, 400), units::celsius_from_fahrenheit(120)};
    c.existing = heater_from_rating(HeaterKind::storage, prices::Fuel::electricity, 0.92, 0.98, 4500);
    c.system.storage_l = random.uniform(200, 450);
    c.system.collector_count = random.whole(1, 3);
  }
  return cases;
}

/// Processor time, so that other work on the machine does not count.
double cpu_seconds() {
  return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

#if defined(__x86_64__)
/// Multiplications and additions per second of one core at best: 16 independent chains of separate multiply and add
/// (the simulation uses no fused ones) in registers of W doubles.
template <int W>
__attribute__((always_inline)) inline double peak() {
  typedef double V __attribute__((vector_size(W * 8)));
  V a[16];
  for (int i = 0; i < 16; ++i) a[i] = V{} + (1.0 + i);
  const V factor = V{} + 0.999999;
  const V term = V{} + 1e-6;
  constexpr int outer = 20'000, inner = 1000;
  const double start = cpu_seconds();
  for (int o = 0; o < outer; ++o) {
    for (int t = 0; t < inner; ++t) {
      for (int i = 0; i < 16; ++i) a[i] = a[i] * factor + term;
    }
    __asm__ volatile("" : : "r"(&a[0]) : "memory");
  }
  return 2.0 * W * 16 * outer * inner / (cpu_seconds() - start);
}
__attribute__((target("avx512f"))) double peak_avx512() {
  return peak<8>();
}
__attribute__((target("avx2"))) double peak_avx2() {
  return peak<4>();
}
#endif

void plain(benchmark::State& state) {
  const std::vector<Case> cases = households(32);
  const Weather weather = weather_year().view();
  std::size_t next = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(support::plain_simulate(cases[next], weather));
    next = (next + 1) % cases.size();
  }
  state.SetItemsProcessed(state.iterations());
}

void lanes(benchmark::State& state, InstructionSet set, int width) {
  const std::vector<Case> cases = households(32);
  const Weather weather = weather_year().view();
  SimulationOptions options;
  options.instruction_set = set;
  options.lanes = width;
  for (auto _ : state) benchmark::DoNotOptimize(simulate(cases, weather, options));
  state.SetItemsProcessed(state.iterations() * static_cast<long>(cases.size()));
}

/// Best of several turns, seconds per household-year.
template <class Call>
double best_of(int turns, std::size_t households_each, Call&& call) {
  double best = 1e9;
  for (int i = 0; i < turns; ++i) {
    const double start = cpu_seconds();
    call();
    best = std::min(best, (cpu_seconds() - start) / static_cast<double>(households_each));
  }
  return best;
}

/// Additions, subtractions, multiplications and divisions of one lane in one step of the two-tank plan with 10 nodes,
/// on average over the year of these households, counted by hand in kernel.hpp: about 250 outside the loops over nodes
/// (two tanks 95, collector 50, draw 30, balance 35, sums 25, rest 15) and 18 a node (conduction and loss 8, pooling 8,
/// exchanger 2). Comparisons, selects, loads and stores are not counted.
constexpr double operations_a_step = 250 + 18 * 10;

#if defined(__x86_64__)
double peak_of_this_core() {
  return __builtin_cpu_supports("avx512f") ? peak_avx512() : __builtin_cpu_supports("avx2") ? peak_avx2() : 0;
}
#else
double peak_of_this_core() {
  return 0;
}
#endif

/// Bytes a second of one core over arrays far larger than its caches: a = b + factor c, 24 bytes a step.
double triad_of_this_core() {
  constexpr std::size_t count = 16'000'000;
  static std::vector<double> a(count), b(count, 1.5), c(count, 2.5);
  const double start = cpu_seconds();
  for (std::size_t i = 0; i < count; ++i) a[i] = b[i] + 0.999 * c[i];
  benchmark::DoNotOptimize(a.data());
  benchmark::ClobberMemory();
  return 24.0 * static_cast<double>(count) / (cpu_seconds() - start);
}

/// Bytes that a household-year takes from memory at least once where neighbours share nothing: irradiance and air of
/// 8760 hours, mains of 365 days, and what comes out.
constexpr double bytes_a_year = 8.0 * (8760 * 2 + 365) + sizeof(SimulatedYear);

/// Every row in turns, so that a change of the machine's speed meets all; all samples as JSON.
void write_json(const std::string& file, int rounds) {
  const std::vector<Case> cases = households(32);
  const Weather weather = weather_year().view();
  std::vector<std::pair<std::string, std::function<double()>>> rows;
  rows.emplace_back("plain reference", [&] {
    return best_of(1, cases.size(), [&] {
      for (const Case& c : cases) benchmark::DoNotOptimize(support::plain_simulate(c, weather));
    });
  });
  for (const InstructionSet set : available_instruction_sets()) {
    for (const int width : {1, 0}) {
      const std::string name = std::string(name_of(set)) + (width == 1 ? ", 1 lane" : ", default lanes");
      rows.emplace_back(name, [&, set, width] {
        SimulationOptions options;
        options.instruction_set = set;
        options.lanes = width;
        return best_of(1, cases.size(), [&] { benchmark::DoNotOptimize(simulate(cases, weather, options)); });
      });
    }
  }
  std::vector<std::vector<double>> samples(rows.size());
  std::vector<double> peaks, triads;
  (void)triad_of_this_core();  // the first touch of the arrays is not timed
  for (int round = 0; round < rounds; ++round) {
    for (std::size_t k = 0; k < rows.size(); ++k) samples[k].push_back(rows[k].second());
    peaks.push_back(peak_of_this_core());
    triads.push_back(triad_of_this_core());
  }
  std::ofstream out(file);
  out << fmt::format(
      "{{\"operations_a_year\": {}, \"bytes_a_year\": {}, \"peak_per_s\": [{}], \"triad_bytes_per_s\": [{}]",
      operations_a_step * (365 + 14) * 96, bytes_a_year, fmt::join(peaks, ", "), fmt::join(triads, ", "));
  for (std::size_t k = 0; k < rows.size(); ++k)
    out << fmt::format(", \"{}\": [{}]", rows[k].first, fmt::join(samples[k], ", "));
  out << "}\n";
}

void summary() {
  const std::vector<Case> cases = households(32);
  const Weather weather = weather_year().view();
  const double reference = best_of(4, cases.size(), [&] {
    for (const Case& c : cases) benchmark::DoNotOptimize(support::plain_simulate(c, weather));
  });
  std::printf("\nstep 15 min, 10 nodes, 14 days of warm-up, two tanks, best of several turns\n");
  std::printf("%-22s %12s %22s %10s\n", "", "ms a year", "household-years/s core", "ratio");
  std::printf("%-22s %12.3f %22.0f %10.2f\n", "plain reference", 1e3 * reference, 1 / reference, 1.0);
  double fastest = 1e9;
  for (const InstructionSet set : available_instruction_sets()) {
    for (const int width : {1, 0}) {
      SimulationOptions options;
      options.instruction_set = set;
      options.lanes = width;
      const double each =
          best_of(8, cases.size(), [&] { benchmark::DoNotOptimize(simulate(cases, weather, options)); });
      fastest = std::min(fastest, each);
      const std::string name = std::string(name_of(set)) + (width == 1 ? ", 1 lane" : ", default lanes");
      std::printf("%-22s %12.3f %22.0f %10.2f\n", name.c_str(), 1e3 * each, 1 / each, reference / each);
    }
  }
  const double peak = peak_of_this_core();
  if (peak > 0) {
    const double steps = (365 + 14) * 96;
    std::printf("multiply-add peak measured %.1f Gflop/s; the fastest row does about %.1f Gflop/s, %.0f %% of it\n",
                peak / 1e9, operations_a_step * steps / fastest / 1e9,
                100 * operations_a_step * steps / fastest / peak);
  }
}

}  // namespace

int main(int argc, char** argv) {
  std::string json;
  int rounds = 9;
  for (int k = 1; k < argc; ++k) {
    const std::string_view word(argv[k]);
    if (word.starts_with("--json=")) json = word.substr(7);
    if (word.starts_with("--rounds=")) rounds = std::max(1, std::atoi(argv[k] + 9));
  }
  if (!json.empty()) {
    write_json(json, rounds);
    return 0;
  }
  benchmark::RegisterBenchmark("plain reference", plain)->Unit(benchmark::kMillisecond);
  for (const InstructionSet set : available_instruction_sets()) {
    for (const int width : {1, 0}) {
      const std::string name = std::string(name_of(set)) + (width == 1 ? ", 1 lane" : ", default lanes");
      benchmark::RegisterBenchmark(name.c_str(), lanes, set, width)->Unit(benchmark::kMillisecond);
    }
  }
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 1;
  benchmark::RunSpecifiedBenchmarks();
  summary();
  return 0;
}
