#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/agenda.h"
#include "runtime/bench_run/mailbox.h"
#include "runtime/bench_run/recent_readings.h"
#include "runtime/bench_run/row_messages.h"
#include "runtime/bench_run/run_view.h"
#include "runtime/bench_run/start_checks.h"
#include "runtime/bench_run/supply_worker.h"

namespace rampart::bench_run {

// How late the rows of a run were.
struct Lateness {
  std::int64_t groups = 0;  // of messages that were acknowledged
  Nanoseconds worst{0};     // from the planned time to the acknowledgement
  Nanoseconds shifted{0};   // by how much all later rows were moved, added up
};

struct RunEnd {
  bool is_complete = false;          // every row of the run was played
  bool has_failed = false;           // a connection or the log failed
  std::string reason;                // why it ended, in words
  std::vector<OutputState> outputs;  // in the order of the plan
  std::vector<std::string> left_on;  // channels that the table leaves on at its end
  Lateness lateness;
  Nanoseconds duration{0};
};

// Conducts a run: rows in time, waits, and the safe sequence when something comes between.
class Conductor {
 public:
  // All has to live as long.
  Conductor(const Plan& plan, std::vector<ReadySupply>& supplies, Nanoseconds max_late, RunView& view, Person& person,
            Mailbox& mailbox);
  ~Conductor();
  Conductor(const Conductor&) = delete;
  Conductor& operator=(const Conductor&) = delete;

  [[nodiscard]] RunEnd play(TableItems& items);

 private:
  // Which waiting is ended by a stop: that of the run is, that of the safe sequence is not.
  enum class Phase : std::uint8_t { Run, Safe, End };

  // What was last seen of a channel.
  struct Shown {
    bool is_on = false;  // as it was commanded
    std::optional<Rational> set_V;
    std::optional<Rational> set_A;
    std::optional<double> measured_V;
    std::optional<double> measured_A;
    bool is_tripped = false;
  };

  void run(TableItems& items);
  void do_due(Clock::time_point time);
  void act(const Due& due);
  void press_readings();
  void begin_segment(const SegmentBegin& begin);
  void end_segment(const SegmentEnd& end);
  void play_instant(const TableInstant& instant);
  void send(const TableInstant& instant, Clock::time_point due);
  [[nodiscard]] bool wait_until(Clock::time_point time);
  [[nodiscard]] bool wait_for_answers(const std::vector<bool>& supplies);
  [[nodiscard]] std::vector<bool> told_by(const TableInstant& instant) const;
  void take_mail(Clock::time_point until);
  void handle(const Mail& mail);
  void handle(const Mail& mail, const Acked& acked);
  void handle(const Mail& mail, const Reading& reading);
  void handle(const Mail& mail, const Tripped& tripped);
  void handle(const Mail& mail, const Changed& changed);
  void handle(const Mail& mail, const Events& events);
  void handle(const Mail& mail, const LineLevel& level);
  void handle(const Mail& mail, const Trouble& trouble);
  void handle(const Mail& mail, const Outputs& outputs);
  void handle(const Mail& mail, const SignalCame& signal);
  void handle(const Mail& mail, const LogFailed& failed);
  void stop(const std::string& reason, bool is_failure);
  void switch_off_joined(std::size_t channel, bool by_fuse);
  void play_safe();
  void switch_off_supply(std::size_t supply);
  void collect_outputs();
  void wait(const TableWait& wait);
  void end_wait(const std::string& how);
  void keep_watch();
  void show_status();
  [[nodiscard]] std::string prompt_text(const std::string& prompt) const;
  [[nodiscard]] bool stops() const { return is_off_wanted_ || (phase_ == Phase::Run && stop_.has_value()); }
  [[nodiscard]] Nanoseconds since_start(Clock::time_point time) const;
  void log(LogRow row, Clock::time_point at);
  void log_event(const std::string& text, const std::string& channel = "");

  const Plan& plan_;
  std::vector<ReadySupply>& supplies_;
  Nanoseconds max_late_;
  Nanoseconds tolerance_;  // rows that are sent up to this much late move no others
  RunView& view_;
  Person& person_;
  Mailbox& mailbox_;
  std::vector<std::unique_ptr<SupplyWorker>> workers_;
  RowWriter writer_;

  Phase phase_ = Phase::Run;
  std::optional<std::string> stop_;  // why
  bool has_failed_ = false;
  bool is_off_wanted_ = false;  // all outputs off at once, whatever is being done
  int signals_ = 0;
  Clock::time_point begin_;          // of the first segment
  Clock::time_point segment_begin_;  // with what late rows have moved
  std::string segment_;
  Nanoseconds played_{0};     // of the segments before this one, as the table has them
  Nanoseconds last_time_{0};  // of the log
  Clock::time_point last_look_;
  Clock::time_point last_status_;
  Nanoseconds asleep_{0};          // how long this computer was suspended since it was started
  std::vector<bool> is_waiting_;   // by supply: rows are not yet acknowledged
  std::vector<bool> is_given_up_;  // by supply: it was switched off, and gets no more rows
  std::vector<std::optional<std::vector<OutputState>>> outputs_;  // by supply
  std::vector<Shown> shown_;                                      // by channel
  Agenda agenda_;                                                 // of the segment
  int measuring_ = 0;                                             // measurements that have begun and are not over
  bool is_condition_awaited_ = false;
  RecentReadings recent_;           // while someone asks for them
  std::optional<LineLevel> level_;  // of the line that is waited for
  std::string next_;                // what comes next, for people
  Clock::time_point next_due_;
  RunEnd end_;
};

}  // namespace rampart::bench_run
