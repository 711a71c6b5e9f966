#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "runtime/bench_run/mailbox.h"
#include "runtime/bench_run/plan.h"
#include "runtime/bench_run/setup_steps.h"
#include "runtime/link/instrument.h"

namespace rampart::bench_run {

// The thread that speaks with one supply: sends rows, and reads the outputs in between. It posts what it learns.
class SupplyWorker {
 public:
  struct Rows {
    std::vector<std::string> messages;
    std::vector<TableRow> rows;
    Clock::time_point due;
    std::optional<Nanoseconds> planned;  // in the segment; none: it is no row of the table
    std::optional<std::size_t> linked;   // a channel whose output is asked before it is told; posts LinkSeen
    std::optional<std::size_t> suspect;  // a channel that is asked whether it has tripped; nothing is told
  };

  // `instrument` is connected and set up; `round_trip` is the longest that was measured.
  SupplyWorker(const Plan& plan, std::size_t supply, link::Instrument& instrument, Nanoseconds round_trip,
               Mailbox& mailbox);
  // Ends the thread. It commands nothing.
  ~SupplyWorker();
  SupplyWorker(const SupplyWorker&) = delete;
  SupplyWorker& operator=(const SupplyWorker&) = delete;

  // Sent at once, in order. Posts Acked or Trouble.
  void send(Rows rows);
  // No reading begins that may last beyond this time.
  void keep_free_from(Clock::time_point time);
  // Asks for the level of a line as fast as it can, until told none.
  void watch_line(std::optional<std::size_t> line);
  // Whether rounds of readings follow each other without a pause; the first begins at once.
  void read_without_pause(bool is_wanted);
  // Interrupts a question, drops what was to be sent, and switches all outputs off. Posts Outputs.
  void switch_off_now();
  // Asks for the state of all outputs after what was sent before. Posts Outputs.
  void read_outputs();

 private:
  // What a channel was told, as far as the supply has acknowledged it.
  struct Commanded {
    std::optional<bool> output;
    std::optional<Rational> voltage;
    std::optional<Rational> current;
  };
  enum class Ask : std::uint8_t {
    Output,
    Voltage,
    Current,
    Condition,
    MeasuredVoltage,
    MeasuredCurrent,
    Events,
    Fixed
  };
  struct Step {
    Ask what;
    std::size_t channel = 0;
  };

  void work();
  void guarded(const std::function<void()>& act);
  void play(const Rows& rows);
  void note(const Rows& rows);
  void ask_link(std::size_t channel);
  void switch_off();
  void report_outputs();
  [[nodiscard]] bool take_step();
  void ask_output(std::size_t channel);
  void ask_setting(std::size_t channel, link::MessageKind kind, const std::optional<Rational>& wanted,
                   const Rational& step, std::string_view unit);
  void ask_condition(std::size_t channel);
  void ask_measured(std::size_t channel, bool is_current);
  void ask_events();
  void ask_fixed();
  void ask_line(std::size_t line);
  void feed();
  void trouble();
  [[nodiscard]] bool recover();
  [[nodiscard]] const PlanSupply& supply() const { return plan_.supplies[supply_]; }
  [[nodiscard]] const std::string& subject(std::size_t channel) const { return plan_.channels[channel].subject; }

  const Plan& plan_;
  std::size_t supply_;
  link::Instrument& instrument_;
  Nanoseconds round_trip_;
  Mailbox& mailbox_;

  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Rows> waiting_;
  Clock::time_point free_from_ = Clock::time_point::max();
  std::optional<std::size_t> line_;
  bool is_pressed_ = false;  // rounds without a pause
  bool is_new_round_ = false;
  bool is_off_wanted_ = false;
  bool is_report_wanted_ = false;
  bool is_stopped_ = false;

  // Of the thread alone.
  std::vector<Commanded> commanded_;  // by channel of the plan
  std::vector<Reading> readings_;     // likewise, as far as its round has come
  std::uint64_t told_ = 0;            // how often rows were sent
  std::uint64_t told_at_output_ = 0;  // when the output was asked
  std::uint64_t told_at_mode_ = 0;    // when the condition register was asked
  std::uint64_t told_at_volts_ = 0;   // when the voltage was measured
  std::vector<Step> steps_;
  std::size_t next_step_ = 0;
  // What the set-up has set and rows do not change, such as the thresholds of protections. One is asked a round.
  struct Fixed {
    std::size_t channel = 0;
    SetupStep step;
  };
  std::vector<Fixed> fixed_;
  std::size_t next_fixed_ = 0;
  Clock::time_point round_begin_;
  Clock::time_point next_line_;
  Clock::time_point next_feed_;
  bool is_sound_ = true;  // question and answer are in step
  bool is_monitored_ = true;
  std::thread thread_;
};

}  // namespace rampart::bench_run
