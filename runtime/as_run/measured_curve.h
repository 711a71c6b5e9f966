#pragma once

#include <cstddef>
#include <vector>

#include "runtime/as_run/answer.h"
#include "runtime/as_run/rail_readings.h"

namespace rampart::as_run {

// The readings of one rail for a drawing: as they are, or where there are too many the least and the greatest of as
// many successive ones as it takes. Of any number it keeps at most kMostPoints.
class MeasuredCurve {
 public:
  static constexpr std::size_t kMostPoints = 4000;

  // Times never go back. `sign`: -1 for a reversed rail, whose power is positive.
  void take(const RailReading& reading, double run_s, double sign);
  [[nodiscard]] const std::vector<MeasuredPoint>& points() const { return points_; }

 private:
  std::vector<MeasuredPoint> points_;
  std::size_t each_ = 1;   // readings in a point
  std::size_t count_ = 0;  // in the last one
};

}  // namespace rampart::as_run
