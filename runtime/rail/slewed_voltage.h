#pragma once

#include <optional>
#include <vector>

#include "lang/values/instant.h"

namespace rampart {

// How fast an output itself moves, V/s.
struct SetpointSlew {
  double up = 0;
  double down = 0;
};

// A voltage that runs straight: V and V/s.
struct StraightVoltage {
  double value = 0;
  double slope = 0;
};

// The voltage of one channel or of several as one, each of which goes to its own aim as fast as it can. In series they
// add up. In parallel the highest one carries the rail, since an output gives and does not take.
class SlewedVoltage {
 public:
  using Aims = std::vector<StraightVoltage>;  // one a member

  // Of each member; one without a slew is where it aims at once.
  SlewedVoltage(const std::vector<std::optional<SetpointSlew>>& slews, bool adds_up);

  // The members head for these aims from now on; switched off they stand at 0 V.
  void begin(const Instant& now, const Aims& aims, bool on);
  [[nodiscard]] StraightVoltage at(const Instant& now, const Aims& aims) const;
  // When a member meets its aim, or another one takes the lead, after the last begin().
  [[nodiscard]] std::vector<Instant> corners() const;
  void shift(const Instant& by) { since_ = since_.plus(by); }
  // Where each member is, how fast it moves and for how long, s from now.
  void add_course(const Instant& now, std::vector<double>& course) const;

 private:
  struct Member {
    std::optional<SetpointSlew> slew;
    StraightVoltage course;       // at since_
    std::optional<double> meets;  // s after since_
  };
  static void head_for(const StraightVoltage& aim, Member& member);
  [[nodiscard]] StraightVoltage course_of(const Member& member, const Instant& now, const StraightVoltage& aim) const;
  [[nodiscard]] std::optional<double> overtaken() const;

  std::vector<Member> members_;
  bool adds_up_;
  Instant since_;
};

}  // namespace rampart
