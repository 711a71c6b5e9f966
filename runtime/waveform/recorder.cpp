#include "runtime/waveform/recorder.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "runtime/rail/rail_run.h"
#include "runtime/waveform/condense.h"
#include "runtime/waveform/piece_curves.h"

namespace rampart {
namespace {

// Errors of quantities that stay at nothing, V, A and W.
constexpr double kLeastError = 1e-9;

// Instants that differ by less, s, are one.
constexpr double kSameInstant = 1e-15;

WaveValues halved(WaveValues values) {
  for (double& value : values) value /= 2;
  return values;
}

WaveRange range_of(const std::vector<WaveSample>& samples) {
  WaveRange range{samples.front().values, samples.front().values};
  for (const WaveSample& sample : samples) range.include(sample.values);
  return range;
}

}  // namespace

WaveRecorder::WaveRecorder(const std::vector<WaveValues>& errors, WaveOverflow overflow) : overflow_(overflow) {
  for (const WaveValues& error : errors) tracks_.emplace_back(error, halved(error));
}

void WaveRecorder::take(std::size_t index, const RailRun& rail, double sign, const Instant& from, double length) {
  if (index == 0 && overflow_ == WaveOverflow::Condense && samples_ > kMaxDrawnSamples) condense();
  if (index == 0 && samples_ >= kMaxWaveSamples && !left_out_from_) left_out_from_ = from.seconds();
  if (left_out_from_ || length <= 0) return;
  Track& track = tracks_[index];
  track.waveform.rail = rail.id();
  const Span& statement = rail.doing().statement;
  const bool is_new = track.open.empty() || track.statement != statement || track.limited != rail.limited();
  if (is_new) {
    close(track);
    track.begin = from;
    track.statement = statement;
    track.limited = rail.limited();
  }
  const double offset = from.since(track.begin);
  if (!sample_piece(track, rail, sign, offset, length)) left_out_from_ = from.seconds();
  track.length = offset + length;
}

// False where it takes too many samples.
bool WaveRecorder::sample_piece(Track& track, const RailRun& rail, double sign, double offset, double length) {
  const PieceCurves curves(rail.circuit(), sign);
  const std::size_t before = track.open.size();
  track.open.add({offset, curves.at(0)});
  const bool whole = sample(curves, track.half_error, [&](double time, const WaveValues& values) {
    track.open.add({offset + time * length, values});
    return samples_ + static_cast<std::int64_t>(track.open.size() - before) < kMaxWaveSamples;
  });
  if (!whole) track.open.add({offset + length, curves.at(1)});
  samples_ += static_cast<std::int64_t>(track.open.size() - before);
  return whole;
}

void WaveRecorder::keep() {
  for (Track& track : tracks_) track.open.keep();
}

void WaveRecorder::split() {
  for (Track& track : tracks_) close(track);
}

void WaveRecorder::close(Track& track) {
  if (track.open.empty()) return;
  std::vector<WaveSample> samples = track.open.take();
  const WaveRange range = range_of(samples);
  track.begins.push_back(track.begin);
  track.waveform.nodes.push_back(
      {0, track.length, range, WaveStretch{track.statement, track.limited, std::move(samples)}});
}

// Bands twice as long as before, and so on, until half of what may be kept is free again.
void WaveRecorder::condense() {
  split();
  double elapsed = 0;
  for (const Track& track : tracks_) {
    if (track.begins.empty()) continue;
    elapsed = std::max(elapsed, track.begins.back().since(track.begins.front()) + track.waveform.nodes.back().length);
  }
  shortest_band_ = std::max(shortest_band_, elapsed / static_cast<double>(kMaxDrawnSamples));
  while (true) {
    samples_ = 0;
    for (Track& track : tracks_) {
      condense(track, shortest_band_);
      samples_ += weight_of(track.waveform.nodes);
    }
    if (samples_ <= kMaxDrawnSamples / 2 || shortest_band_ > elapsed) return;
    shortest_band_ *= 2;
  }
}

void WaveRecorder::condense(Track& track, double shortest) {
  const std::vector<Instant> begins = std::exchange(track.begins, {});
  if (begins.empty()) return;
  std::vector<WaveNode>& nodes = track.waveform.nodes;
  std::vector<double> times;
  Condenser condenser(shortest);
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    nodes[i].begin = begins[i].since(begins.front());
    times.push_back(nodes[i].begin);
    condenser.add(std::move(nodes[i]));
  }
  nodes = condenser.take();
  std::size_t known = 0;
  for (const WaveNode& node : nodes) {
    while (known + 1 < times.size() && times[known] < node.begin) ++known;
    const bool is_old = times[known] == node.begin;
    track.begins.push_back(is_old ? begins[known] : begins.front().plus_seconds(node.begin));
  }
}

// A band over the given instant becomes two of the same range.
void WaveRecorder::split_band(Track& track, const Instant& at) {
  for (std::size_t i = track.begins.size(); i-- > 0;) {
    const double before = at.since(track.begins[i]);
    if (before <= kSameInstant) continue;
    WaveNode& node = track.waveform.nodes[i];
    if (!std::holds_alternative<WaveBand>(node.what) || node.length - before <= kSameInstant) return;
    WaveNode rest = node;
    rest.length -= before;
    node.length = before;
    track.waveform.nodes.insert(track.waveform.nodes.begin() + static_cast<std::ptrdiff_t>(i) + 1, rest);
    track.begins.insert(track.begins.begin() + static_cast<std::ptrdiff_t>(i) + 1, at);
    return;
  }
}

void WaveRecorder::repeat(const Instant& from, const Instant& to, std::int64_t times) {
  if (left_out_from_ || times <= 0) return;
  split();
  for (Track& track : tracks_) {
    split_band(track, from);
    std::vector<WaveNode>& nodes = track.waveform.nodes;
    std::size_t first = nodes.size();
    while (first > 0 && track.begins[first - 1].since(from) >= -kSameInstant) --first;
    if (first == nodes.size()) continue;
    WaveRepeat repeat{times + 1, to.since(from), {}};
    WaveRange range = nodes[first].range;
    for (std::size_t i = first; i < nodes.size(); ++i) {
      nodes[i].begin = track.begins[i].since(from);
      range.include(nodes[i].range);
      repeat.body.push_back(std::move(nodes[i]));
    }
    const double length = repeat.period * static_cast<double>(repeat.count);
    nodes.resize(first);
    track.begins.resize(first);
    nodes.push_back({0, length, range, std::move(repeat)});
    track.begins.push_back(from);
  }
}

Waveforms WaveRecorder::finish() {
  split();
  Waveforms result;
  result.left_out_from = left_out_from_;
  for (Track& track : tracks_) {
    for (std::size_t i = 0; i < track.begins.size(); ++i) track.waveform.nodes[i].begin = track.begins[i].seconds();
    result.rails.push_back(std::move(track.waveform));
  }
  return result;
}

std::vector<WaveValues> wave_errors(const Simulation& simulation) {
  std::vector<WaveValues> errors;
  for (const RailFigures& rail : simulation.rails) {
    const auto share = [](const Peak& peak) { return std::max(kWaveError * std::abs(peak.value), kLeastError); };
    const double voltage = share(rail.voltage_V);
    const double current = share(rail.current_A);
    errors.push_back({voltage, current, voltage, voltage, current, share(rail.power_W)});
  }
  return errors;
}

}  // namespace rampart
