#include "runtime/waveform/waveform.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

WaveValues between(const WaveSample& a, const WaveSample& b, double time) {
  const double length = b.time - a.time;
  if (length <= 0) return b.values;
  const double share = (time - a.time) / length;
  WaveValues values;
  for (std::size_t i = 0; i < kWaveQuantities; ++i) values[i] = a.values[i] + share * (b.values[i] - a.values[i]);
  return values;
}

class RangeSearch {
 public:
  void add(const std::vector<WaveNode>& nodes, double from, double to) {
    const auto first = std::partition_point(nodes.begin(), nodes.end(),
                                            [&](const WaveNode& node) { return node.begin + node.length < from; });
    for (auto node = first; node != nodes.end() && node->begin <= to; ++node) {
      const bool within = from <= node->begin && node->begin + node->length <= to;
      const auto* repeat = std::get_if<WaveRepeat>(&node->what);
      const auto* stretch = std::get_if<WaveStretch>(&node->what);
      if (!within && repeat != nullptr) {
        add(*repeat, from - node->begin, to - node->begin);
      } else if (!within && stretch != nullptr) {
        add(*stretch, from - node->begin, to - node->begin);
      } else {
        include(node->range);
      }
    }
  }
  [[nodiscard]] std::optional<WaveRange> found() const { return found_; }

 private:
  void include(const WaveRange& range) {
    if (found_) {
      found_->include(range);
    } else {
      found_ = range;
    }
  }

  void add(const WaveRepeat& repeat, double from, double to) {
    const double last = static_cast<double>(repeat.count - 1);
    const double first_pass = std::clamp(std::floor(from / repeat.period), 0.0, last);
    const double last_pass = std::clamp(std::floor(to / repeat.period), 0.0, last);
    if (last_pass - first_pass > 1) {
      for (const WaveNode& node : repeat.body) include(node.range);
    }
    for (const double pass : {first_pass, last_pass}) {
      add(repeat.body, from - pass * repeat.period, to - pass * repeat.period);
    }
  }

  void add(const WaveStretch& stretch, double from, double to) {
    for (std::size_t i = 1; i < stretch.samples.size(); ++i) {
      const WaveSample& a = stretch.samples[i - 1];
      const WaveSample& b = stretch.samples[i];
      if (b.time < from || a.time > to) continue;
      for (const double time : {std::max(from, a.time), std::min(to, b.time)}) {
        const WaveValues values = between(a, b, time);
        include({values, values});
      }
      if (a.time >= from) include({a.values, a.values});
    }
  }

  std::optional<WaveRange> found_;
};

// The last node that begins at or before `time`, which is not negative.
const WaveNode* node_at(const std::vector<WaveNode>& nodes, double time) {
  const auto next = std::upper_bound(nodes.begin(), nodes.end(), time,
                                     [](double at, const WaveNode& node) { return at < node.begin; });
  return next == nodes.begin() ? nullptr : &*std::prev(next);
}

bool limited_in(const std::vector<WaveNode>& nodes, double from, double to) {
  for (const WaveNode& node : nodes) {
    if (node.begin > to || node.begin + node.length < from) continue;
    const auto* repeat = std::get_if<WaveRepeat>(&node.what);
    if (repeat == nullptr) {
      const auto* stretch = std::get_if<WaveStretch>(&node.what);
      if (stretch != nullptr ? stretch->limited : std::get<WaveBand>(node.what).limited) return true;
      continue;
    }
    // Where the window begins in a pass, and in the next one: a longer window holds a whole pass.
    const double since = std::max(0.0, from - node.begin);
    const double in_pass = since - repeat->period * std::floor(since / repeat->period);
    const double length = std::min(to - std::max(from, node.begin), repeat->period);
    if (limited_in(repeat->body, in_pass, in_pass + length)) return true;
    if (limited_in(repeat->body, in_pass - repeat->period, in_pass - repeat->period + length)) return true;
  }
  return false;
}

WaveValues value_in(const WaveStretch& stretch, double time) {
  const auto next = std::upper_bound(stretch.samples.begin(), stretch.samples.end(), time,
                                     [](double at, const WaveSample& sample) { return at < sample.time; });
  if (next == stretch.samples.end()) return stretch.samples.back().values;
  if (next == stretch.samples.begin()) return next->values;
  return between(*std::prev(next), *next, time);
}

}  // namespace

void WaveRange::include(const WaveValues& values) {
  include(WaveRange{values, values});
}

void WaveRange::include(const WaveRange& other) {
  for (std::size_t i = 0; i < kWaveQuantities; ++i) {
    low[i] = std::min(low[i], other.low[i]);
    high[i] = std::max(high[i], other.high[i]);
  }
}

WaveCursor::WaveCursor(const RailWaveform& rail) {
  levels_.push_back({&rail.nodes, 0.0});
}

std::optional<WaveSample> WaveCursor::next() {
  while (!levels_.empty()) {
    Level& level = levels_.back();
    if (level.node == level.nodes->size()) {
      levels_.pop_back();
      if (!levels_.empty()) ++levels_.back().pass;
      continue;
    }
    const WaveNode& node = (*level.nodes)[level.node];
    const double base = level.base + node.begin;
    if (const auto* repeat = std::get_if<WaveRepeat>(&node.what)) {
      if (level.pass < repeat->count) {
        levels_.push_back({&repeat->body, base + static_cast<double>(level.pass) * repeat->period});
        continue;
      }
    } else if (const auto* stretch = std::get_if<WaveStretch>(&node.what)) {
      if (sample_ < stretch->samples.size()) {
        WaveSample sample = stretch->samples[sample_++];
        // Ends and beginnings that are one instant differ by rounding.
        sample.time = last_ = std::max(base + sample.time, last_);
        return sample;
      }
    }
    sample_ = 0;
    level.pass = 0;
    ++level.node;
  }
  return std::nullopt;
}

std::optional<WaveRange> range_between(const RailWaveform& rail, double from, double to) {
  RangeSearch search;
  search.add(rail.nodes, from, to);
  return search.found();
}

bool limited_between(const RailWaveform& rail, double from, double to) {
  return limited_in(rail.nodes, from, to);
}

std::optional<WaveValues> values_at(const RailWaveform& rail, double time) {
  const std::vector<WaveNode>* nodes = &rail.nodes;
  if (nodes->empty() || time < 0 || time > nodes->back().begin + nodes->back().length) return std::nullopt;
  while (const WaveNode* node = node_at(*nodes, time)) {
    time -= node->begin;
    const auto* repeat = std::get_if<WaveRepeat>(&node->what);
    if (const auto* stretch = std::get_if<WaveStretch>(&node->what)) return value_in(*stretch, time);
    if (repeat == nullptr) return std::nullopt;
    const double pass = std::clamp(std::floor(time / repeat->period), 0.0, static_cast<double>(repeat->count - 1));
    time = std::max(0.0, time - pass * repeat->period);
    nodes = &repeat->body;
  }
  return std::nullopt;
}

}  // namespace rampart
