#include "warmledger/screening/screening.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <exception>
#include <limits>
#include <map>
#include <mutex>
#include <numeric>
#include <span>
#include <thread>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/pool.hpp"
#include "warmledger/money/money.hpp"

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

/// What a household asks of each pool of the program, as last appraised.
struct Asks {
  std::vector<double> usd;  ///< by pool
  double income_share = 0;
  double first_year_saving_usd = 0;
};

/// The rows of a chunk, at `places` of the sheet; `closed_pools` have no money for them.
std::vector<Row> screen_chunk(const appraisal::Appraiser& appraiser, std::span<catalog::SheetRow> sheet,
                              std::span<const std::size_t> places, std::uint64_t closed_pools, const std::string& file,
                              hotwater::Detail detail, appraisal::Scratch& scratch) {
  std::vector<Row> rows(places.size());
  std::vector<const catalog::Household*> good;
  std::vector<std::size_t> place;
  for (std::size_t i = 0; i < places.size(); ++i) {
    catalog::SheetRow& in = sheet[places[i]];
    rows[i].household_id = in.household.id;
    rows[i].problems = std::move(in.problems);
    if (!rows[i].problems.empty()) continue;
    good.push_back(&in.household);
    place.push_back(i);
  }
  std::vector<appraisal::Attempt<double>> attempts =
      appraiser.appraise_many<double>(good, detail, scratch, closed_pools);
  for (std::size_t k = 0; k < attempts.size(); ++k) {
    Row& row = rows[place[k]];
    row.appraisal = std::move(attempts[k].appraisal);
    if (row.appraisal) continue;
    try {
      std::rethrow_exception(attempts[k].failure);
    } catch (const errors::Error& error) {
      row.problems.push_back(in_row(error, file, places[place[k]]));
    }
  }
  return rows;
}

/// What a row asks of the pools: what its incentives of each pay it. Nobody asks for a system that does not suit.
Asks asks_of(const appraisal::Appraiser& appraiser, const Row& row) {
  Asks asks;
  if (!row.appraisal) return asks;
  asks.usd.assign(appraiser.program().pools.size(), 0.0);
  asks.income_share = row.appraisal->income_share;
  asks.first_year_saving_usd = row.appraisal->measures.first_year_saving;
  if (row.appraisal->decision == appraisal::Decision::not_suitable) return asks;
  for (const incentives::Outcome& outcome : row.appraisal->incentives) {
    const std::size_t pool = appraiser.stack().pool_of(outcome.rule);
    if (pool != incentives::no_rule) asks.usd[pool] += outcome.amount_usd;
  }
  return asks;
}

std::size_t column_named(std::string_view name) {
  const std::span<const ResultColumn> columns = result_columns();
  return static_cast<std::size_t>(
      std::find_if(columns.begin(), columns.end(), [&](const ResultColumn& c) { return c.name == name; }) -
      columns.begin());
}

std::string funding_text(const incentives::Pool& pool, const incentives::Funding& funding, double asked,
                         std::size_t requests) {
  const std::string turn = fmt::format("place {} of {} by {}", funding.place, requests, name_of(pool.order));
  if (funding.funded) return fmt::format("{}: funded {} ({})", pool.id, money::dollars(asked), turn);
  return fmt::format("{}: wait-listed, {} asked and {} left ({}{}); appraised without it", pool.id,
                     money::dollars(asked), money::dollars(funding.left_before_usd), turn,
                     asked <= funding.left_before_usd ? "; a household before it waits" : "");
}

}  // namespace

std::vector<Values> empty_columns(std::size_t rows) {
  const std::span<const ResultColumn> columns = result_columns();
  std::vector<Values> values(columns.size());
  for (std::size_t c = 0; c < columns.size(); ++c) {
    if (columns[c].kind == ColumnKind::text) {
      values[c].texts.resize(rows);
    } else {
      values[c].numbers.resize(rows, std::numeric_limits<double>::quiet_NaN());
    }
  }
  return values;
}

void enter(const appraisal::Appraiser& appraiser, const Row& row, std::size_t place, std::span<Values> columns) {
  const std::span<const ResultColumn> kinds = result_columns();
  for (std::size_t c = 0; c < kinds.size(); ++c) {
    if (kinds[c].kind == ColumnKind::text) {
      columns[c].texts[place] = kinds[c].text(appraiser, row);
    } else {
      columns[c].numbers[place] = kinds[c].number(appraiser, row).value_or(std::numeric_limits<double>::quiet_NaN());
    }
  }
}

Screened screen(const appraisal::Appraiser& appraiser, std::vector<catalog::SheetRow> rows, const std::string& file,
                const Options& options) {
  Screened result;
  result.columns = empty_columns(rows.size());
  std::vector<std::vector<errors::Problem>> problems(rows.size());
  const std::vector<incentives::Pool>& pools = appraiser.program().pools;
  std::vector<Asks> asks(pools.empty() ? 0 : rows.size());
  const auto keep = [&](std::size_t i, Row& row) {
    enter(appraiser, row, i, result.columns);
    if (!pools.empty()) asks[i] = asks_of(appraiser, row);
    problems[i] = std::move(row.problems);
  };

  // Appraises the rows at `places`; false if progress asked to stop.
  const auto run = [&](std::span<const std::size_t> places, std::uint64_t closed_pools,
                       const std::function<bool(std::size_t)>& progress) {
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
          if (first >= places.size()) break;
          const auto of_chunk = places.subspan(first, std::min(chunk_rows, places.size() - first));
          std::vector<Row> chunk = screen_chunk(appraiser, rows, of_chunk, closed_pools, file, options.detail, scratch);
          for (std::size_t k = 0; k < chunk.size(); ++k) keep(of_chunk[k], chunk[k]);
          done += chunk.size();
          changed.notify_one();
        }
      } catch (...) {
        const std::lock_guard lock(mutex);
        if (!failure) failure = std::current_exception();
        stop = true;
        changed.notify_one();
      }
    };
    const std::size_t chunks = (places.size() + chunk_rows - 1) / chunk_rows;
    const unsigned wanted = options.threads != 0 ? options.threads : std::max(1U, std::thread::hardware_concurrency());
    {
      std::vector<std::jthread> threads;
      for (unsigned t = 0; t < std::min<std::size_t>(wanted, chunks); ++t) threads.emplace_back(work);
      // The calling thread only watches, so that progress may touch what belongs to it (an interpreter, a terminal).
      while (done < places.size() && !stop) {
        std::unique_lock lock(mutex);
        changed.wait_for(lock, std::chrono::milliseconds(50));
        lock.unlock();
        if (progress && !progress(done)) stop = true;
      }
    }
    if (failure) std::rethrow_exception(failure);
    return done == places.size();
  };

  std::vector<std::size_t> all(rows.size());
  std::iota(all.begin(), all.end(), 0);
  bool whole = run(all, 0, options.progress);
  if (whole && options.progress) options.progress(rows.size());

  // Each pool in turn: those who get nothing of it are appraised again without it before the next pool is spent.
  std::vector<std::uint64_t> closed(pools.empty() ? 0 : rows.size(), 0);
  std::vector<std::string> notes(closed.size());
  const std::function<bool(std::size_t)> still = [&](std::size_t) {
    return !options.progress || options.progress(rows.size());
  };
  for (std::size_t p = 0; p < pools.size() && whole; ++p) {
    std::vector<incentives::Request> requests;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (!asks[i].usd.empty() && asks[i].usd[p] >= 0.01)
        requests.push_back({i, asks[i].usd[p], asks[i].income_share, asks[i].first_year_saving_usd});
    }
    const std::vector<incentives::Funding> funding = incentives::fund(pools[p], requests);
    std::map<std::uint64_t, std::vector<std::size_t>> again;  // by the pools that are closed to them
    for (std::size_t k = 0; k < requests.size(); ++k) {
      const std::size_t i = requests[k].row;
      if (!notes[i].empty()) notes[i] += "; ";
      notes[i] += funding_text(pools[p], funding[k], requests[k].usd, requests.size());
      if (funding[k].funded) continue;
      closed[i] |= std::uint64_t{1} << p;
      again[closed[i]].push_back(i);
    }
    for (const auto& [mask, places] : again) whole = whole && run(places, mask, still);
  }
  if (!whole) {
    Screened stopped;
    stopped.stopped = true;
    return stopped;
  }
  if (!pools.empty()) {
    Values& funded = result.columns[column_named("pool_funding")];
    Values& waits = result.columns[column_named("wait_listed")];
    for (std::size_t i = 0; i < rows.size(); ++i) {
      funded.texts[i] = std::move(notes[i]);
      waits.numbers[i] = closed[i] != 0 ? 1 : 0;
    }
  }
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
