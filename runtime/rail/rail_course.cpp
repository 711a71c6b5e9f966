#include "runtime/rail/rail_course.h"

namespace rampart {

void RailCourse::continue_as(const RailCourse& other, const Instant& by, const Instant& pass_began,
                             const PassShift& passes) {
  setpoint = other.setpoint;
  setpoint.shift(by);
  setpoint.put_off_contact(by);
  group = other.group;
  protection.continue_as(other.protection, by);
  settling.continue_as(other.settling, by, pass_began, passes);
  limited.continue_as(other.limited, by, pass_began);
  headroom.continue_as(other.headroom, by, passes);
  past.continue_as(other.past, by, pass_began);
  const auto take = [&passes](Doing& own, const Doing& from) {
    if (own.statement == from.statement && own.passes == from.passes) return;
    own = from;
    passes.apply(own.passes);
  };
  take(doing, other.doing);
  take(switched_on_by, other.switched_on_by);
  was_on = other.was_on;
  turns = other.turns;
  running = other.running;
  pending = other.pending;
}

void RailCourse::shift(const Instant& by, const Instant& pass_began) {
  protection.shift(by);
  setpoint.shift(by);
  settling.shift(by, pass_began);
  limited.shift(by, pass_began);
}

std::vector<double> RailCourse::ages(const Instant& now, const Instant& pass_began) const {
  std::vector<double> ages;
  settling.add_ages(now, pass_began, ages);
  limited.add_ages(now, pass_began, ages);
  return ages;
}

}  // namespace rampart
