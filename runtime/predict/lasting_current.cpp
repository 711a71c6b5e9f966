#include "runtime/predict/lasting_current.h"

#include <algorithm>

#include "runtime/rail/rail_run.h"

namespace rampart {
namespace {

constexpr double kSection = kLastingSeconds / 8;
// What goes on for longer than the first sections of a piece changes slowly: the rest is cut into so many.
constexpr int kFirstSections = 16;
constexpr int kLaterSections = 16;

}  // namespace

void LastingCurrent::take(std::size_t index, const RailRun& rail, double /*sign*/, const Instant& /*from*/,
                          double length) {
  if (length <= 0) return;
  const circuit::Signal& current = rail.circuit().piece().terminal_current;
  Track& track = tracks_[index];
  // No spell with a part of this piece in it is higher than what is known.
  if (current.bounds(0, 1).high <= track.highest) {
    track.last.clear();
    track.length = 0;
    return;
  }
  double begin = 0;
  double before = current.value(0);
  const double late = std::max((length - kFirstSections * kSection) / kLaterSections, kSection);
  for (int i = 0; begin < length; ++i) {
    const double end = std::min(begin + (i < kFirstSections ? kSection : late), length);
    const double after = current.value(end / length);
    add(track, {end - begin, std::min(before, after)});
    begin = end;
    before = after;
  }
}

void LastingCurrent::add(Track& track, const Section& section) {
  track.last.push_back(section);
  track.length += section.length;
  while (track.length - track.last.front().length >= kLastingSeconds) {
    track.length -= track.last.front().length;
    track.last.pop_front();
  }
  if (track.length < kLastingSeconds * (1 - 1e-9)) return;
  const auto lowest = std::min_element(track.last.begin(), track.last.end(),
                                       [](const Section& a, const Section& b) { return a.current < b.current; });
  track.highest = std::max(track.highest, lowest->current);
}

std::vector<double> LastingCurrent::currents() const {
  std::vector<double> result;
  for (const Track& track : tracks_) result.push_back(track.highest);
  return result;
}

}  // namespace rampart
