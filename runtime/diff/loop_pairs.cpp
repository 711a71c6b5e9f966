#include "runtime/diff/loop_pairs.h"

#include <cstddef>
#include <variant>
#include <vector>

namespace rampart::diff {
namespace {

struct NestedLoop {
  LoopId id{};
  std::size_t depth = 0;
};

void add_loops(const Timeline& timeline, const Program& program, std::size_t depth, std::vector<NestedLoop>& loops) {
  for (const Statement& statement : program) {
    if (const auto* repeat = std::get_if<Repeat>(&statement.what)) {
      loops.push_back({timeline.loop_id(statement), depth});
      add_loops(timeline, repeat->body, depth + 1, loops);
    } else if (const auto* track = std::get_if<Track>(&statement.what)) {
      add_loops(timeline, track->body, depth, loops);
    }
  }
}

}  // namespace

LoopPairs::LoopPairs(const Timeline& before, const Timeline& after) {
  std::vector<NestedLoop> old_loops;
  std::vector<NestedLoop> new_loops;
  add_loops(before, before.program(), 0, old_loops);
  add_loops(after, after.program(), 0, new_loops);
  if (old_loops.size() != new_loops.size()) return;
  for (std::size_t i = 0; i < old_loops.size(); ++i) {
    if (old_loops[i].depth != new_loops[i].depth) {
      partners_.clear();
      return;
    }
    partners_[old_loops[i].id] = new_loops[i].id;
  }
}

bool LoopPairs::are_paired(LoopId before, LoopId after) const {
  const auto found = partners_.find(before);
  return found != partners_.end() && found->second == after;
}

}  // namespace rampart::diff
