#include "warmledger/screening/crew.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace warmledger::screening {

unsigned thread_count(unsigned wanted) {
  return wanted != 0 ? wanted : std::max(1U, std::thread::hardware_concurrency());
}

bool share_out(std::size_t count, std::size_t chunk, unsigned threads, const std::function<bool(std::size_t)>& progress,
               const std::function<void(std::size_t, std::size_t, std::size_t)>& work) {
  std::atomic<std::size_t> next{0};
  std::atomic<std::size_t> done{0};
  std::atomic<bool> stop{false};
  std::mutex mutex;
  std::condition_variable changed;
  std::exception_ptr failure;
  const auto turn = [&](std::size_t thread) {
    try {
      while (!stop) {
        const std::size_t first = next.fetch_add(chunk);
        if (first >= count) break;
        const std::size_t last = std::min(first + chunk, count);
        work(thread, first, last);
        done += last - first;
        if (done == count) {
          const std::lock_guard lock(mutex);  // so that the watcher does not fall asleep in between
          changed.notify_one();
        }
      }
    } catch (...) {
      const std::lock_guard lock(mutex);
      if (!failure) failure = std::current_exception();
      stop = true;
      changed.notify_one();
    }
  };
  {
    std::vector<std::jthread> crew;
    const std::size_t chunks = (count + chunk - 1) / chunk;
    for (std::size_t t = 0; t < std::min<std::size_t>(threads, chunks); ++t) crew.emplace_back(turn, t);
    // The calling thread only watches, so that progress may touch what belongs to it (an interpreter, a terminal).
    while (done < count && !stop) {
      {
        std::unique_lock lock(mutex);
        changed.wait_for(lock, std::chrono::milliseconds(50), [&] { return done == count || stop; });
      }
      if (progress && !progress(done)) stop = true;
    }
  }
  if (failure) std::rethrow_exception(failure);
  return done == count;
}

}  // namespace warmledger::screening
