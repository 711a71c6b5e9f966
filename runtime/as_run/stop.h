#pragma once

#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/profile/profile.h"
#include "runtime/as_run/answer.h"
#include "runtime/as_run/located_run.h"

namespace rampart::as_run {

// What ended a run before its end, as a log tells: a trip that nobody predicted, or a stop.
struct Stop {
  double run_s = 0;
  double log_s = 0;
  std::size_t log = 0;            // its place among the logs
  std::optional<RailId> tripped;  // none: it was stopped otherwise
  std::vector<RailId> along;      // that went off with it
  std::string words;
  bool is_followed = false;                                 // commands tell when the safe sequence began
  double pause_s = 0;                                       // until it began
  double ends_s = std::numeric_limits<double>::infinity();  // of the log: all outputs were switched off at once
};

// An event by that word tells that an output is off. It may be found off although no protection says that it tripped.
[[nodiscard]] bool tells_off(std::string_view word);
// The first of the run, if there is one before its end by this prediction. When the safe sequence began is left open.
[[nodiscard]] std::optional<Stop> find_stop(const LocatedRun& run, const Simulation& predicted);
// The same where a rail tripped, to be told with the other things that were not predicted.
[[nodiscard]] Excursion trip_of(const Stop& stop);
// True where the rail was off from then on: it tripped, is linked with the fuse of the one that did, or there is no
// `safe`.
[[nodiscard]] bool is_cut_off(const LocatedRun& run, const Stop& stop, RailId rail);

}  // namespace rampart::as_run
