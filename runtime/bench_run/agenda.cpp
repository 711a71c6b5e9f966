#include "runtime/bench_run/agenda.h"

#include <algorithm>
#include <tuple>

namespace rampart::bench_run {

Agenda::Agenda(const SegmentBegin& begin) {
  for (const TableMark& mark : begin.marks) all_.push_back({mark.time, Act::Mark, mark.name, {}});
  for (const TableMeasurement& one : begin.measurements) {
    all_.push_back({std::max(Nanoseconds::zero(), one.time - one.over), Act::BeginMeasurement, one.name, one.over});
    all_.push_back({one.time, Act::EndMeasurement, one.name, one.over});
  }
  std::stable_sort(all_.begin(), all_.end(),
                   [](const Due& a, const Due& b) { return std::tie(a.time, a.act) < std::tie(b.time, b.act); });
}

std::optional<Nanoseconds> Agenda::next_time() const {
  if (next_ == all_.size()) return std::nullopt;
  return all_[next_].time;
}

const Due* Agenda::next_before(Nanoseconds time) {
  if (next_ == all_.size() || all_[next_].time > time) return nullptr;
  return &all_[next_++];
}

}  // namespace rampart::bench_run
