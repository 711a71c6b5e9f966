#pragma once

#include <cstddef>
#include <functional>

#include "lang/job/job.h"

namespace rampart {

// Does part(0) … part(count - 1), each once, on the job's threads. Parts write to places of their own, so the result is
// the same for any number of threads. The first exception ends the work and is thrown on; a stop is one (JobStopped).
void run_parallel(std::size_t count, const Job& job, const std::function<void(std::size_t)>& part);

}  // namespace rampart
