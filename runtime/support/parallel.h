#pragma once

#include <cstddef>
#include <functional>

namespace rampart {

// Tells how far long work has come: so many of so many parts are done. Called from one thread at a time, and any number
// of times.
using Progress = std::function<void(std::size_t done, std::size_t all)>;

// As many as the machine runs at once.
[[nodiscard]] unsigned usual_threads();

// How work on many runs is spread over the machine, and who hears of it.
struct Effort {
  unsigned threads = usual_threads();
  Progress progress{};
};

// Does job(0) … job(count - 1), each once, on so many threads. Jobs write to places of their own, so the result is the
// same for any number of threads. The first exception ends the work and is thrown on.
void run_parallel(std::size_t count, const Effort& effort, const std::function<void(std::size_t)>& job);

}  // namespace rampart
