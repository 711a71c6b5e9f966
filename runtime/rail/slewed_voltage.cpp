#include "runtime/rail/slewed_voltage.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

// Voltages that differ by less are the same.
constexpr double kSameVoltage = 1e-12;

bool same(double a, double b) {
  return std::abs(a - b) <= kSameVoltage * std::max(1.0, std::max(std::abs(a), std::abs(b)));
}

// Of two that are equal, that which will be higher.
bool leads(const StraightVoltage& a, const StraightVoltage& b) {
  return same(a.value, b.value) ? a.slope > b.slope : a.value > b.value;
}

}  // namespace

SlewedVoltage::SlewedVoltage(const std::vector<std::optional<SetpointSlew>>& slews, bool adds_up) : adds_up_(adds_up) {
  for (const std::optional<SetpointSlew>& slew : slews) members_.push_back({slew, {}, {}});
}

void SlewedVoltage::begin(const Instant& now, const Aims& aims, bool on) {
  const double gone = now.since(since_);
  since_ = now;
  for (std::size_t i = 0; i < members_.size(); ++i) {
    Member& member = members_[i];
    member.meets.reset();
    if (!on) {
      member.course = {};
    } else if (member.slew) {
      member.course.value += member.course.slope * gone;
      head_for(aims[i], member);
    } else {
      member.course = aims[i];
    }
  }
}

void SlewedVoltage::head_for(const StraightVoltage& aim, Member& member) {
  StraightVoltage& course = member.course;
  if (same(aim.value, course.value)) {
    course = {aim.value, std::clamp(aim.slope, -member.slew->down, member.slew->up)};
    return;
  }
  const double gap = aim.value - course.value;
  course.slope = gap > 0 ? member.slew->up : -member.slew->down;
  const double closing = course.slope - aim.slope;
  if (gap / closing > 0) member.meets = gap / closing;
}

StraightVoltage SlewedVoltage::course_of(const Member& member, const Instant& now, const StraightVoltage& aim) const {
  if (!member.slew) return aim;
  return {member.course.value + member.course.slope * now.since(since_), member.course.slope};
}

StraightVoltage SlewedVoltage::at(const Instant& now, const Aims& aims) const {
  StraightVoltage result = course_of(members_.front(), now, aims.front());
  for (std::size_t i = 1; i < members_.size(); ++i) {
    const StraightVoltage next = course_of(members_[i], now, aims[i]);
    if (adds_up_) {
      result.value += next.value;
      result.slope += next.slope;
    } else if (leads(next, result)) {
      result = next;
    }
  }
  return result;
}

// When the member in the lead is no longer the highest, s after since_.
std::optional<double> SlewedVoltage::overtaken() const {
  if (adds_up_) return std::nullopt;
  StraightVoltage lead = members_.front().course;
  for (const Member& member : members_) {
    if (leads(member.course, lead)) lead = member.course;
  }
  std::optional<double> first;
  for (const Member& member : members_) {
    const double closing = member.course.slope - lead.slope;
    if (closing <= 0 || same(member.course.value, lead.value)) continue;
    const double time = (lead.value - member.course.value) / closing;
    if (!first || time < *first) first = time;
  }
  return first;
}

void SlewedVoltage::add_course(const Instant& now, std::vector<double>& course) const {
  for (const Member& member : members_) {
    course.push_back(member.course.value + member.course.slope * now.since(since_));
    course.push_back(member.course.slope);
    course.push_back(member.meets ? std::max(since_.plus_seconds(*member.meets).since(now), 0.0) : 0);
  }
}

std::vector<Instant> SlewedVoltage::corners() const {
  std::vector<Instant> result;
  for (const Member& member : members_) {
    if (member.meets) result.push_back(since_.plus_seconds(*member.meets));
  }
  if (const std::optional<double> time = overtaken()) result.push_back(since_.plus_seconds(*time));
  return result;
}

}  // namespace rampart
