#pragma once

#include <vector>

namespace rampart::rules {

struct Knot {
  double time = 0;
  double value = 0;
};

// A continuous line of straight parts. Knots come in the order of their times; all lines of one piece begin and end at
// the same two times, or consist of the same one knot.
using BrokenLine = std::vector<Knot>;

[[nodiscard]] double value_at(const BrokenLine& line, double time);
// The lower, or the upper, of two lines at each time: with knots where they cross.
[[nodiscard]] BrokenLine lower_of(const BrokenLine& a, const BrokenLine& b);
[[nodiscard]] BrokenLine upper_of(const BrokenLine& a, const BrokenLine& b);
[[nodiscard]] BrokenLine negative_of(BrokenLine line);

}  // namespace rampart::rules
