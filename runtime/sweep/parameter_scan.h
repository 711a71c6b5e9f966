#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "runtime/sweep/sweep.h"
#include "runtime/sweep/trial.h"
#include "runtime/sweep/value_grid.h"

namespace rampart::sweep {

// One parameter, tried at values of its grid: coarsely at first, then wherever the errors change. Trials are kept by
// their place on the grid, so threads change nothing.
class ParameterScan {
 public:
  // `grid` with its step; `range` is what the texts of its values depend on.
  ParameterScan(const Trials& trials, std::string name, const ValueGrid& grid, const Range<Quantity>& range,
                const Quantity& step);

  // Tries what is not tried yet.
  void scan(const Job& job);
  // Halves the way between neighbours whose errors differ until there is nothing between them.
  void refine(const Job& job);
  const Trial& try_one(std::int64_t index, const Job& job);

  [[nodiscard]] ParameterSweep result(const Trial& present) const;
  [[nodiscard]] const std::map<std::int64_t, Trial>& trials() const { return trials_; }
  [[nodiscard]] const ValueGrid& grid() const { return grid_; }
  [[nodiscard]] std::string setting_at(std::int64_t index) const;

 private:
  void try_all(const std::vector<std::int64_t>& indices, const Job& job);
  [[nodiscard]] Quantity value_at(std::int64_t index) const;
  [[nodiscard]] std::vector<Interval> intervals() const;

  const Trials& tries_;
  std::string name_;
  ValueGrid grid_;
  Range<Quantity> range_;
  Quantity step_;
  std::map<std::int64_t, Trial> trials_;
  bool refined_ = true;
};

}  // namespace rampart::sweep
