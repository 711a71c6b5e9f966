#include "runtime/play/milestones.h"

#include <bit>
#include <utility>

#include "runtime/play/rig.h"

namespace rampart {

void Milestones::note(std::int64_t items, const Rig& rig, const Instant& now) {
  if (rig.switched_on() != switched_on_) {
    switched_on_ = rig.switched_on();
    since_ = items;
    states_.clear();
  }
  // At distances that double, so there are few.
  const std::int64_t apart = items - since_;
  if (apart != 0 && !std::has_single_bit(static_cast<std::uint64_t>(apart))) return;
  Milestone state{items, now, {}};
  if (rig.add_memory(now, state.memory)) states_.push_back(std::move(state));
}

bool Milestones::Comparison::meets(std::int64_t items, const Rig& rig, const Instant& now) {
  const std::vector<Milestone>& states = known_->states_;
  while (next_ < states.size() && states[next_].items < items) ++next_;
  if (next_ == states.size() || states[next_].items != items) return false;
  const Milestone& known = states[next_];
  if (known.now.since(now) != 0) return false;
  std::vector<double> memory;
  return rig.add_memory(now, memory) && memory == known.memory;
}

}  // namespace rampart
