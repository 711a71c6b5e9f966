#pragma once

#include <optional>

#include "compiler/bench/bench.h"
#include "runtime/audit/table_number.h"

namespace rampart::audit {

// What a channel's voltage (V) or current (A) can be set to.
struct Settable {
  TableNumber low;
  TableNumber high;
  TableNumber step;

  [[nodiscard]] bool reaches(const TableNumber& value) const { return low <= value && value <= high; }
};

struct ChannelBounds {
  explicit ChannelBounds(const OutputLimits& limits);

  Settable voltage;
  Settable current;
  std::optional<TableNumber> power;  // W
};

// How a supply is timed, in s.
struct Pace {
  explicit Pace(const Timing& timing);

  TableNumber resolution;
  TableNumber minimum_step;
};

}  // namespace rampart::audit
