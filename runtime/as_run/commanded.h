#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

#include "lang/values/instant.h"
#include "runtime/as_run/command_check.h"
#include "runtime/as_run/located_run.h"
#include "runtime/play/simulate.h"

namespace rampart::as_run {

// Reads the commands of the log that tells the waits, and compares them with the table. `max_late_s`: rows that were
// due so long before the end of the log, or less, cannot be missed. Throws JobStopped.
[[nodiscard]] std::unique_ptr<CommandCheck> check_commands(const LocatedRun& run, double max_late_s, const Job& job);

// What was commanded instead of rows of the table, once it is known when the segments of the run began. `followed`:
// from when on which rails are predicted by it, "`core` from 1.2 s on".
[[nodiscard]] std::vector<Commanded> commanded_of(const CommandCheck& check, const LocatedRun& run,
                                                  const std::vector<Instant>& segment_starts,
                                                  std::vector<std::string>& followed);

// Rails of the table whose commands differ from it and cannot be followed.
[[nodiscard]] std::vector<std::size_t> unfollowed_rails(const CommandCheck& check, const LocatedRun& run);

}  // namespace rampart::as_run
