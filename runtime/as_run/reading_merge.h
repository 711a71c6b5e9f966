#pragma once

#include <cstddef>
#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <vector>

#include "lang/files/files.h"
#include "lang/job/job.h"
#include "runtime/as_run/logger.h"
#include "runtime/as_run/rail_readings.h"
#include "runtime/log/log_reader.h"

namespace rampart::as_run {

// The readings of all logs of a run, by the time of the run. Reads every log once more; takes the memory of a line
// each.
class ReadingMerge {
 public:
  // Gets what the lines of one log say besides readings; `time` of the log, s.
  using Watch = std::function<void(const LogReader& reader, double time)>;

  // Loggers, table and names outlive it. `watch` gets the lines of the log `watched`.
  ReadingMerge(Files& files, const std::vector<std::unique_ptr<Logger>>& loggers, const Table& table,
               const LogNames& names, const Job& job, std::size_t watched = 0, Watch watch = {});
  ~ReadingMerge();
  ReadingMerge(const ReadingMerge&) = delete;

  struct Next {
    std::size_t logger = 0;
    RailReading reading;
    double run_s = 0;
  };
  // Empty at the end of all logs. Throws JobStopped.
  [[nodiscard]] std::optional<Next> next();

 private:
  struct Source;
  void fetch(Source& source);

  const std::vector<std::unique_ptr<Logger>>& loggers_;
  const Job& job_;
  std::size_t watched_;
  Watch watch_;
  std::vector<std::unique_ptr<Source>> sources_;
};

}  // namespace rampart::as_run
