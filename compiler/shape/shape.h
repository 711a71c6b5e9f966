#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/findings/resolve.h"
#include "lang/text/source.h"
#include "lang/values/quantity.h"

// The points of a `waveform`, whether a profile or a file of its own has them.
namespace rampart {

struct ShapePoint {
  Nanoseconds time{0};  // from the start of the waveform
  Volts voltage;
  Span span;
};
using Shape = std::vector<ShapePoint>;

// Bounds of one waveform, and of its file.
inline constexpr std::size_t kMaxShapePoints = 100'000;
inline constexpr std::size_t kMaxShapeBytes = std::size_t{8} << 20;

// False, with a finding, unless the shape has two points or more, begins at 0 s, and never goes back in time. Two
// points at one time are a step, three are a mistake. `whole` is the place of a shape that is too short;
// `report(kind, span, arguments...)` gives the FindingSink::Addition.
template <class Report>
bool check_shape(const Shape& shape, const Span& whole, Report&& report) {
  if (shape.size() < 2) {
    report(finding::WaveformTooFew, whole).hint("give a start and a target");
    return false;
  }
  if (shape.front().time != Nanoseconds{0}) {
    report(finding::WaveformStartsLate, shape.front().span, shape.front().time)
        .hint("begin with the setpoint of the rail at 0 s");
    return false;
  }
  for (std::size_t i = 1; i < shape.size(); ++i) {
    const Nanoseconds before = shape[i - 1].time;
    if (shape[i].time < before) {
      report(finding::WaveformGoesBack, shape[i].span, shape[i].time, before)
          .hint("times count from the start of the waveform, not from the point before");
      return false;
    }
    if (i > 1 && shape[i].time == before && shape[i - 2].time == before) {
      report(finding::WaveformThreeAtOnce, shape[i].span, before)
          .hint("two points at one time are a step; a point between them has no effect");
      return false;
    }
  }
  return true;
}

// Reads a file of points: comma-separated text whose first line names a time and a voltage with their units
// ("time_s,voltage_V", "time_ms,voltage_mV"), then one point a line. Empty lines and lines that begin with `#` are left
// out. Numbers are decimal, with an exponent where they have one, and exact. Empty, with findings, where the file is
// none such, or exceeds a bound.
[[nodiscard]] std::optional<Shape> read_shape(const SourceFile& file, FindingSink& findings);

}  // namespace rampart
