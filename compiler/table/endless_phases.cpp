#include "compiler/table/endless_phases.h"

#include <string_view>

#include "compiler/table/folded_walk.h"

namespace rampart {
namespace {

struct PhaseState {
  EndlessPhase phase;
  const Phase* marks = nullptr;
  bool open = false;
};

class PhaseWalk {
 public:
  explicit PhaseWalk(const Profile& profile) {
    for (std::size_t i = 0; i < profile.rules.size(); ++i) {
      if (profile.rules[i].phase) phases_.push_back({{i, false}, &*profile.rules[i].phase, false});
    }
  }

  std::vector<EndlessPhase> walk(const Timeline& timeline) {
    if (phases_.empty()) return {};
    walk_folded(
        timeline,
        [this](const TimelineItem& item, const TimelineCursor&) {
          const auto* const* block = std::get_if<const Block*>(&item);
          if (block == nullptr) return;
          for (const MarkMove& mark : (*block)->marks) meet(mark.mark->name);
        },
        OpenPhases{*this});
    std::vector<EndlessPhase> endless;
    for (const PhaseState& state : phases_) {
      if (state.open) endless.push_back(state.phase);
    }
    return endless;
  }

 private:
  struct OpenPhases {
    const PhaseWalk& walk;
    [[nodiscard]] std::vector<bool> at_end(const TimelinePassEnded&, const TimelineCursor&) const {
      std::vector<bool> open;
      for (const PhaseState& state : walk.phases_) open.push_back(state.open);
      return open;
    }
    void skipped(const TimelinePassEnded&, Nanoseconds) const {}
  };

  void meet(std::string_view mark) {
    for (PhaseState& state : phases_) {
      if (mark == state.marks->to) {
        state.phase.ended_before = state.phase.ended_before || !state.open;
        state.open = false;
      }
      if (mark == state.marks->from) state.open = true;
    }
  }

  std::vector<PhaseState> phases_;
};

}  // namespace

std::vector<EndlessPhase> endless_phases(const Timeline& timeline) {
  return PhaseWalk(timeline.profile()).walk(timeline);
}

}  // namespace rampart
