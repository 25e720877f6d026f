// Real typical years for tests, where the environment variable WARMLEDGER_WEATHER names a folder of TMY3 files
// (NNNNNN.csv or NNNNNN.csv.gz): National Solar Radiation Data Base 1991-2005 update, NREL for the US Department of
// Energy.
#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "warmledger/climate/hourly.hpp"

namespace support {

inline const char* weather_folder() {
  return std::getenv("WARMLEDGER_WEATHER");
}

inline std::vector<warmledger::climate::HourlyYear> typical_years() {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(weather_folder())) {
    const std::string name = entry.path().filename().string();
    if (name.size() == 13 && name.ends_with(".csv.gz")) files.push_back(entry.path());
    if (name.size() == 10 && name.ends_with(".csv")) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  std::vector<warmledger::climate::HourlyYear> years;
  for (const auto& file : files) {
    if (file.extension() != ".gz") {
      years.push_back(warmledger::climate::read_hourly(file));
      continue;
    }
    const auto plain =
        std::filesystem::temp_directory_path() / fmt::format("warmledger-{}-{}", std::rand(), file.stem().string());
    REQUIRE(std::system(fmt::format("zcat '{}' > '{}'", file.string(), plain.string()).c_str()) == 0);
    years.push_back(warmledger::climate::read_hourly(plain));
    std::filesystem::remove(plain);
  }
  return years;
}

}  // namespace support
