#pragma once

#include <vector>

#include "compiler/checks/rail_course.h"

// Setpoint times current limit over time. Both run straight between the instants at which something changes, so their
// product is a parabola there, whose highest point is taken exactly.
namespace rampart::checks {

// What one rail brings to a sum.
struct PowerTerm {
  RailId rail{};
  Point point;
  Rational share;  // of its power that the supply gives
  Way way;         // on which it is there
};

// The highest power of one rail or supply, and where it is reached first.
struct PowerPeak {
  Rational power;
  Nanoseconds time{0};      // from the start of the segment
  std::size_t segment = 0;  // counted from 0
  std::int64_t pass = 0;    // of the innermost loop; 0 outside
  bool in_safe = false;
  std::vector<PowerTerm> terms;  // of the rails that are on, in the order of the profile; none: 0 W
};

struct PowerPeaks {
  std::vector<PowerPeak> rails;     // by RailId
  std::vector<PowerPeak> supplies;  // by SupplyId; only of those that come to more than they can give
};

// `abilities` are those of the table's rails, in their order; `may_be_on` as CourseWalk takes it.
[[nodiscard]] PowerPeaks power_peaks(const Table& table, const std::vector<Abilities>& abilities, bool is_safe,
                                     const std::vector<bool>& may_be_on = {});

}  // namespace rampart::checks
