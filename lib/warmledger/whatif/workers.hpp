// Workers: a loop over chunks on threads. Inside this room only.
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace warmledger::whatif {

/// Calls work(first, last, local) for chunks of 0 ... count - 1, on up to `threads` threads (0: one for each core),
/// each with a Local of its own. Chunks are dealt out as threads come free, so the results must not depend on who works
/// them out. The first exception ends the loop and is thrown again.
template <class Local, class Work>
void for_chunks(std::size_t count, std::size_t chunk, unsigned threads, const Work& work) {
  std::atomic<std::size_t> next{0};
  std::atomic<bool> stop{false};
  std::mutex mutex;
  std::exception_ptr failure;
  const auto loop = [&] {
    try {
      Local local;
      while (!stop) {
        const std::size_t first = next.fetch_add(chunk);
        if (first >= count) break;
        work(first, std::min(first + chunk, count), local);
      }
    } catch (...) {
      const std::lock_guard lock(mutex);
      if (!failure) failure = std::current_exception();
      stop = true;
    }
  };
  {
    const std::size_t most = threads != 0 ? threads : std::max(1U, std::thread::hardware_concurrency());
    std::vector<std::jthread> others;
    for (std::size_t t = 1; t < std::min(most, (count + chunk - 1) / chunk); ++t) others.emplace_back(loop);
    loop();
  }
  if (failure) std::rethrow_exception(failure);
}

}  // namespace warmledger::whatif
