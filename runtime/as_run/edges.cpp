#include "runtime/as_run/edges.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

namespace rampart::as_run {
namespace {

// The samples of one rail that are looked at: those of a run that is longer say no more about its levels.
constexpr std::int64_t kMostSamples = 2'000'000;
constexpr std::size_t kBins = 200;
// Levels are looked for in this many parts of the range, one in each.
constexpr std::size_t kParts = 5;
// A rail that moves less, V, has no edges.
constexpr double kLeastRange = 0.05;
// How far a value must get past a level, as a share of the range.
constexpr double kRoom = 0.02;
// A level may have this share of the time within `kRoom` of it.
constexpr double kMostRest = 0.1;

double volts_of(const WaveSample& sample) {
  return sample.values[static_cast<std::size_t>(WaveQuantity::TerminalVoltage)];
}

// How long a voltage stays in each part of its range.
class Rests {
 public:
  Rests(double low, double high) : low_(low), width_((high - low) / kBins) {}

  void add(double a, double b, double time) {
    total_ += time;
    const std::size_t first = bin(std::min(a, b));
    const std::size_t last = bin(std::max(a, b));
    for (std::size_t i = first; i <= last; ++i) times_[i] += time / static_cast<double>(last - first + 1);
  }
  // The share of the time within `kRoom` of the range around a value.
  [[nodiscard]] double around(double value) const {
    if (total_ <= 0) return 0;
    constexpr auto kSpan = static_cast<std::size_t>(kRoom * kBins) + 1;
    const std::size_t middle = bin(value);
    double time = 0;
    for (std::size_t i = middle - std::min(middle, kSpan); i <= std::min(middle + kSpan, kBins - 1); ++i) {
      time += times_[i];
    }
    return time / total_;
  }

 private:
  [[nodiscard]] std::size_t bin(double value) const {
    return static_cast<std::size_t>(std::clamp((value - low_) / width_, 0.0, static_cast<double>(kBins - 1)));
  }
  double low_;
  double width_;
  std::array<double, kBins> times_{};
  double total_ = 0;
};

RailLevels levels_of_rail(const RailWaveform& rail) {
  if (rail.nodes.empty()) return {};
  constexpr auto kVolts = static_cast<std::size_t>(WaveQuantity::TerminalVoltage);
  double low = rail.nodes.front().range.low[kVolts];
  double high = rail.nodes.front().range.high[kVolts];
  for (const WaveNode& node : rail.nodes) {
    low = std::min(low, node.range.low[kVolts]);
    high = std::max(high, node.range.high[kVolts]);
  }
  const double range = high - low;
  if (range < kLeastRange) return {};
  Rests rests(low, high);
  WaveCursor cursor(rail);
  std::optional<WaveSample> last = cursor.next();
  for (std::int64_t i = 0; last && i < kMostSamples; ++i) {
    const std::optional<WaveSample> next = cursor.next();
    if (!next) break;
    rests.add(volts_of(*last), volts_of(*next), next->time - last->time);
    last = next;
  }
  RailLevels result;
  result.room = kRoom * range;
  constexpr std::size_t kTries = 4;
  for (std::size_t part = 0; part < kParts; ++part) {
    double best = 0;
    double least = 2;
    for (std::size_t i = 0; i < kTries; ++i) {
      // From 6 % to 94 % of the range.
      const double share = 0.06 + 0.88 * static_cast<double>(part * kTries + i) / (kParts * kTries - 1);
      const double rest = rests.around(low + share * range);
      if (rest < least) {
        least = rest;
        best = low + share * range;
      }
    }
    if (least <= kMostRest) result.levels.push_back(best);
  }
  return result;
}

}  // namespace

std::vector<RailLevels> levels_of(const Waveforms& waveforms) {
  std::vector<RailLevels> levels;
  for (const RailWaveform& rail : waveforms.rails) levels.push_back(levels_of_rail(rail));
  return levels;
}

EdgeWatch::EdgeWatch(std::size_t rail, const RailLevels& levels)
    : rail_(rail), levels_(levels), states_(levels.levels.size()) {}

void EdgeWatch::take(double time, double volts, std::vector<Edge>& edges) {
  for (std::size_t i = 0; i < states_.size(); ++i) follow(i, time, volts, edges);
  last_time_ = time;
  last_volts_ = volts;
}

void EdgeWatch::follow(std::size_t level, double time, double volts, std::vector<Edge>& edges) {
  State& state = states_[level];
  const double height = volts - levels_.levels[level];
  if (!state.above) {
    if (std::abs(height) >= levels_.room) state.above = height > 0;
    return;
  }
  const bool is_above = height > 0;
  if (is_above == *state.above) {
    state.passed.reset();
    return;
  }
  if (!state.passed && last_time_) {
    const double last_height = last_volts_ - levels_.levels[level];
    const double share = last_height == height ? 1 : std::clamp(last_height / (last_height - height), 0.0, 1.0);
    state.passed = Edge{rail_, level, is_above, *last_time_ + share * (time - *last_time_), *last_time_, time};
  }
  if (!state.passed || std::abs(height) < levels_.room) return;
  if (edges.size() < kMostEdges) edges.push_back(*state.passed);
  state.passed.reset();
  state.above = is_above;
}

std::vector<Edge> edges_of(const Waveforms& waveforms, const std::vector<RailLevels>& levels) {
  std::vector<Edge> all;
  for (std::size_t i = 0; i < waveforms.rails.size(); ++i) {
    if (levels[i].levels.empty()) continue;
    EdgeWatch watch(i, levels[i]);
    std::vector<Edge> edges;
    WaveCursor cursor(waveforms.rails[i]);
    while (const std::optional<WaveSample> sample = cursor.next()) {
      watch.take(sample->time, volts_of(*sample), edges);
      if (edges.size() >= kMostEdges / waveforms.rails.size()) break;
    }
    all.insert(all.end(), edges.begin(), edges.end());
  }
  std::stable_sort(all.begin(), all.end(), [](const Edge& a, const Edge& b) { return a.time < b.time; });
  // Of a rail that was cut short the others' later edges have no company.
  return all;
}

}  // namespace rampart::as_run
