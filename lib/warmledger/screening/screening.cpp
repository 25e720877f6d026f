#include "warmledger/screening/screening.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <exception>
#include <limits>
#include <mutex>
#include <span>
#include <thread>

#include "warmledger/errors/errors.hpp"

namespace warmledger::screening {

namespace {

/// Rows a thread takes at a time: large enough that the shared counter is rarely touched, small enough to balance.
constexpr std::size_t chunk_rows = 64;

/// What an error says, for the row at `index` of the sheet.
errors::Problem in_row(const errors::Error& error, const std::string& file, std::size_t index) {
  errors::Problem problem = error.located(file);
  problem.where.row = static_cast<long>(index) + 1;
  return problem;
}

/// The rows of a chunk; `first` is the index of its first row in the sheet.
std::vector<Row> screen_chunk(const appraisal::Appraiser& appraiser, std::span<catalog::SheetRow> in, std::size_t first,
                              const std::string& file, hotwater::Detail detail, appraisal::Scratch& scratch) {
  std::vector<Row> rows(in.size());
  std::vector<const catalog::Household*> good;
  std::vector<std::size_t> place;
  for (std::size_t i = 0; i < in.size(); ++i) {
    rows[i].household_id = in[i].household.id;
    rows[i].problems = std::move(in[i].problems);
    if (!rows[i].problems.empty()) continue;
    good.push_back(&in[i].household);
    place.push_back(i);
  }
  std::vector<appraisal::Attempt<double>> attempts = appraiser.appraise_many<double>(good, detail, scratch);
  for (std::size_t k = 0; k < attempts.size(); ++k) {
    Row& row = rows[place[k]];
    row.appraisal = std::move(attempts[k].appraisal);
    if (row.appraisal) continue;
    try {
      std::rethrow_exception(attempts[k].failure);
    } catch (const errors::Error& error) {
      row.problems.push_back(in_row(error, file, first + place[k]));
    }
  }
  return rows;
}

}  // namespace

Screened screen(const appraisal::Appraiser& appraiser, std::vector<catalog::SheetRow> rows, const std::string& file,
                const Options& options) {
  const std::span<const ResultColumn> columns = result_columns();
  Screened result;
  result.columns.resize(columns.size());
  for (std::size_t c = 0; c < columns.size(); ++c) {
    if (columns[c].kind == ColumnKind::text) {
      result.columns[c].texts.resize(rows.size());
    } else {
      result.columns[c].numbers.resize(rows.size(), std::numeric_limits<double>::quiet_NaN());
    }
  }
  std::vector<std::vector<errors::Problem>> problems(rows.size());
  std::atomic<std::size_t> next{0};
  std::atomic<std::size_t> done{0};
  std::atomic<bool> stop{false};
  std::mutex mutex;
  std::condition_variable changed;
  std::exception_ptr failure;

  const auto work = [&] {
    appraisal::Scratch scratch;
    try {
      while (!stop) {
        const std::size_t first = next.fetch_add(chunk_rows);
        if (first >= rows.size()) break;
        const std::size_t last = std::min(first + chunk_rows, rows.size());
        std::vector<Row> chunk =
            screen_chunk(appraiser, std::span(rows).subspan(first, last - first), first, file, options.detail, scratch);
        for (std::size_t i = first; i < last; ++i) {
          Row& row = chunk[i - first];
          for (std::size_t c = 0; c < columns.size(); ++c) {
            if (columns[c].kind == ColumnKind::text) {
              result.columns[c].texts[i] = columns[c].text(appraiser, row);
            } else if (const std::optional<double> value = columns[c].number(appraiser, row)) {
              result.columns[c].numbers[i] = *value;
            }
          }
          problems[i] = std::move(row.problems);
        }
        done += last - first;
        changed.notify_one();
      }
    } catch (...) {
      const std::lock_guard lock(mutex);
      if (!failure) failure = std::current_exception();
      stop = true;
      changed.notify_one();
    }
  };

  const std::size_t chunks = (rows.size() + chunk_rows - 1) / chunk_rows;
  const unsigned wanted = options.threads != 0 ? options.threads : std::max(1U, std::thread::hardware_concurrency());
  {
    std::vector<std::jthread> threads;
    for (unsigned t = 0; t < std::min<std::size_t>(wanted, chunks); ++t) threads.emplace_back(work);
    // The calling thread only watches, so that progress may touch what belongs to it (an interpreter, a terminal).
    while (done < rows.size() && !stop) {
      std::unique_lock lock(mutex);
      changed.wait_for(lock, std::chrono::milliseconds(50));
      lock.unlock();
      if (options.progress && !options.progress(done)) stop = true;
    }
  }
  if (failure) std::rethrow_exception(failure);
  if (done < rows.size()) {
    Screened stopped;
    stopped.stopped = true;
    return stopped;
  }
  if (options.progress) options.progress(done);
  for (std::vector<errors::Problem>& of_row : problems) {
    if (!of_row.empty()) ++result.bad_rows;
    std::move(of_row.begin(), of_row.end(), std::back_inserter(result.problems));
  }
  return result;
}

std::vector<errors::Problem> check(const appraisal::Appraiser& appraiser, std::span<const catalog::SheetRow> rows,
                                   const std::string& file) {
  std::vector<errors::Problem> problems;
  appraisal::Scratch scratch;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (!rows[i].problems.empty()) {
      problems.insert(problems.end(), rows[i].problems.begin(), rows[i].problems.end());
      continue;
    }
    try {
      appraiser.check(rows[i].household, scratch);
    } catch (const errors::Error& error) {
      problems.push_back(in_row(error, file, i));
    }
  }
  return problems;
}

}  // namespace warmledger::screening
