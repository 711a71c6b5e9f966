#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "compiler/export/segments.h"

namespace rampart {

// Setpoint, limit and output of each rail, gathered from the rows of its channels: voltages add in series, limits in
// parallel. Exact decimals. A reversed rail has a negative setpoint: that is what stands at its node.
class RailValues {
 public:
  explicit RailValues(const Table& table);

  void set(const Row& row);

  [[nodiscard]] std::string voltage_text(RailId rail) const;
  [[nodiscard]] std::string limit_text(RailId rail) const;
  [[nodiscard]] bool output(RailId rail) const { return values_[index(rail)].output; }
  [[nodiscard]] RailId rail_of(ChannelId channel) const { return rail_of_[static_cast<std::size_t>(channel)]; }
  [[nodiscard]] bool is_linear(RailId rail) const { return values_[index(rail)].is_linear; }

 private:
  struct Member {
    std::int64_t voltage = 0;  // in 10^-decimals of its rail
    std::int64_t limit = 0;
    std::int64_t voltage_factor = 1;  // from counts
    std::int64_t limit_factor = 1;
  };
  struct Value {
    const RailSetup* setup = nullptr;
    int voltage_decimals = 0;
    int limit_decimals = 0;
    bool output = false;
    bool is_linear = false;
    bool is_reversed = false;
  };
  static std::size_t index(RailId rail) { return static_cast<std::size_t>(rail); }
  [[nodiscard]] std::int64_t gathered(const Value& value, bool adds, std::int64_t Member::*quantity) const;

  std::vector<Value> values_;    // by RailId
  std::vector<Member> members_;  // by ChannelId
  std::vector<RailId> rail_of_;  // by ChannelId
};

// Counts time through waits: each is taken as long as it is assumed to be, or as nothing where that is measured.
class AbsoluteTime {
 public:
  [[nodiscard]] Nanoseconds at(Nanoseconds time) const { return start_ + time; }
  [[nodiscard]] Nanoseconds start() const { return start_; }
  void end_segment(const SegmentEnded& end);

 private:
  Nanoseconds start_{0};
};

}  // namespace rampart
