// Crew: work on many rows shared out among threads. Internal to the room.
#pragma once

#include <cstddef>
#include <functional>

namespace warmledger::screening {

/// Threads to use when `wanted` are asked for; 0: one for each core.
[[nodiscard]] unsigned thread_count(unsigned wanted);

/// Calls work(thread, first, last) for chunks of the rows 0 to `count` until all are done. `thread` is below `threads`,
/// and one thread works at a time under each number. `progress` is called from the calling thread only, now and then,
/// with the rows done; where it returns false no further chunk is begun. Returns whether all were done. What `work`
/// throws is thrown here, after all threads have stopped.
bool share_out(std::size_t count, std::size_t chunk, unsigned threads, const std::function<bool(std::size_t)>& progress,
               const std::function<void(std::size_t, std::size_t, std::size_t)>& work);

}  // namespace warmledger::screening
