#pragma once

#include <deque>
#include <map>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "compiler/table.h"
#include "compiler/timeline.h"

// Walks that see everything a profile does without making every pass: the passes of a loop are made until they end as
// an earlier one did, and the rest is left out.
namespace rampart {

// Decides how many of a loop's remaining passes bring nothing new.
template <class State>
class PassFolder {
 public:
  // At the end of a pass. Passes put their rows on the grid alike every `unit` passes.
  [[nodiscard]] std::int64_t passes_to_skip(LoopId loop, std::int64_t pass, std::int64_t remaining, std::int64_t unit,
                                            State state) {
    std::deque<State>& ends = ends_[loop];
    if (pass == 1) ends.clear();
    const bool seen = ends.size() == static_cast<std::size_t>(unit) && ends.front() == state;
    ends.push_back(std::move(state));
    if (ends.size() > static_cast<std::size_t>(unit)) ends.pop_front();
    return seen ? remaining / unit * unit : 0;
  }

 private:
  std::map<LoopId, std::deque<State>> ends_;  // of the last `unit` passes of each loop
};

// Calls visit(item, cursor) for each item.
template <class Visit>
void walk_folded(const Timeline& timeline, Visit&& visit) {
  using State = std::pair<std::vector<RailState>, std::vector<bool>>;
  PassFolder<State> folder;
  TimelineCursor cursor = timeline.walk();
  while (const std::optional<TimelineItem> item = cursor.next()) {
    visit(*item, cursor);
    const auto* pass = std::get_if<TimelinePassEnded>(&*item);
    if (pass == nullptr || pass->remaining == 0) continue;
    const std::int64_t skipped =
        folder.passes_to_skip(pass->loop, pass->pass, pass->remaining, 1, {cursor.rails(), cursor.lines()});
    if (skipped > 0) cursor.skip_passes(skipped);
  }
}

template <class Visit>
void walk_folded(const Table& table, Visit&& visit) {
  PassFolder<std::string> folder;
  RowCursor cursor = table.rows();
  while (const std::optional<TableItem> item = cursor.next()) {
    visit(*item, cursor);
    const auto* pass = std::get_if<PassEnded>(&*item);
    if (pass == nullptr || pass->remaining == 0) continue;
    const std::int64_t skipped =
        folder.passes_to_skip(pass->loop, pass->pass, pass->remaining, pass->unit, cursor.state());
    if (skipped > 0) cursor.skip_passes(skipped);
  }
}

}  // namespace rampart
