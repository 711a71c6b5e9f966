// The program `rampart` on a computer whose clocks are tampered with: linked with --wrap=clock_gettime and --wrap=time,
// so that what it reads of a clock comes from here. STEPPED_CLOCK is `realtime`, which sets the time of day by an hour
// to and fro every 200 ms, or `suspend`, which lets 2 s of suspension pass once the file STEPPED_BY is there.
#include <unistd.h>

#include <cstdlib>
#include <ctime>
#include <string_view>

extern "C" {
int __real_clock_gettime(clockid_t clock, timespec* time);
int __wrap_clock_gettime(clockid_t clock, timespec* time);
time_t __wrap_time(time_t* time);
}

namespace {

constexpr double kBetweenSteps = 0.2;
constexpr time_t kStep = 3600;
constexpr time_t kSuspended = 2;

bool is_asked(std::string_view what) {
  const char* asked = std::getenv("STEPPED_CLOCK");
  return asked != nullptr && what == asked;
}

// Seconds since this was first asked.
double running() {
  timespec now{};
  __real_clock_gettime(CLOCK_MONOTONIC, &now);
  static const timespec kFirst = now;
  return static_cast<double>(now.tv_sec - kFirst.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec - kFirst.tv_nsec);
}

}  // namespace

extern "C" int __wrap_clock_gettime(clockid_t clock, timespec* time) {
  const int result = __real_clock_gettime(clock, time);
  if (clock == CLOCK_REALTIME && is_asked("realtime")) {
    const bool is_ahead = static_cast<long>(running() / kBetweenSteps) % 2 == 1;
    time->tv_sec += is_ahead ? kStep : -kStep;
  }
  if (clock == CLOCK_BOOTTIME && is_asked("suspend")) {
    const char* file = std::getenv("STEPPED_BY");
    if (file != nullptr && access(file, F_OK) == 0) time->tv_sec += kSuspended;
  }
  return result;
}

extern "C" time_t __wrap_time(time_t* time) {
  timespec now{};
  __wrap_clock_gettime(CLOCK_REALTIME, &now);
  if (time != nullptr) *time = now.tv_sec;
  return now.tv_sec;
}
