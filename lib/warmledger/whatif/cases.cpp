#include "warmledger/whatif/cases.hpp"

#include <array>
#include <iterator>
#include <memory>
#include <mutex>
#include <utility>

#include "warmledger/whatif/workers.hpp"

namespace warmledger::whatif {

namespace {

constexpr std::size_t chunk_cases = 16;

errors::Problem of_case(const errors::Error& error, const std::string& file, std::size_t index) {
  errors::Problem problem = error.located(file);
  problem.where.row = static_cast<long>(index) + 1;
  return problem;
}

struct Local {
  appraisal::Scratch scratch;
  incentives::Work work;
  screening::TextStore* texts = nullptr;  ///< owned by the answers
};

}  // namespace

Answers appraise_cases(std::span<const Case> cases, hotwater::Detail detail, unsigned threads,
                       const std::string& file) {
  // Two stores, because the hours of the day are kept only where a price changes with the hour.
  std::array<appraisal::EnergyStore, 2> stores{appraisal::EnergyStore(detail, false),
                                               appraisal::EnergyStore(detail, true)};
  std::vector<appraisal::Prepared> prepared(cases.size());
  for_chunks<Local>(cases.size(), chunk_cases, threads, [&](std::size_t first, std::size_t last, Local& local) {
    for (std::size_t i = first; i < last; ++i) {
      if (cases[i].row.problems.empty())
        prepared[i] = cases[i].appraiser->prepare(cases[i].row.household, local.scratch);
    }
  });
  const auto store_of = [&](const Case& one) -> appraisal::EnergyStore& {
    return stores.at(one.appraiser->wants_hours_of_day() ? 1 : 0);
  };
  std::vector<std::vector<std::size_t>> places(cases.size());
  for (std::size_t i = 0; i < cases.size(); ++i) {
    for (const appraisal::Job& job : prepared[i].jobs) places[i].push_back(store_of(cases[i]).add(job));
  }
  for (appraisal::EnergyStore& store : stores) store.work_out(threads);

  Answers answers;
  answers.columns = screening::empty_columns(cases.size());
  std::vector<std::vector<errors::Problem>> problems(cases.size());
  std::mutex mutex;
  for_chunks<Local>(cases.size(), chunk_cases, threads, [&](std::size_t first, std::size_t last, Local& local) {
    if (local.texts == nullptr) {
      const std::lock_guard lock(mutex);
      answers.texts.push_back(std::make_unique<screening::TextStore>(answers.columns.size()));
      local.texts = answers.texts.back().get();
    }
    for (std::size_t i = first; i < last; ++i) {
      const Case& one = cases[i];
      appraisal::Attempt<double> attempt;
      screening::Row row;
      row.household_id = one.row.household.id;
      row.problems = one.row.problems;
      if (row.problems.empty()) {
        std::vector<appraisal::Energy> energies;
        for (const std::size_t place : places[i]) energies.push_back(store_of(one)[place]);
        attempt =
            one.appraiser->conclude<double>(one.row.household, std::move(prepared[i]), std::move(energies), local.work);
        if (attempt.appraisal) {
          row.appraisal = &*attempt.appraisal;
        } else {
          try {
            std::rethrow_exception(attempt.failure);
          } catch (const errors::Error& error) {
            row.problems.push_back(of_case(error, file, i));
          }
        }
      }
      screening::enter(*one.appraiser, std::span(&row, 1), std::span(&i, 1), answers.columns, *local.texts);
      problems[i] = std::move(row.problems);
    }
  });
  for (std::vector<errors::Problem>& of_row : problems) {
    if (!of_row.empty()) ++answers.bad_rows;
    std::move(of_row.begin(), of_row.end(), std::back_inserter(answers.problems));
  }
  for (const appraisal::EnergyStore& store : stores) {
    answers.simulations += store.simulations();
    answers.irradiances += store.irradiances();
  }
  return answers;
}

}  // namespace warmledger::whatif
