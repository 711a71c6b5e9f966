#include "compiler/rules/broken_line.h"

#include <algorithm>

namespace rampart::rules {
namespace {

// The times of both lines, each once.
std::vector<double> times_of(const BrokenLine& a, const BrokenLine& b) {
  std::vector<double> times;
  for (const Knot& knot : a) times.push_back(knot.time);
  for (const Knot& knot : b) times.push_back(knot.time);
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
  return times;
}

template <class Choose>
BrokenLine chosen_of(const BrokenLine& a, const BrokenLine& b, const Choose& choose) {
  BrokenLine result;
  double last_difference = 0;
  for (const double time : times_of(a, b)) {
    const double from_a = value_at(a, time);
    const double from_b = value_at(b, time);
    const double difference = from_a - from_b;
    if (!result.empty() && last_difference * difference < 0) {
      const double share = last_difference / (last_difference - difference);
      const double crossing = result.back().time + (time - result.back().time) * share;
      result.push_back({crossing, value_at(a, crossing)});
    }
    result.push_back({time, choose(from_a, from_b)});
    last_difference = difference;
  }
  return result;
}

}  // namespace

double value_at(const BrokenLine& line, double time) {
  const auto next =
      std::upper_bound(line.begin(), line.end(), time, [](double t, const Knot& knot) { return t < knot.time; });
  if (next == line.end()) return line.back().value;
  if (next == line.begin()) return line.front().value;
  const Knot& from = *(next - 1);
  if (from.value == next->value) return from.value;
  return from.value + (next->value - from.value) * ((time - from.time) / (next->time - from.time));
}

BrokenLine lower_of(const BrokenLine& a, const BrokenLine& b) {
  return chosen_of(a, b, [](double x, double y) { return std::min(x, y); });
}

BrokenLine upper_of(const BrokenLine& a, const BrokenLine& b) {
  return chosen_of(a, b, [](double x, double y) { return std::max(x, y); });
}

BrokenLine negative_of(BrokenLine line) {
  for (Knot& knot : line) knot.value = -knot.value;
  return line;
}

}  // namespace rampart::rules
