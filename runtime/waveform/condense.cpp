#include "runtime/waveform/condense.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// A band takes as much to keep as so many samples.
constexpr std::int64_t kBandWeight = 6;

std::int64_t weight_of(const WaveNode& node) {
  return std::visit(
      Overloaded{[](const WaveStretch& stretch) { return static_cast<std::int64_t>(stretch.samples.size()); },
                 [](const WaveBand&) { return kBandWeight; },
                 [](const WaveRepeat& repeat) { return rampart::weight_of(repeat.body); }},
      node.what);
}

bool is_limited(const WaveNode& node) {
  return std::visit(
      Overloaded{
          [](const WaveStretch& stretch) { return stretch.limited; }, [](const WaveBand& band) { return band.limited; },
          [](const WaveRepeat& repeat) { return std::any_of(repeat.body.begin(), repeat.body.end(), is_limited); }},
      node.what);
}

Span statement_of(const WaveNode& node) {
  return std::visit(Overloaded{[](const WaveStretch& stretch) { return stretch.statement; },
                               [](const WaveBand& band) { return band.statement; },
                               [](const WaveRepeat& repeat) {
                                 return repeat.body.empty() ? Span{} : statement_of(repeat.body.front());
                               }},
                    node.what);
}

// A straight line from one sample to the next.
WaveSums sums_of_line(const WaveValues& from, const WaveValues& to, double time) {
  WaveSums sums;
  sums.time = time;
  for (std::size_t q = 0; q < kWaveQuantities; ++q) {
    sums.first[q] = (from[q] + to[q]) / 2 * time;
    sums.second[q] = (from[q] * from[q] + from[q] * to[q] + to[q] * to[q]) / 3 * time;
  }
  return sums;
}

WaveSums sums_of(const WaveNode& node) {
  WaveSums sums;
  std::visit(Overloaded{[&](const WaveStretch& stretch) {
                          for (std::size_t i = 1; i < stretch.samples.size(); ++i) {
                            const WaveSample& before = stretch.samples[i - 1];
                            const WaveSample& here = stretch.samples[i];
                            sums.add(sums_of_line(before.values, here.values, here.time - before.time));
                          }
                        },
                        [&](const WaveBand& band) {
                          sums.time = node.length;
                          for (std::size_t q = 0; q < kWaveQuantities; ++q) {
                            sums.first[q] = band.mean[q] * node.length;
                            const double square = band.mean[q] * band.mean[q] + band.deviation[q] * band.deviation[q];
                            sums.second[q] = square * node.length;
                          }
                        },
                        [&](const WaveRepeat& repeat) {
                          for (const WaveNode& inner : repeat.body) {
                            sums.add(sums_of(inner), static_cast<double>(repeat.count));
                          }
                        }},
             node.what);
  return sums;
}

}  // namespace

void WaveSums::add(const WaveSums& other, double times) {
  time += times * other.time;
  for (std::size_t q = 0; q < kWaveQuantities; ++q) {
    first[q] += times * other.first[q];
    second[q] += times * other.second[q];
  }
}

std::int64_t weight_of(const std::vector<WaveNode>& nodes) {
  std::int64_t weight = 0;
  for (const WaveNode& node : nodes) weight += weight_of(node);
  return weight;
}

bool Condenser::is_light(const WaveNode& node) const {
  if (node.length < shortest_) return false;
  return static_cast<double>(weight_of(node)) <= static_cast<double>(kBandWeight) * (node.length / shortest_);
}

void Condenser::add(WaveNode node) {
  auto* repeat = std::get_if<WaveRepeat>(&node.what);
  if (is_light(node) || (repeat != nullptr && node.length >= shortest_)) {
    close();
    if (repeat != nullptr && !is_light(node)) {
      Condenser body(shortest_);
      for (WaveNode& inner : repeat->body) body.add(std::move(inner));
      repeat->body = body.take();
    }
    done_.push_back(std::move(node));
    return;
  }
  const bool limited = is_limited(node);
  if (!is_open_) course_ = {statement_of(node), false};
  course_.limited = course_.limited || limited;
  if (const auto* stretch = std::get_if<WaveStretch>(&node.what)) {
    absorb(*stretch, node.begin);
  } else {
    absorb(node.range, sums_of(node), node.begin, node.begin + node.length);
  }
}

// Bands end at samples: there are many of them, or the stretch is short.
void Condenser::absorb(const WaveStretch& stretch, double begin) {
  const WaveBand next{stretch.statement, stretch.limited};
  WaveRange before{stretch.samples.front().values, stretch.samples.front().values};
  double time = begin;
  for (const WaveSample& sample : stretch.samples) {
    if (!is_open_) {
      course_ = next;
      begin_at(time, before);
    }
    const WaveRange here{sample.values, sample.values};
    absorb(here, sums_of_line(before.low, sample.values, begin + sample.time - time), time, begin + sample.time);
    before = here;
    time = begin + sample.time;
  }
}

void Condenser::absorb(const WaveRange& range, const WaveSums& sums, double begin, double end) {
  if (!is_open_) begin_at(begin, range);
  open_.range.include(range);
  sums_.add(sums);
  open_.length = end - open_.begin;
  if (open_.length >= shortest_) close();
}

void Condenser::begin_at(double time, const WaveRange& range) {
  is_open_ = true;
  open_.begin = time;
  open_.length = 0;
  open_.range = range;
  sums_ = {};
}

void Condenser::close() {
  if (!is_open_) return;
  for (std::size_t q = 0; q < kWaveQuantities; ++q) {
    // Of no length: what it comes to.
    course_.mean[q] = sums_.time > 0 ? sums_.first[q] / sums_.time : open_.range.high[q];
    const double square = sums_.time > 0 ? sums_.second[q] / sums_.time : course_.mean[q] * course_.mean[q];
    course_.deviation[q] = std::sqrt(std::max(square - course_.mean[q] * course_.mean[q], 0.0));
  }
  open_.what = course_;
  done_.push_back(open_);
  is_open_ = false;
}

std::vector<WaveNode> Condenser::take() {
  close();
  return std::exchange(done_, {});
}

}  // namespace rampart
