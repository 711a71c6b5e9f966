#pragma once

#include <cstdint>
#include <limits>
#include <map>
#include <set>
#include <utility>
#include <vector>

#include "compiler/timeline/setpoints.h"
#include "lang/findings/finding.h"

namespace rampart {

// What one way through a program does, loops not unrolled.
struct ProgramMeasure {
  std::vector<RailState> exit;
  Int128 length = 0;           // ns; waits left out
  Int128 waits = 0;            // ns; assumed times of its awaits
  double moves = 0;            // of setpoints and lines, loops unrolled
  double walked_passes = 0;    // passes to walk to see all it does
  double shifting_passes = 1;  // the same of loops that cannot be folded
};

// A `repeat` entered with given setpoints. The first pass may differ from the later ones, which are alike but for
// setpoints that shift by the same amount in each.
struct LoopMeasure {
  std::int64_t passes = 0;
  bool shifts = false;  // later passes shift some setpoint
  ProgramMeasure all;
};

// Measures programs and loops, each loop once for each set of setpoints it is entered with.
class LoopMeter {
 public:
  // `most_entries`: loops in each other may begin at twice as many different setpoints a level; past so many a loop is
  // given up.
  explicit LoopMeter(const Profile& profile, std::int64_t most_entries = std::numeric_limits<std::int64_t>::max())
      : profile_(&profile), most_entries_(most_entries) {}

  // `entry` holds the tracking that is in force; its setpoints are those before the first statement.
  [[nodiscard]] ProgramMeasure measure(const Program& program, const Setpoints& entry);
  [[nodiscard]] const LoopMeasure& measure_loop(const Statement& repeat, const Setpoints& entry);

  [[nodiscard]] FindingSink& findings() { return findings_; }

 private:
  void add_statement(const Statement& statement, Setpoints& setpoints, ProgramMeasure& total);
  void add_together(const Statement& statement, Setpoints& setpoints, ProgramMeasure& total);
  [[nodiscard]] LoopMeasure measure_new_loop(const Statement& repeat, const Setpoints& entry);
  [[nodiscard]] std::int64_t passes_of(const Statement& repeat, const ProgramMeasure& first,
                                       const ProgramMeasure& later);

  void give_up(const Statement& repeat);
  void report_too_large(const Statement& statement);
  void report_unknown_start(const Statement& statement, const Setpoints& setpoints);

  const Profile* profile_;
  std::int64_t most_entries_;
  std::int64_t entries_ = 0;  // into loops that were measured before, at other setpoints
  FindingSink findings_;
  bool too_large_ = false;
  bool given_up_ = false;               // past a bound, which has been reported: what remains is not measured
  std::set<const Statement*> unknown_;  // statements reported as going on from a setpoint that is not known
  std::set<const Statement*> extents_;  // loops reported for the time that they are given
  std::map<std::pair<const Statement*, std::vector<RailState>>, LoopMeasure> loops_;
};

}  // namespace rampart
