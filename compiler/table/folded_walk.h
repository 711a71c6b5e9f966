#pragma once

#include <map>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

#include "compiler/timeline/timeline.h"

// Walks that see everything a profile does without making every pass: the passes of a loop are made until they end as
// an earlier one did, and the rest is left out.
namespace rampart {

// Decides how many of a loop's remaining passes bring nothing new.
template <class State>
class PassFolder {
 public:
  // At the end of a pass: how many of those to come are like it.
  [[nodiscard]] std::int64_t passes_to_skip(LoopId loop, std::int64_t pass, std::int64_t remaining, State state) {
    const auto [end, is_new] = ends_.try_emplace(loop);
    const bool seen = !is_new && pass > 1 && end->second == state;
    end->second = std::move(state);
    return seen ? remaining : 0;
  }

 private:
  std::map<LoopId, State> ends_;  // of the last pass of each loop
};

// What a walk remembers beside the setpoints and lines, as far as what is to come depends on it: nothing.
struct NoMemory {
  [[nodiscard]] bool at_end(const TimelinePassEnded&, const TimelineCursor&) const { return true; }
  void skipped(const TimelinePassEnded&, Nanoseconds) const {}
};

// Calls visit(item, cursor) for each item. Passes are only left out where memory.at_end(pass, cursor), asked at the end
// of each, was equal too; memory.skipped(pass, by) then tells by how much time goes on.
template <class Visit, class Memory>
void walk_folded(const Timeline& timeline, Visit&& visit, Memory&& memory) {
  using Remembered = decltype(memory.at_end(std::declval<const TimelinePassEnded&>(), timeline.walk()));
  using State = std::tuple<std::vector<RailState>, std::vector<bool>, Remembered>;
  PassFolder<State> folder;
  TimelineCursor cursor = timeline.walk();
  while (const std::optional<TimelineItem> item = cursor.next()) {
    visit(*item, cursor);
    const auto* pass = std::get_if<TimelinePassEnded>(&*item);
    if (pass == nullptr || pass->remaining == 0) continue;
    const std::int64_t passes = folder.passes_to_skip(pass->loop, pass->pass, pass->remaining,
                                                      {cursor.rails(), cursor.lines(), memory.at_end(*pass, cursor)});
    if (passes == 0) continue;
    const Nanoseconds before = cursor.now();
    cursor.skip_passes(passes);
    memory.skipped(*pass, cursor.now() - before);
  }
}

template <class Visit>
void walk_folded(const Timeline& timeline, Visit&& visit) {
  walk_folded(timeline, visit, NoMemory());
}

}  // namespace rampart
