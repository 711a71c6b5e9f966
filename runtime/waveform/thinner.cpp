#include "runtime/waveform/thinner.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace rampart {

void Thinner::add(const WaveSample& sample) {
  if (kept_.empty()) {
    begin_at(sample);
    return;
  }
  if (jumps_to(sample)) {
    keep();
    begin_at(sample);
    return;
  }
  if (!reaches(sample)) keep();
  last_ = sample;
  has_last_ = true;
  narrow(sample);
}

void Thinner::keep() {
  if (has_last_) begin_at(last_);
}

std::vector<WaveSample> Thinner::take() {
  keep();
  return std::exchange(kept_, {});
}

void Thinner::begin_at(const WaveSample& sample) {
  kept_.push_back(sample);
  has_last_ = false;
  lowest_.fill(-std::numeric_limits<double>::infinity());
  highest_.fill(std::numeric_limits<double>::infinity());
}

bool Thinner::jumps_to(const WaveSample& sample) const {
  const WaveSample& before = has_last_ ? last_ : kept_.back();
  if (sample.time > before.time) return false;
  for (std::size_t i = 0; i < kWaveQuantities; ++i) {
    if (std::abs(sample.values[i] - before.values[i]) > error_[i]) return true;
  }
  return false;
}

bool Thinner::reaches(const WaveSample& sample) const {
  const WaveSample& from = kept_.back();
  const double length = sample.time - from.time;
  for (std::size_t i = 0; i < kWaveQuantities; ++i) {
    const double rise = sample.values[i] - from.values[i];
    if (length <= 0) {
      if (std::abs(rise) > error_[i]) return false;
    } else if (rise < lowest_[i] * length || rise > highest_[i] * length) {
      return false;
    }
  }
  return true;
}

void Thinner::narrow(const WaveSample& sample) {
  const WaveSample& from = kept_.back();
  const double length = sample.time - from.time;
  if (length <= 0) return;
  for (std::size_t i = 0; i < kWaveQuantities; ++i) {
    const double rise = sample.values[i] - from.values[i];
    lowest_[i] = std::max(lowest_[i], (rise - error_[i]) / length);
    highest_[i] = std::min(highest_[i], (rise + error_[i]) / length);
  }
}

}  // namespace rampart
