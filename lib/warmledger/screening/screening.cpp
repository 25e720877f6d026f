#include "warmledger/screening/screening.hpp"

#include <algorithm>
#include <cstdint>
#include <exception>
#include <functional>
#include <limits>
#include <map>
#include <numeric>
#include <span>
#include <tuple>
#include <utility>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"
#include "warmledger/incentives/pool.hpp"
#include "warmledger/money/money.hpp"
#include "warmledger/screening/crew.hpp"

namespace warmledger::screening {

namespace {

/// Rows a thread takes at a time: enough of one place to fill the lanes of the simulation and to share weather, few
/// enough to balance.
constexpr std::size_t most_chunk_rows = 128;
constexpr std::size_t least_chunk_rows = 16;

/// What an error says, for a row of the sheet, from 1.
errors::Problem in_row(const errors::Error& error, const std::string& file, long row) {
  errors::Problem problem = error.located(file);
  problem.where.row = row;
  return problem;
}

/// What a household asks of each pool of the program, as last appraised.
struct Asks {
  std::vector<double> usd;  ///< by pool
  double income_share = 0;
  double first_year_saving_usd = 0;
};

/// Rows of a sheet, appraised.
struct Chunk {
  std::vector<Row> rows;
  std::vector<appraisal::Attempt<double>> attempts;  ///< what rows look into
};

/// The rows at `places` of `sheet`; `closed_pools` have no money for them.
Chunk screen_chunk(const appraisal::Appraiser& appraiser, std::span<catalog::SheetRow> sheet,
                   std::span<const std::size_t> places, std::uint64_t closed_pools, const std::string& file,
                   long first_row, hotwater::Detail detail, appraisal::Scratch& scratch) {
  Chunk chunk;
  chunk.rows.resize(places.size());
  std::vector<const catalog::Household*> good;
  std::vector<std::size_t> place;
  for (std::size_t i = 0; i < places.size(); ++i) {
    catalog::SheetRow& in = sheet[places[i]];
    chunk.rows[i].household_id = in.household.id;
    chunk.rows[i].problems = std::move(in.problems);
    if (!chunk.rows[i].problems.empty()) continue;
    good.push_back(&in.household);
    place.push_back(i);
  }
  chunk.attempts = appraiser.appraise_many<double>(good, detail, scratch, closed_pools);
  for (std::size_t k = 0; k < place.size(); ++k) {
    Row& row = chunk.rows[place[k]];
    if (chunk.attempts[k].appraisal) {
      row.appraisal = &*chunk.attempts[k].appraisal;
      continue;
    }
    try {
      std::rethrow_exception(chunk.attempts[k].failure);
    } catch (const errors::Error& error) {
      row.problems.push_back(in_row(error, file, first_row + static_cast<long>(places[place[k]])));
    }
  }
  return chunk;
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

/// What households share while they are simulated: the weather of a place on a roof.
struct Shared {
  const climate::Climate* climate = nullptr;
  double tilt_deg = 0;
  double azimuth_deg = 0;
};

}  // namespace

struct Screener::Impl {
  std::shared_ptr<const appraisal::Appraiser> appraiser;
  std::string file;
  Options options;
  unsigned threads = 1;
  std::vector<appraisal::Scratch> scratch;  ///< one a thread

  [[nodiscard]] std::vector<std::size_t> grouped(std::span<const catalog::SheetRow> rows);
};

Screener::Screener(std::shared_ptr<const appraisal::Appraiser> appraiser, std::string file, Options options)
    : impl_(std::make_unique<Impl>()) {
  impl_->appraiser = std::move(appraiser);
  impl_->file = std::move(file);
  impl_->options = std::move(options);
  impl_->threads = thread_count(impl_->options.threads);
  impl_->scratch.resize(impl_->threads);
}
Screener::Screener(Screener&&) noexcept = default;
Screener& Screener::operator=(Screener&&) noexcept = default;
Screener::~Screener() = default;

const appraisal::Appraiser& Screener::appraiser() const noexcept {
  return *impl_->appraiser;
}
const Options& Screener::options() const noexcept {
  return impl_->options;
}
const std::string& Screener::file() const noexcept {
  return impl_->file;
}

/// Places of the rows, those side by side that share weather.
std::vector<std::size_t> Screener::Impl::grouped(std::span<const catalog::SheetRow> rows) {
  std::vector<Shared> shared(rows.size());
  share_out(rows.size(), 1024, threads, {}, [&](std::size_t thread, std::size_t first, std::size_t last) {
    for (std::size_t i = first; i < last; ++i) {
      if (!rows[i].problems.empty()) continue;
      const catalog::Household& household = rows[i].household;
      shared[i] = {appraiser->climate_of(household, scratch[thread]), household.roof_tilt_deg,
                   household.roof_azimuth_deg};
    }
  });
  std::vector<std::size_t> order(rows.size());
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    const std::less<> before;  // a whole order, also of pointers
    const Shared& x = shared[a];
    const Shared& y = shared[b];
    if (x.climate != y.climate) return before(x.climate, y.climate);
    return std::tuple(x.tilt_deg, x.azimuth_deg, a) < std::tuple(y.tilt_deg, y.azimuth_deg, b);
  });
  return order;
}

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

void enter(const appraisal::Appraiser& appraiser, std::span<const Row> rows, std::span<const std::size_t> places,
           std::span<Values> columns, TextStore& texts) {
  const std::span<const ResultColumn> kinds = result_columns();
  std::string text;
  // Column by column: what is written next lies near what was written before.
  for (std::size_t c = 0; c < kinds.size(); ++c) {
    for (std::size_t k = 0; k < rows.size(); ++k) {
      if (kinds[c].kind == ColumnKind::text) {
        text.clear();
        kinds[c].text(appraiser, rows[k], text);
        columns[c].texts[places[k]] = texts.keep(c, text);
      } else {
        columns[c].numbers[places[k]] =
            kinds[c].number(appraiser, rows[k]).value_or(std::numeric_limits<double>::quiet_NaN());
      }
    }
  }
}

Screened screen(const appraisal::Appraiser& appraiser, std::vector<catalog::SheetRow> rows, const std::string& file,
                const Options& options) {
  // The caller's appraiser outlives the call.
  return Screener({std::shared_ptr<void>(), &appraiser}, file, options).screen(std::move(rows));
}

Screened Screener::screen(std::vector<catalog::SheetRow> rows, long first_row) {
  const appraisal::Appraiser& appraiser = *impl_->appraiser;
  const Options& options = impl_->options;
  Screened result;
  result.columns = empty_columns(rows.size());
  for (unsigned t = 0; t < impl_->threads; ++t)
    result.texts.push_back(std::make_unique<TextStore>(result.columns.size()));
  std::vector<std::vector<errors::Problem>> problems(rows.size());
  const std::vector<incentives::Pool>& pools = appraiser.program().pools;
  std::vector<Asks> asks(pools.empty() ? 0 : rows.size());

  // Appraises the rows at `places`; false if progress asked to stop.
  const auto run = [&](std::span<const std::size_t> places, std::uint64_t closed_pools,
                       const std::function<bool(std::size_t)>& progress) {
    const std::size_t chunk =
        std::clamp(places.size() / (std::size_t{8} * impl_->threads), least_chunk_rows, most_chunk_rows);
    return share_out(places.size(), chunk, impl_->threads, progress,
                     [&](std::size_t thread, std::size_t first, std::size_t last) {
                       const auto of_chunk = places.subspan(first, last - first);
                       Chunk done = screen_chunk(appraiser, rows, of_chunk, closed_pools, impl_->file, first_row,
                                                 options.detail, impl_->scratch[thread]);
                       enter(appraiser, done.rows, of_chunk, result.columns, *result.texts[thread]);
                       for (std::size_t k = 0; k < of_chunk.size(); ++k) {
                         if (!pools.empty()) asks[of_chunk[k]] = asks_of(appraiser, done.rows[k]);
                         problems[of_chunk[k]] = std::move(done.rows[k].problems);
                         if (pools.empty()) rows[of_chunk[k]] = {};  // freed by many threads, not by the caller alone
                       }
                     });
  };

  bool whole = run(impl_->grouped(rows), 0, options.progress);
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
    const std::size_t funding = column_named("pool_funding");
    Values& funded = result.columns[funding];
    Values& waits = result.columns[column_named("wait_listed")];
    for (std::size_t i = 0; i < rows.size(); ++i) {
      funded.texts[i] = result.texts.front()->keep(funding, notes[i]);
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
      problems.push_back(in_row(error, file, static_cast<long>(i) + 1));
    }
  }
  return problems;
}

}  // namespace warmledger::screening
