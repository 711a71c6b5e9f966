#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "runtime/as_run/course_window.h"
#include "runtime/as_run/located_run.h"
#include "runtime/as_run/recordings.h"

namespace rampart::fit {

// Readings of one quantity that are kept of a rail and log: of longer logs every second, third, …
inline constexpr std::size_t kMostReadings = 4000;

struct Reading {
  double run_s = 0;  // of the end of its window, by the middle of the latency
  double value = 0;
};

// The readings of one quantity of a rail in one log.
struct Series {
  std::size_t log = 0;
  std::size_t rail = 0;
  as_run::Measured quantity{};
  std::size_t timing = 0;  // of one log, supply and instrument: the same for all series whose times are off alike
  const as_run::RailMeter* meter = nullptr;
  bool at_load = false;
  double share = 0;   // the meter's accuracy at the largest reading: of the reading,
  double offset = 0;  // and besides
  double noise = 0;   // as its description says
  double step = 0;    // the smallest difference between two readings
  double interval = 0;
  std::vector<Reading> readings;  // by time
  std::size_t each = 1;           // one of so many was kept
};

// The readings that a fit goes by: those within the run and before `end`, with the output on, or off and discharged by
// the load. `nominal` is the run as it was predicted. `left_out` gets what is not used of rails, in words.
[[nodiscard]] std::vector<Series> read_series(as_run::LocatedRun& run, const as_run::Recording& nominal, double end,
                                              const Job& job, std::vector<std::string>& left_out);

}  // namespace rampart::fit
