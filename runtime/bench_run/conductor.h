#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/agenda.h"
#include "runtime/bench_run/crew.h"
#include "runtime/bench_run/journal.h"
#include "runtime/bench_run/recent_readings.h"
#include "runtime/bench_run/run_end.h"
#include "runtime/bench_run/schedule.h"
#include "runtime/bench_run/standstill.h"
#include "runtime/bench_run/wait_watch.h"

namespace rampart::bench_run {

// Conducts a run: rows in time, waits, and the safe sequence when something comes between.
//
// All of it happens in one thread. It goes from instant to instant (play_instant, end_segment), and meanwhile takes
// what the others tell it (take_mail, handle). What ends the run early calls stop(); then everything returns up to
// play(), which plays `safe` in the same way, and asks what became of the outputs.
class Conductor {
 public:
  // All has to live as long.
  Conductor(const Plan& plan, std::vector<ReadySupply>& supplies, Nanoseconds max_late, RunView& view, Person& person,
            Mailbox& mailbox);
  Conductor(const Conductor&) = delete;
  Conductor& operator=(const Conductor&) = delete;

  [[nodiscard]] RunEnd play(TableItems& items);

 private:
  // Which waiting is ended by a stop: that of the run is, that of the safe sequence is not.
  enum class Phase : std::uint8_t { Run, Safe, End };

  // The table.
  void run(TableItems& items);
  void begin_segment(const SegmentBegin& begin);
  void play_instant(const TableInstant& instant);
  void end_segment(const SegmentEnd& end);
  void wait(const TableWait& wait);
  void end_wait(WaitWatch::End how, const TableWait& wait);
  void play_safe();
  void collect_outputs();

  // Time. False: something came between.
  [[nodiscard]] bool wait_until(Clock::time_point time);
  [[nodiscard]] bool wait_for_answers(const std::vector<bool>& supplies);
  [[nodiscard]] bool wait_for_all_answers();
  void do_due(Clock::time_point time);
  void act(const Due& due);
  // A measurement or a wait asks for readings that follow each other without a pause.
  [[nodiscard]] bool is_read_without_pause() const;
  void press_readings();

  // What the others tell.
  void take_mail(Clock::time_point until);
  void handle(const Mail& mail, const Acked& acked);
  void handle(const Mail& mail, const Reading& reading);
  void handle(const Mail& mail, const Tripped& tripped);
  void handle(const Mail& mail, const LinkSeen& seen);
  void handle(const Mail& mail, const Changed& changed);
  void handle(const Mail& mail, const Events& events);
  void handle(const Mail& mail, const LineLevel& level);
  void handle(const Mail& mail, const Trouble& trouble);
  void handle(const Mail& mail, const Outputs& outputs);
  void handle(const Mail& mail, const SignalCame& signal);
  void handle(const Mail& mail, const LogFailed& failed);
  void ask_for_cause(std::size_t channel);
  void switch_off_others(const Tripped& tripped, const std::vector<std::size_t>& others, std::string_view how);
  void note_went_along(std::size_t channel);
  void stop(const std::string& reason, bool is_failure);
  // True while what is being played shall not go on.
  [[nodiscard]] bool stops() const { return is_off_wanted_ || (phase_ == Phase::Run && stop_.has_value()); }
  void show_status();

  const Plan& plan_;
  Nanoseconds max_late_;
  Nanoseconds tolerance_;  // rows that are sent up to this much late move no others
  RunView& view_;
  Person& person_;
  Mailbox& mailbox_;
  Crew crew_;
  RailBoard board_;
  Journal journal_;
  Standstill standstill_;

  Phase phase_ = Phase::Run;
  std::optional<std::string> stop_;      // why
  std::optional<std::size_t> tripped_;   // the channel whose trip that was
  std::vector<std::string> remarks_;     // on that
  std::vector<std::size_t> went_along_;  // channels that the log says went off with another
  bool has_failed_ = false;
  bool is_off_wanted_ = false;  // all outputs off at once, whatever is being done

  Schedule schedule_;      // of the segment
  Nanoseconds played_{0};  // of the segments before this one, as the table has them
  Agenda agenda_;          // of the segment
  int measuring_ = 0;      // measurements that have begun and are not over
  std::optional<WaitWatch> wait_;
  RecentReadings recent_;  // while someone asks for them
  std::string next_;       // what comes next, for people
  Clock::time_point next_due_;
  Clock::time_point last_status_;
  Lateness lateness_;
};

}  // namespace rampart::bench_run
