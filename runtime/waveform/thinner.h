#pragma once

#include <vector>

#include "runtime/waveform/waveform.h"

namespace rampart {

// Keeps as few of the samples that come in as straight lines between them allow: a line from one kept sample to the
// next passes each sample left out within `error`. Both sides of a jump beyond that are kept.
class Thinner {
 public:
  explicit Thinner(const WaveValues& error) : error_(error) {}

  // Times never decrease.
  void add(const WaveSample& sample);
  // Keeps the last sample that came.
  void keep();
  // What is kept, the last sample being kept too. A new course begins.
  [[nodiscard]] std::vector<WaveSample> take();
  [[nodiscard]] bool empty() const { return kept_.empty(); }
  [[nodiscard]] std::size_t size() const { return kept_.size(); }

 private:
  void begin_at(const WaveSample& sample);
  [[nodiscard]] bool jumps_to(const WaveSample& sample) const;
  [[nodiscard]] bool reaches(const WaveSample& sample) const;
  void narrow(const WaveSample& sample);

  WaveValues error_;
  std::vector<WaveSample> kept_;
  WaveSample last_;
  bool has_last_ = false;  // `last_` came after the last one kept
  // The slopes from the last kept sample that pass all samples since.
  WaveValues lowest_{};
  WaveValues highest_{};
};

}  // namespace rampart
