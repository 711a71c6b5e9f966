#pragma once

#include <cstdint>
#include <vector>

#include "runtime/waveform/waveform.h"

namespace rampart {

// What nodes take to keep, in samples.
[[nodiscard]] std::int64_t weight_of(const std::vector<WaveNode>& nodes);

// Integrals of each quantity and of its square over `time` s.
struct WaveSums {
  double time = 0;
  WaveValues first{};
  WaveValues second{};

  void add(const WaveSums& other, double times = 1);
};

// Joins courses that take too much to keep into bands of at least `shortest` s, of which the least and the greatest
// values are known. Where a course takes no more than bands would, and in loops whose passes are longer, it stays.
class Condenser {
 public:
  explicit Condenser(double shortest) : shortest_(shortest) {}

  // Nodes come in order, one after another without gaps.
  void add(WaveNode node);
  // All of them, condensed. Those that stay keep their `begin` to the bit.
  [[nodiscard]] std::vector<WaveNode> take();

 private:
  [[nodiscard]] bool is_light(const WaveNode& node) const;
  void absorb(const WaveStretch& stretch, double begin);
  void absorb(const WaveRange& range, const WaveSums& sums, double begin, double end);
  void begin_at(double time, const WaveRange& range);
  void close();

  double shortest_;
  std::vector<WaveNode> done_;
  bool is_open_ = false;
  WaveNode open_;  // a band that is being joined
  WaveBand course_;
  WaveSums sums_;
};

}  // namespace rampart
