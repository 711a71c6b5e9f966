#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "lang/files/files.h"
#include "lang/findings/finding.h"
#include "lang/job/job.h"
#include "runtime/as_run/alignment.h"
#include "runtime/as_run/answer.h"
#include "runtime/as_run/logger.h"
#include "runtime/as_run/recordings.h"
#include "runtime/log/log_names.h"

namespace rampart::as_run {

// The logs of one run, and where it lies in them: its waits, and the clock of each log. Findings say what is wrong with
// the logs.
class LocatedRun {
 public:
  // Files, tables, load and findings outlive it.
  LocatedRun(Files& files, const Played& played, FindingSink& findings, const Job& job);
  LocatedRun(const LocatedRun&) = delete;

  // Reads every log once. False, after a finding, where one or its description cannot be read at all.
  [[nodiscard]] bool read(const std::vector<LogRequest>& logs);
  // Finds the waits and the begin of the run in the log that tells most of it. False where none tells.
  [[nodiscard]] bool find();
  // Once the run was played with these waits: where it lies in the other logs, and when its segments began.
  void settle(const Recording& nominal);

  [[nodiscard]] const Played& played() const { return played_; }
  [[nodiscard]] const Table& table() const { return *played_.run; }
  [[nodiscard]] const LogNames& names() const { return names_; }
  // The place of the rail that a log names, or of the one that a channel it names is for.
  [[nodiscard]] std::optional<std::size_t> rail_of(std::size_t target) const;
  [[nodiscard]] Files& files() const { return *files_; }
  [[nodiscard]] std::vector<std::unique_ptr<Logger>>& loggers() { return loggers_; }
  [[nodiscard]] const std::vector<std::unique_ptr<Logger>>& loggers() const { return loggers_; }
  // That tells the waits; the first where none does.
  [[nodiscard]] Logger& leader() { return *loggers_[leader_]; }
  [[nodiscard]] const Logger& leader() const { return *loggers_[leader_]; }
  [[nodiscard]] std::size_t leader_index() const { return leader_; }
  // Between readings, of the log that has the fewest, s.
  [[nodiscard]] double longest_interval() const;
  [[nodiscard]] const std::vector<Nanoseconds>& waits() const { return waits_; }
  [[nodiscard]] const std::vector<SegmentSeen>& segments() const { return segments_; }
  [[nodiscard]] double duration() const { return duration_; }
  // The run without its waits.
  [[nodiscard]] double planned_duration() const { return planned_.simulation.duration_s; }
  // When the safe sequence began, by commands of the leader, s of its log.
  [[nodiscard]] std::optional<double> safe_begin() const;
  // How late its rows were.
  [[nodiscard]] std::vector<SeenDelay> safe_delays() const;
  // How far apart in time the outputs of a rail may be, s.
  [[nodiscard]] double skew_of(std::size_t rail) const;
  // Why nothing after a time of a log is judged.
  [[nodiscard]] const std::vector<std::string>& cut_off() const { return cut_off_; }

 private:
  [[nodiscard]] bool read(const LogRequest& request, Logger& logger);
  void plan();
  [[nodiscard]] EdgeBlur blur_of(Logger& logger) const;
  [[nodiscard]] AlignmentResult align_with(Logger& logger, std::vector<Edge> planned,
                                           const std::vector<PlannedSegment>& segments) const;
  void add_wait(double seconds);
  void take_commands(const Logger& logger);
  void take_alignment(Logger& logger, const Alignment& alignment);
  static void keep(Logger& logger, const Alignment& alignment);
  [[nodiscard]] static bool is_clock_jump(const Logger& logger, const std::pair<double, double>& either);
  void find_jump(Logger& logger, const std::vector<Edge>& planned);
  [[nodiscard]] static bool is_jump(const Logger& logger, const std::vector<Edge>& planned, const SeenGap& gap,
                                    double length, double tolerance);
  void locate_other(Logger& logger, const Recording& nominal);

  Files* files_;
  Played played_;
  FindingSink* findings_;
  const Job* job_;
  LogNames names_;
  std::vector<std::optional<Meter>> readbacks_;
  Recording planned_;
  std::vector<PlannedSegment> plan_;
  std::vector<RailLevels> levels_;
  std::vector<std::unique_ptr<Logger>> loggers_;
  std::size_t leader_ = 0;
  std::vector<Nanoseconds> waits_;
  Nanoseconds waited_{0};  // all of them
  std::vector<SegmentSeen> segments_;
  double duration_ = 0;
  std::vector<std::string> cut_off_;
};

// The path of the description that belongs to a log: "bench.csv" has "bench.log.yaml".
[[nodiscard]] std::string description_path(const std::string& log);

}  // namespace rampart::as_run
