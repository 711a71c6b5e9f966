#pragma once

#include <optional>
#include <vector>

#include "runtime/circuit/circuit.h"
#include "runtime/rail/group.h"
#include "runtime/rail/headroom_watch.h"
#include "runtime/rail/limited_spell.h"
#include "runtime/rail/past.h"
#include "runtime/rail/protection.h"
#include "runtime/rail/setpoint.h"
#include "runtime/rail/settling.h"

namespace rampart {

// What the coming time of a rail depends on besides the rows: what it is set to, the circuit, and all that lasts. It
// can be copied for a trial, and be taken over from the end of one; whatever is added here is part of both below.
struct RailCourse {
  Setpoint setpoint;
  Group group;
  RailProtection protection;
  Settling settling;
  LimitedSpell limited{};
  HeadroomWatch headroom;
  Past past;
  Doing doing{};
  Doing switched_on_by{};  // the last time the rows asked for it
  bool was_on = false;
  bool turns = false;                           // at the end of the step a straight run of the setpoint ends
  std::vector<circuit::RunningPart> running{};  // as they were seen last
  std::optional<circuit::Mode> pending{};       // what the mode changes to at the end of the last piece

  // Goes on as another course of the same rail would, `by` later, which is `passes` of a loop. What has been found so
  // far, and what began before the other's last pass did, is its own.
  void continue_as(const RailCourse& other, const Instant& by, const Instant& pass_began, const PassShift& passes);
  // Passes were added without being walked: what has begun since `pass_began` began later.
  void shift(const Instant& by, const Instant& pass_began);
  // How long ago what lasts began, s; less than 0 for what began before the pass.
  [[nodiscard]] std::vector<double> ages(const Instant& now, const Instant& pass_began) const;
};

}  // namespace rampart
