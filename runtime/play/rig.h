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
#include "runtime/play/total_power.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

using Rails = std::vector<std::unique_ptr<RailRun>>;

// Steps shorter than this, s, are not taken: both ends are one instant.
inline constexpr double kShortestStep = 1e-15;

// The rails of a run with all that watches them: rules, trigger lines, powers. They stand at one instant and take the
// same steps: plan(), then cut() and advance() by no more than it gave.
class Rig {
 public:
  Rig(const Table& table, const Load& load, const std::vector<RailDeviation>& deviations);
  // One at the same instant, to see what it does; see RailRun::trial(). Figures and events are those from now on. It
  // judges rules and drives lines only if asked to.
  [[nodiscard]] Rig trial(bool judges) const;
  // Everything is as it is, but later.
  void move_on(const Instant& by);

  // Takes a row of a channel; `base` is the start of its segment. In effect from apply_rows() on.
  void take(const Table& table, const Row& row, const Instant& base);
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
  // Outputs whose switches close now are on.
  void close_contacts(const Instant& now);
  void set_line(LineId line, bool high, const Instant& now, const Doing& doing) { lines_.set(line, high, now, doing); }
  // Lines that act by themselves take the level that their rails give them now.
  void follow_lines(const Instant& now, const Passes& passes) { lines_.follow(rails_, now, passes); }
  // A protection switches a rail off, and its fuse those that are linked to it.
  void trip(std::size_t rail, TripCause cause, const Instant& now);
  // What was to come after the present setpoints does not come.
  void interrupt(const Instant& now);

  // Plans every rail up to `longest` s, with `to_row` s until the next row comes, lets protections act, and gives the
  // length of the step that all can take.
  [[nodiscard]] double plan(const Instant& now, double longest, double to_row);
  // The instant after `now` at which a rail's setpoint turns or its switch closes, if that comes before `latest`.
  [[nodiscard]] Instant corner_before(const Instant& latest, const Instant& now) const;
  void cut(double length);
  // Goes through the planned pieces, which are `length` s long.
  void advance(const Instant& now, double length, const Passes& passes);
  // A straight run of a setpoint has ended: its slope jumps.
  void turn_corners(const Instant& now);
  void finish(const Instant& now, const Passes& passes);
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
  // Until now.
  [[nodiscard]] std::int64_t trips() const { return trips_; }
  [[nodiscard]] double peak_power() const { return total_power_.value; }

 private:
  struct ForTrial {};
  Rig(const Rig& other, ForTrial);

  const Profile* profile_;
  std::unique_ptr<EventLog> events_;
  Rails rails_;
  RuleWatch rules_;
  LineLevels lines_;
  ReadingBook readings_;
  std::vector<bool> rows_came_;           // by rail: not in effect yet
  std::vector<std::string> first_marks_;  // reached at 0, where nothing can be read before the first rows
  Peak total_power_;
  SupplyPowers supply_powers_;
  std::int64_t trips_ = 0;
};

}  // namespace rampart
