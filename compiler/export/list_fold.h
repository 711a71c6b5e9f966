#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/export/list_plan.h"

namespace rampart {

// Finds the shortest list that, played a number of times, gives a sequence of points. Keeps no more points than the
// memory holds, however long the sequence is.
class ListFold {
 public:
  // `runs_straight`: the supply runs from each point to the next. From the last point of a pass it has nothing to run
  // to, so passes are only folded that end on the level they begin with.
  explicit ListFold(std::int64_t memory, bool runs_straight = false) : memory_(memory), runs_straight_(runs_straight) {}

  void add(const ListPoint& point);

  struct Result {
    std::vector<ListPoint> points;
    std::int64_t passes = 1;
  };
  // Empty if it does not fit, in at most `passes` passes.
  [[nodiscard]] std::optional<Result> result(std::int64_t passes) const;
  // Of the whole sequence, unfolded.
  [[nodiscard]] std::int64_t count() const { return count_; }

 private:
  [[nodiscard]] bool can_begin_again(std::int64_t period) const;

  std::int64_t memory_;
  bool runs_straight_;
  std::int64_t count_ = 0;
  std::vector<ListPoint> first_;       // the first points, as many as the memory holds
  std::vector<std::int64_t> periods_;  // lengths after which the sequence may repeat itself, ascending
};

}  // namespace rampart
