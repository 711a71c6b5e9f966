#include "runtime/bench_run/standstill.h"

#include <ctime>

#include "runtime/bench_run/words.h"

namespace rampart::bench_run {
namespace {

// This computer stands still if it does not come round for so long.
constexpr auto kStandstill = std::chrono::milliseconds(250);
constexpr auto kSuspended = std::chrono::milliseconds(50);

// How long this computer was suspended since it was started: what one clock counts and the other does not.
Nanoseconds time_asleep() {
  timespec with{};
  timespec without{};
  clock_gettime(CLOCK_BOOTTIME, &with);
  clock_gettime(CLOCK_MONOTONIC, &without);
  return std::chrono::seconds(with.tv_sec - without.tv_sec) + Nanoseconds(with.tv_nsec - without.tv_nsec);
}

}  // namespace

Standstill::Standstill() : asleep_(time_asleep()), last_(Clock::now()) {}

std::string Standstill::look(Clock::time_point now, Nanoseconds room) {
  const Nanoseconds gap = now - last_;
  last_ = now;
  const Nanoseconds asleep = time_asleep() - asleep_;
  if (asleep > kSuspended) return "this computer was suspended for " + short_time(asleep);
  if (gap > kStandstill + room) return "this computer or this program did not respond for " + short_time(gap);
  return {};
}

}  // namespace rampart::bench_run
