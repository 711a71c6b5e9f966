#include "runtime/play/incident_queue.h"

#include <algorithm>

namespace rampart {

IncidentQueue::IncidentQueue(const Incidents& incidents)
    : fault_(incidents.fault ? &*incidents.fault : nullptr),
      assertion_(incidents.assertion ? &*incidents.assertion : nullptr),
      cut_off_(incidents.cut_off ? &*incidents.cut_off : nullptr),
      waits_(incidents.waits),
      commanded_(incidents.commanded) {
  for (const Commanded& one : commanded_) {
    const bool is_known = std::any_of(replaced_.begin(), replaced_.end(),
                                      [&](const Replaced& known) { return known.channel == one.row.channel; });
    if (!is_known) replaced_.push_back({one.row.channel, one.at});
  }
}

std::optional<Instant> IncidentQueue::next() const {
  std::optional<Instant> next;
  if (fault_ != nullptr) next = fault_->at;
  if (assertion_ != nullptr && (!next || assertion_->at.since(*next) < 0)) next = assertion_->at;
  if (cut_off_ != nullptr && (!next || cut_off_->at.since(*next) < 0)) next = cut_off_->at;
  if (!commanded_.empty() && (!next || commanded_.front().at.since(*next) < 0)) next = commanded_.front().at;
  return next;
}

bool IncidentQueue::replaces(ChannelId channel, const Instant& now) const {
  return std::any_of(replaced_.begin(), replaced_.end(),
                     [&](const Replaced& one) { return one.channel == channel && is_due(one.from, now); });
}

const Row* IncidentQueue::take_commanded(const Instant& now) {
  if (commanded_.empty() || !is_due(commanded_.front().at, now)) return nullptr;
  const Row& row = commanded_.front().row;
  commanded_ = commanded_.subspan(1);
  return &row;
}

void IncidentQueue::leave_commanded() {
  commanded_ = {};
  replaced_.clear();
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
