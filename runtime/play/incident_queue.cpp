#include "runtime/play/incident_queue.h"

namespace rampart {

std::optional<Instant> IncidentQueue::next() const {
  std::optional<Instant> next;
  if (fault_ != nullptr) next = fault_->at;
  if (assertion_ != nullptr && (!next || assertion_->at.since(*next) < 0)) next = assertion_->at;
  if (cut_off_ != nullptr && (!next || cut_off_->at.since(*next) < 0)) next = cut_off_->at;
  return next;
}

void IncidentQueue::inject(Rig& rig, const Instant& now) {
  for (const auto& rail : rig.rails()) {
    if (rail->id() != fault_->rail) continue;
    fault_record_ = FaultRecord{rail->id(), now.seconds(), rail->sums().energy.value(), rail->sums().i2t.value()};
    rail->replace_load(fault_->becomes, now);
  }
  fault_ = nullptr;
}

void IncidentQueue::assert_line(const Profile& profile, Rig& rig, const Instant& now, const Passes& passes) {
  const Line& line = profile[assertion_->line];
  rig.set_line(assertion_->line, true, now, {line.span, passes});
  rig.interlock(line, now);
  asserted_ = true;
  assertion_ = nullptr;
  rig.follow_lines(now, passes);
}

void IncidentQueue::cut_off(Rig& rig, const Instant& now) {
  for (const RailId rail : cut_off_->rails) rig.rails()[static_cast<std::size_t>(rail)]->cut_off(now);
  cut_off_ = nullptr;
}

void IncidentQueue::add_to(Simulation& result) const {
  result.fault = fault_record_;
  result.asserted = asserted_;
}

}  // namespace rampart
