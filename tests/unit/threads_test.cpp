// What several threads do at once, which is also all that the thread sanitizer runs: the same results as one after
// the other. DOCTEST's checks are made on the main thread only.
#include <doctest/doctest.h>

#include <cstring>
#include <filesystem>
#include <functional>
#include <string>
#include <thread>
#include <vector>

#include "warmledger/appraisal/appraisal.hpp"
#include "warmledger/errors/errors.hpp"
#include "warmledger/ledger/offers.hpp"
#include "warmledger/screening/screening.hpp"

using namespace warmledger;
using appraisal::Appraiser;

namespace {

using Data = std::shared_ptr<const catalog::Catalog>;

std::filesystem::path demo(const char* name) {
  return std::filesystem::path(WARMLEDGER_DATA_DIR) / "demo" / name;
}

Data read_data() {
  return std::make_shared<const catalog::Catalog>(catalog::read_catalog(WARMLEDGER_DATA_DIR));
}

/// The invented county's program, with a pool that runs out, so that screening appraises some rows twice.
std::shared_ptr<Appraiser> appraiser(const Data& data) {
  catalog::Program program = catalog::read_program(demo("program.toml"), *data);
  incentives::Pool pool;
  pool.id = "little";
  pool.title = "a little money";
  pool.usd = 10'000;
  program.pools = {pool};
  incentives::Rule rebate;
  rebate.id = "of-the-pool";
  rebate.title = "rebate of the pool";
  rebate.amount = 400;
  rebate.pool = pool.id;
  program.rules.push_back(rebate);
  return std::make_shared<Appraiser>(std::make_shared<catalog::Program>(std::move(program)), data);
}

/// Invented households at places of the program; every ninth names a place that is none.
std::vector<catalog::Household> households(const Appraiser& shared, std::size_t count) {
  std::vector<catalog::Household> list(count);
  const auto& places = shared.program().places;
  for (std::size_t k = 0; k < count; ++k) {
    list[k].id = "h" + std::to_string(k);
    list[k].place = k % 9 == 8 ? "Nowhere at all" : places[k % places.size()].name;
    list[k].occupants = 1 + static_cast<int>(k % 6);
    list[k].yearly_income_usd = 20'000 + 1'500 * static_cast<double>(k % 30);
    list[k].heater_fuel = prices::all_fuels[k % 4];
  }
  return list;
}

/// Runs `work(0)` to `work(count - 1)` at once, each on a thread of its own.
void at_once(int count, const std::function<void(int)>& work) {
  std::vector<std::jthread> threads;
  for (int t = 0; t < count; ++t) threads.emplace_back([&work, t] { work(t); });
}

/// The figures of an appraisal that everything before them enters, or the sentence that says why there is none.
template <class N>
std::string told(const Appraiser& shared, const catalog::Household& home, hotwater::Detail detail,
                 appraisal::Scratch& scratch) {
  try {
    const auto a = shared.appraise<N>(home, detail, scratch);
    std::string text = shared.reason(a);
    for (const N& figure : {a.measures.net_savings, a.measures.life_cycle_cost_with, a.measures.first_year_saving})
      text += " " + std::to_string(money::to_double(figure));
    for (const std::string& line : ledger::reasons(a.plan, a.ledger)) text += line;
    return text;
  } catch (const errors::Error& error) {
    return error.what();
  }
}

bool same(const screening::Screened& a, const screening::Screened& b) {
  if (a.bad_rows != b.bad_rows || a.problems.size() != b.problems.size()) return false;
  for (std::size_t i = 0; i < a.problems.size(); ++i)
    if (errors::sentence(a.problems[i]) != errors::sentence(b.problems[i])) return false;
  for (std::size_t c = 0; c < a.columns.size(); ++c) {
    const auto& left = a.columns[c].numbers;
    const auto& right = b.columns[c].numbers;
    if (a.columns[c].texts != b.columns[c].texts || left.size() != right.size()) return false;
    if (!left.empty() && std::memcmp(left.data(), right.data(), left.size() * sizeof(double)) != 0) return false;
  }
  return true;
}

std::vector<catalog::SheetRow> sheet(const std::vector<catalog::Household>& homes) {
  std::vector<catalog::SheetRow> rows(homes.size());
  for (std::size_t k = 0; k < homes.size(); ++k) rows[k].household = homes[k];
  return rows;
}

}  // namespace

TEST_CASE("threads that share appraisers, in both number types, get what one gets alone") {
  const Data data = read_data();
  const std::vector<std::shared_ptr<Appraiser>> shared{appraiser(data), appraiser(data)};
  const std::vector<catalog::Household> homes = households(*shared[0], 20);
  const auto all = [&](int turn) {
    std::vector<std::string> texts;
    appraisal::Scratch scratch;
    for (std::size_t k = 0; k < homes.size(); ++k) {
      const Appraiser& one = *shared[(k + static_cast<std::size_t>(turn)) % shared.size()];
      texts.push_back(told<double>(one, homes[k], hotwater::Detail::monthly, scratch));
      if (k % 5 == 0) texts.push_back(told<money::Decimal>(one, homes[k], hotwater::Detail::monthly, scratch));
      if (k % 10 == 0) texts.push_back(told<double>(one, homes[k], hotwater::Detail::hourly, scratch));
    }
    return texts;
  };
  const std::vector<std::string> alone = all(0);
  std::vector<std::vector<std::string>> found(4);
  at_once(4, [&](int t) { found[static_cast<std::size_t>(t)] = all(t); });
  for (const auto& texts : found) CHECK(texts == alone);
}

TEST_CASE("screenings at once, each on threads of its own, with a pool that runs out") {
  const Data data = read_data();
  const std::shared_ptr<Appraiser> shared = appraiser(data);
  struct Job {
    hotwater::Detail detail;
    std::size_t rows;
  };
  const Job jobs[2] = {{hotwater::Detail::monthly, 300}, {hotwater::Detail::hourly, 80}};
  const auto run = [&](const Job& job, unsigned threads) {
    screening::Options options;
    options.detail = job.detail;
    options.threads = threads;
    std::size_t calls = 0;
    options.progress = [&](std::size_t) { return ++calls > 0; };
    return screening::screen(*shared, sheet(households(*shared, job.rows)), "s.csv", options);
  };
  const screening::Screened alone[2] = {run(jobs[0], 1), run(jobs[1], 1)};
  CHECK(alone[0].bad_rows == 33);
  screening::Screened found[4];
  at_once(4, [&](int t) { found[t] = run(jobs[t % 2], 2 + static_cast<unsigned>(t % 2)); });
  for (int t = 0; t < 4; ++t) CHECK(same(found[t], alone[t % 2]));
}

TEST_CASE("a screening that is stopped while its threads work") {
  const Data data = read_data();
  const std::shared_ptr<Appraiser> shared = appraiser(data);
  const std::vector<catalog::Household> homes = households(*shared, 3000);
  at_once(2, [&](int) {
    screening::Options options;
    options.detail = hotwater::Detail::monthly;
    options.threads = 3;
    options.progress = [](std::size_t) { return false; };
    const bool stopped = screening::screen(*shared, sheet(homes), "s.csv", options).stopped;
    if (!stopped) std::abort();
  });
}

TEST_CASE("offers side by side on threads, and the first bad row whatever the threads") {
  std::vector<ledger::Offer> offers(4000);
  for (std::size_t k = 0; k < offers.size(); ++k) {
    ledger::Offer& o = offers[k];
    o.installed_cost_usd = 3000 + static_cast<double>(k);
    o.bills_without_usd.fill(40);
    o.bills_with_usd.fill(10 + static_cast<double>(k % 20));
    o.nominal_discount_rate = 0.05;
    o.system_life_years = 20;
  }
  const ledger::OfferTable alone = ledger::measures_of(offers, 20, 1);
  ledger::OfferTable found[3];
  at_once(3, [&](int t) { found[t] = ledger::measures_of(offers, 20, 3); });
  for (const ledger::OfferTable& table : found) {
    CHECK(table.why_none == alone.why_none);
    for (std::size_t c = 0; c < alone.columns.size(); ++c)
      CHECK(std::memcmp(table.columns[c].data(), alone.columns[c].data(), offers.size() * sizeof(double)) == 0);
  }
  for (const std::size_t bad : {3900U, 2100U, 700U}) offers[bad].installed_cost_usd = -1;
  std::string said[3];
  at_once(3, [&](int t) {
    try {
      static_cast<void>(ledger::measures_of(offers, 20, 4));
    } catch (const errors::ValueOutOfRange& error) {
      said[t] = error.what();
    }
  });
  for (const std::string& sentence : said) CHECK(sentence.find("row 701") != std::string::npos);
}

TEST_CASE("catalogues, programs and sheets read at once") {
  std::vector<std::string> titles(4), problems(4);
  at_once(4, [&](int t) {
    const Data data = read_data();
    titles[static_cast<std::size_t>(t)] = catalog::read_program(demo("program.toml"), *data).title;
    catalog::SheetReader reader({"household_id", "place", "occupants", "yearly_income_usd", "heater_fuel"}, "s.csv");
    const std::vector<std::string_view> cells{"a", "Quillmere", "-3", "1", "coal"};
    for (const errors::Problem& problem : reader.read(1, cells).problems)
      problems[static_cast<std::size_t>(t)] += errors::sentence(problem) + "\n";
  });
  CHECK(!titles[0].empty());
  CHECK(problems[0].find("occupants") != std::string::npos);
  for (std::size_t t = 1; t < 4; ++t) {
    CHECK(titles[t] == titles[0]);
    CHECK(problems[t] == problems[0]);
  }
}
