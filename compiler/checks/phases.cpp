#include <string_view>

#include "compiler/checks/families.h"
#include "compiler/table/folded_walk.h"
#include "lang/findings/timeline.h"

// Phases of rules that begin and do not end.
namespace rampart::checks {
namespace {

struct PhaseState {
  const Rule* rule = nullptr;
  bool open = false;
  bool ended_before = false;  // its last mark was reached while it was not open
};

class PhaseCheck {
 public:
  explicit PhaseCheck(const Profile& profile) {
    for (const Rule& rule : profile.rules) {
      if (rule.phase) phases_.push_back({&rule, false, false});
    }
  }

  void walk(const Timeline& timeline) {
    if (phases_.empty()) return;
    walk_folded(
        timeline,
        [this](const TimelineItem& item, const TimelineCursor&) {
          const auto* const* block = std::get_if<const Block*>(&item);
          if (block == nullptr) return;
          for (const MarkMove& mark : (*block)->marks) meet(mark.mark->name);
        },
        OpenPhases{*this});
  }

  void report(const Context& context) const {
    for (const PhaseState& state : phases_) {
      if (!state.open) continue;
      const Phase& phase = *state.rule->phase;
      context.report(finding::PhaseNotEnded, phase.to_span, nullptr, state.rule->name, phase.to, phase.from)
          .hint(state.ended_before ? "the mark where the phase begins comes first: swap the two"
                                   : "put the mark where the phase ends");
    }
  }

 private:
  struct OpenPhases {
    const PhaseCheck& check;
    [[nodiscard]] std::vector<bool> at_end(const TimelinePassEnded&, const TimelineCursor&) const {
      std::vector<bool> open;
      for (const PhaseState& state : check.phases_) open.push_back(state.open);
      return open;
    }
    void skipped(const TimelinePassEnded&, Nanoseconds) const {}
  };

  void meet(std::string_view mark) {
    for (PhaseState& state : phases_) {
      if (mark == state.rule->phase->to) {
        state.ended_before = state.ended_before || !state.open;
        state.open = false;
      }
      if (mark == state.rule->phase->from) state.open = true;
    }
  }

  std::vector<PhaseState> phases_;
};

}  // namespace

void check_phases(const Context& context) {
  PhaseCheck check(context.profile);
  check.walk(context.run.timeline());
  check.report(context);
}

}  // namespace rampart::checks
