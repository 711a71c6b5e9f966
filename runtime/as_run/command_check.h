#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/as_run/answer.h"
#include "runtime/as_run/segment_zero.h"
#include "runtime/log/log_names.h"
#include "runtime/log/log_reader.h"

namespace rampart::as_run {

// Differences that are kept; those beyond are counted.
inline constexpr std::size_t kMostDifferences = 100;
// Commands that are kept of channels that were commanded otherwise than the table has it.
inline constexpr std::size_t kMostCommanded = 20'000;

// One of these, as a row that knows what the command set; its `time` counts from the start of its segment.
struct CommandedRow {
  std::size_t segment = 0;  // of the run, from 0
  Row row;
};

// Compares the commands of a log with the rows of the table that was reviewed, segment by segment and channel by
// channel, by their planned times and by value. Takes the memory of a few rows a channel.
class CommandCheck {
 public:
  // All outlives it; `safe` is null where there is no orderly stop.
  CommandCheck(const Table& run, const Table* safe, const LogNames& names);

  // In the order of the log. `log_s`: of the line.
  void take(const LogCommand& command, std::string_view segment, double log_s);
  // What a trip, a stop or the end of the run leaves unplayed is not missed.
  void take(const LogEvent& event, double log_s);
  // `end_s`: of the log's last line. Rows that were due by then, or up to `room` later, cannot be missed.
  void finish(double end_s, double room);
  // The log says nothing of how the run ended, and ends before its last row.
  [[nodiscard]] bool is_broken_off() const { return is_broken_off_; }

  [[nodiscard]] const std::vector<CommandDifference>& differences() const { return differences_; }
  [[nodiscard]] std::int64_t left_out() const { return left_out_; }
  // Rows that were later than the one before by more than 0.5 ms, and how late the latest was in its segment, s.
  [[nodiscard]] const std::vector<LateRow>& late_rows() const { return late_rows_; }
  [[nodiscard]] double latest() const { return latest_; }
  // From the first difference in the run on, all that its channels were commanded, by channel and time. It begins with
  // a row that knows nothing: that of the table that did not come.
  [[nodiscard]] const std::vector<CommandedRow>& commanded() const { return commanded_; }
  // Whether commanded() has all of it: not of lines, of a channel that is interpolated, nor of too many commands.
  [[nodiscard]] bool is_followed(std::string_view channel) const;
  // Commands that were compared, and those that cannot be: without a planned time, or of no segment of the table.
  [[nodiscard]] std::int64_t compared() const { return compared_; }
  [[nodiscard]] std::int64_t not_compared() const { return not_compared_; }

 private:
  // What a channel or line is set to.
  struct Setting {
    std::optional<std::int64_t> voltage;  // counts
    std::optional<std::int64_t> current;
    std::optional<bool> output;
    [[nodiscard]] bool is_empty() const { return !voltage && !current && !output; }
  };
  struct Expected {
    Nanoseconds time{0};
    Setting news;
    Setting whole;
    Span statement;
  };
  // Of one channel or line in the segment that is played.
  struct Played {
    Setting last;
    std::deque<Expected> waiting;  // rows whose commands have not come yet
  };

  [[nodiscard]] bool begin(std::string_view segment, const LogCommand& first, double log_s);
  void end_segment(double log_s);
  void finish_segments();
  // Whether the log may have ended before a row of the segment that is played.
  [[nodiscard]] bool may_follow(const Expected& row) const;
  // The rows of the segment until `time`.
  void advance(Nanoseconds time);
  void add(const Row& row);
  void add(const LineRow& row);
  void add(std::size_t target, Nanoseconds time, Setting news, const Span& statement);
  void compare(std::size_t target, const Expected& row, const LogCommand& command, double log_s);
  void note_lateness(const LogCommand& command, double log_s);
  void miss(std::size_t target, const Expected& row, double log_s);
  // Switched off besides the table, after a trip: it need not be switched off once more, and stays off.
  [[nodiscard]] bool is_off_already(std::size_t target) const { return is_stopped_ && off_[target]; }
  void report(CommandFault fault, std::size_t target, const Expected& row, double log_s, const std::string& text);
  // Whether rows of this target can be followed.
  [[nodiscard]] bool can_follow(std::size_t target) const;
  void follow(std::size_t target, Nanoseconds planned, const LogCommand& command, const Span& statement);
  void keep(std::size_t target, Row row);
  [[nodiscard]] std::string setting_text(std::size_t target, const Setting& news) const;
  [[nodiscard]] Nanoseconds tolerance_of(std::size_t target) const;
  [[nodiscard]] double step_of(std::size_t target, bool volts) const;

  const Table& run_;
  const Table* safe_;
  const LogNames& names_;
  std::optional<RowCursor> run_cursor_;
  std::optional<RowCursor> safe_cursor_;
  RowCursor* cursor_ = nullptr;
  std::optional<TableItem> ahead_;
  std::vector<Played> played_;  // by target
  std::string segment_;
  std::int64_t number_ = 0;  // of the run's segments, from 1
  bool is_over_ = true;      // the segment's rows have all been given
  bool is_stopped_ = false;
  bool is_given_up_ = false;  // all outputs were switched off at once, instead of the rest of `safe`
  bool has_end_ = false;      // the log says that the run has ended
  bool is_broken_off_ = false;
  std::vector<bool> off_;        // by target: tripped, or switched off by a command that is of no row
  std::optional<double> end_s_;  // of the log, once it has ended: the last time at which a row can be missed
  SegmentZero zero_;
  double last_log_s_ = 0;
  std::vector<CommandDifference> differences_;
  std::int64_t left_out_ = 0;
  std::vector<CommandedRow> commanded_;
  std::vector<bool> differs_;            // by target: in the run
  std::vector<bool> is_lost_;            // by target: more commands than are kept
  std::optional<double> segment_begin_;  // of the log
  Nanoseconds segment_length_{0};        // once its rows have all been given
  Nanoseconds longest_wait_{0};          // after it
  double late_ = 0;
  std::vector<LateRow> late_rows_;
  double latest_ = 0;
  std::int64_t compared_ = 0;
  std::int64_t not_compared_ = 0;
};

}  // namespace rampart::as_run
