#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <utility>

#include "runtime/sweep/parameter_scan.h"

namespace rampart::sweep {

// Looks along a scan for the value that reaches the goal, among those that hold, that a setting can give and that meet
// the demand.
class BestSearch {
 public:
  BestSearch(ParameterScan& scan, Goal goal, const Demand& demand, const Job& job)
      : scan_(scan), goal_(goal), demand_(demand), job_(job) {}

  // The place on the grid of the best value; of equals the lowest. Values are tried at even distances, then down to
  // the step around the best one; of a duration or energy it is taken to change one way between values that were tried.
  [[nodiscard]] std::optional<std::int64_t> find();
  // The value that comes nearest, where there is none: of those that were tried, where all fail in a plain run; else
  // corners are gone through at even distances, then on either side of the nearest, at half the distance each time.
  [[nodiscard]] Weighed nearest();
  // Judges the demand at the values between both ends of these gaps that find() begins with.
  void judge(std::size_t first_gap, std::size_t end_gap);

 private:
  [[nodiscard]] bool asks_more() const { return demand_.corners || demand_.keep > 0; }
  [[nodiscard]] bool is_usable(std::int64_t index, const Trial& trial) const;
  // Less is better.
  [[nodiscard]] double badness(std::int64_t index, const Trial& trial) const;
  [[nodiscard]] std::vector<std::int64_t> first_values() const;
  bool stands(std::int64_t index);
  // Between the best value and what is known beside it.
  [[nodiscard]] std::optional<std::int64_t> next_to(std::int64_t best) const;

  ParameterScan& scan_;
  Goal goal_;
  Demand demand_;
  Job job_;
  std::map<std::int64_t, bool> known_;  // by place: whether it can be the best
};

}  // namespace rampart::sweep
