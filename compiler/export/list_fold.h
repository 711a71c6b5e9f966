#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/export/list_plan.h"

namespace rampart {

// Finds the shortest list that, played a number of times, gives a sequence of points. Keeps no more than twice the
// points that the memory holds, however long the sequence is.
class ListFold {
 public:
  // `runs_straight`: the supply runs from each point to the next. From the last point of a pass it has nothing to run
  // to, so passes are only folded that end on the level they begin with.
  explicit ListFold(std::int64_t memory, bool runs_straight = false) : memory_(memory), runs_straight_(runs_straight) {}

  void add(const ListPoint& point);
  // Adds the last `points` points `times` times more. False, and nothing is added, where they have to be added one by
  // one to see what becomes of the sequence.
  [[nodiscard]] bool repeat(std::int64_t points, std::int64_t times);

  struct Result {
    std::vector<ListPoint> points;
    std::int64_t passes = 1;
  };
  // Empty if it does not fit, in at most `passes` passes.
  [[nodiscard]] std::optional<Result> result(std::int64_t passes) const;
  // Of the whole sequence, unfolded.
  [[nodiscard]] std::int64_t count() const { return count_; }

 private:
  [[nodiscard]] bool is_beyond() const { return period_ == 0 && count_ > 0; }
  [[nodiscard]] const ListPoint& first(std::int64_t index) const { return first_[static_cast<std::size_t>(index)]; }
  void keep(const ListPoint& point);
  [[nodiscard]] bool can_begin_again() const;

  std::int64_t memory_;
  bool runs_straight_;
  std::int64_t count_ = 0;
  std::vector<ListPoint> first_;       // the first points, as many as decide whether there is a period at all
  std::vector<std::int64_t> borders_;  // of each start of them: how many of its first points are its last ones too
  std::int64_t period_ = 0;            // the least after which the sequence repeats itself; 0: beyond the memory
};

}  // namespace rampart
