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
  explicit ListFold(std::int64_t memory) : memory_(memory) {}

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
  std::int64_t memory_;
  std::int64_t count_ = 0;
  std::vector<ListPoint> first_;       // the first points, as many as the memory holds
  std::vector<std::int64_t> periods_;  // lengths after which the sequence may repeat itself, ascending
};

}  // namespace rampart
