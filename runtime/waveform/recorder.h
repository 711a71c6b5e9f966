#pragma once

#include <cstdint>
#include <vector>

#include "lang/values/instant.h"
#include "runtime/rail/course_sink.h"
#include "runtime/waveform/thinner.h"
#include "runtime/waveform/waveform.h"

namespace rampart {

struct Simulation;

// What becomes of more samples than are kept.
enum class WaveOverflow : std::uint8_t {
  LeaveOut,  // what comes after kMaxWaveSamples
  Condense   // what has been kept of kMaxDrawnSamples, to bands
};

// Records the courses of a simulation while it runs.
class WaveRecorder : public CourseSink {
 public:
  // By rail: the error that straight lines between samples may have.
  explicit WaveRecorder(const std::vector<WaveValues>& errors, WaveOverflow overflow = WaveOverflow::LeaveOut);

  void take(std::size_t index, const RailRun& rail, double sign, const Instant& from, double length) override;
  // The present instant is to be a sample.
  void keep() override;
  // The present instant is to be the end of a stretch.
  void split() override;
  void repeat(const Instant& from, const Instant& to, std::int64_t times) override;
  [[nodiscard]] bool is_full() const override { return left_out_from_.has_value(); }
  // The recording, whole.
  [[nodiscard]] Waveforms finish();

 private:
  struct Track {
    explicit Track(const WaveValues& error, const WaveValues& half)
        : waveform{{}, error, {}}, half_error(half), open(half) {}
    RailWaveform waveform;
    std::vector<Instant> begins;  // of its nodes
    WaveValues half_error;        // sampling and thinning each have half of it
    Thinner open;                 // the stretch that goes on
    Instant begin;                // of it
    double length = 0;
    Span statement;
    bool limited = false;
  };
  void close(Track& track);
  void condense();
  static void condense(Track& track, double shortest);
  static void split_band(Track& track, const Instant& at);
  [[nodiscard]] bool sample_piece(Track& track, const RailRun& rail, double sign, double offset, double length);

  std::vector<Track> tracks_;
  WaveOverflow overflow_;
  double shortest_band_ = 0;  // s
  std::int64_t samples_ = 0;  // kept or about to be, with what bands weigh
  std::optional<double> left_out_from_;
};

// The errors for recording the same run again: kWaveError of each quantity's peak.
[[nodiscard]] std::vector<WaveValues> wave_errors(const Simulation& simulation);

}  // namespace rampart
