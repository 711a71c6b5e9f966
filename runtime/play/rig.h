#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "runtime/answer/event_log.h"
#include "runtime/play/line_levels.h"
#include "runtime/play/reading_book.h"
#include "runtime/play/rule_watch.h"
#include "runtime/play/simulate.h"
#include "runtime/play/total_power.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

using Rails = std::vector<std::unique_ptr<RailRun>>;

// Is told of each step of a rail before the rail has gone through it.
class StepObserver {
 public:
  virtual void take_step(std::size_t index, const RailRun& rail) = 0;

 protected:
  ~StepObserver() = default;
};

// Where a run stands, for what is done there.
struct Present {
  const Instant& now;
  const Passes& passes;
  StepObserver& observer;
};

// The rails of a run with all that watches them: rules, trigger lines, powers.
//
// Each rail goes through steps of its own, and stands between two of them. plan() begins a step of each rail that
// stands, next_end() tells when the first of these steps ends, and go_to() ends those that do. Where something happens
// to a rail from outside, stop() ends its step early; meet() does so with all rails.
class Rig {
 public:
  // When a step of each rail has to end.
  class Stops {
   public:
    virtual RailRun::Stops of(std::size_t rail) const = 0;

   protected:
    ~Stops() = default;
  };

  Rig(const Table& table, const Load& load, const std::vector<RailDeviation>& deviations, RulesAsked asked);
  // One at the same instant, at which all rails meet, to see what it does; see RailRun::trial(). Figures and events are
  // those from now on. It judges rules and drives lines only if asked to.
  [[nodiscard]] Rig trial(bool judges) const;
  // All of it, to go on by itself, at an instant at which all rails stand. It judges no rules.
  [[nodiscard]] Rig fork() const;
  // Everything is as it is, but later.
  void move_on(const Instant& by);

  // Takes a row of a channel; `base` is the start of its segment. In effect from apply_rows() on.
  void take(const Row& row, const Instant& base, const Present& present);
  // Every rail remembers what it reads under the mark's name.
  void read_mark(std::string_view mark, const Instant& now);
  // Takes a reading of every rail.
  void read(const MeasurementDue& due, const Instant& now, const Passes& passes) {
    readings_.read(due, rails_, now, passes);
  }
  // Readings reach back no further than the present instant.
  void forget_past();
  // Rows taken at the present instant come into effect.
  void apply_rows(const Instant& now, const Passes& passes);
  void set_line(LineId line, bool high, const Instant& now, const Doing& doing) { lines_.set(line, high, now, doing); }
  // Lines that act by themselves take the level that their rails give them now.
  void follow_lines(const Instant& now, const Passes& passes) { lines_.follow(rails_, now, passes); }
  // An interlock switches its rails off for good: at once, or when the link to their supply has acted. All rails stand.
  void interlock(const Line& line, const Instant& now);
  // Links whose delay is over switch their rails off.
  void act_by_links(const Present& present);
  // When the next link acts; none is on its way.
  [[nodiscard]] std::optional<Instant> next_link() const;
  // What was to come after the present setpoints does not come. All rails meet.
  void interrupt(const Instant& now);

  // Outputs whose switches close now are on. Every rail that stands begins a step, and protections act.
  void plan(const Present& present, const Stops& stops);
  // The instant after `now` at which a rail's setpoint turns or its switch closes, if that comes before `latest`. All
  // rails stand.
  [[nodiscard]] Instant corner_before(const Instant& latest, const Instant& now) const;
  // When the first step ends; none if all rails stand.
  [[nodiscard]] std::optional<Instant> next_end();
  // Ends the steps that end until now.
  void go_to(const Present& present);
  // All rails stand at the present instant.
  void meet(const Present& present);
  // What watches the rails has seen all until now: what comes belongs to other passes.
  void follow(const Instant& now, const Passes& passes);
  void finish(const Present& present);
  // What its parts have found. The run is over.
  void add_to(Simulation& result);

  [[nodiscard]] const Rails& rails() const { return rails_; }
  [[nodiscard]] RuleWatch& rules() { return rules_; }
  [[nodiscard]] const RuleWatch& rules() const { return rules_; }
  [[nodiscard]] LineLevels& lines() { return lines_; }
  [[nodiscard]] const LineLevels& lines() const { return lines_; }
  [[nodiscard]] ReadingBook& readings() { return readings_; }
  [[nodiscard]] const ReadingBook& readings() const { return readings_; }
  [[nodiscard]] EventLog& events() { return *events_; }
  [[nodiscard]] const EventLog& events() const { return *events_; }
  // All that its coming time depends on besides the table, exactly. False where more than numbers plays a part: a
  // temperature, a load that is not linear, a trip, a link that is about to act, or a switch that is about to close.
  [[nodiscard]] bool add_memory(const Instant& now, std::vector<double>& memory) const;
  // How often rows have switched an output on, until now.
  [[nodiscard]] std::int64_t switched_on() const { return switched_on_; }
  // Until now.
  [[nodiscard]] std::int64_t trips() const { return trips_; }
  [[nodiscard]] double peak_power() const { return powers_.all().value; }

 private:
  // A rail that a link will switch off.
  struct LinkedOff {
    std::size_t rail = 0;
    Instant at;
    bool by_interlock = false;
  };
  struct ForTrial {};
  Rig(const Rig& other, ForTrial);
  struct AsFork {};
  Rig(const Rig& other, AsFork);
  // The rail stands at the present instant.
  void stop(std::size_t rail, const Present& present);
  // A protection switches a rail off, and its fuse those that are linked with it: at once, or when the link has acted.
  void trip(std::size_t rail, TripCause cause, const Present& present);
  void close_contacts(const Instant& now);

  // The end of a step, and whose it is. One that was ended early stays in the heap until its time.
  struct End {
    Instant at;
    std::size_t rail = 0;
  };
  static bool is_later(const End& a, const End& b);
  [[nodiscard]] bool is_due(const End& end) const;
  void drop_old_ends();

  const Table* table_;
  const Profile* profile_;
  std::unique_ptr<EventLog> events_;
  Rails rails_;
  RuleWatch rules_;
  LineLevels lines_;
  ReadingBook readings_;
  std::vector<std::optional<std::size_t>> rail_of_;  // by channel
  std::vector<bool> rows_came_;                      // by rail: not in effect yet
  std::vector<std::string> first_marks_;             // reached at 0, where nothing can be read before the first rows
  TotalPowers powers_;
  std::int64_t trips_ = 0;
  std::int64_t switched_on_ = 0;
  std::vector<LinkedOff> linked_off_;
  std::vector<std::size_t> standing_;  // rails without a step, in their order
  std::vector<std::size_t> planned_;   // room for them while they are asked
  std::vector<End> ends_;              // a heap: the earliest in front
};

}  // namespace rampart
