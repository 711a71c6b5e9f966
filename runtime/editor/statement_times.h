#pragma once

#include <cstdint>
#include <map>
#include <utility>
#include <vector>

#include "compiler/compile/compile.h"

namespace rampart::editor {

// An instant of a run or of `safe`: so far into its segment, which begins after so many waits.
struct RunInstant {
  std::int64_t waits = 0;
  Nanoseconds time{0};

  friend bool operator==(const RunInstant&, const RunInstant&) = default;
};

// When the table plays a statement.
struct StatementTime {
  bool in_safe = false;
  RunInstant begin;  // the first time
  RunInstant end;
  RunInstant last;                 // when it begins for the last time
  std::int64_t times = 0;          // how often; at least, where it is known no better
  bool is_least = false;           // it comes that often or more
  std::vector<std::int64_t> pass;  // of the loops around it, the first time; empty outside of loops
  std::vector<RailState> before;   // the rails when it begins for the first time, and when it ends
  std::vector<RailState> after;
};

// The times of all statements that a compiled profile plays, by their spans: also of calls and blocks around others.
// Loops are gone through twice where their passes are alike. Past 20,000 pieces the rest has no time.
class StatementTimes {
 public:
  StatementTimes() = default;
  explicit StatementTimes(const Compiled& compiled);

  // Null for a statement that is not played.
  [[nodiscard]] const StatementTime* of(const Span& statement) const;
  [[nodiscard]] const std::map<std::pair<FileId, std::pair<std::uint32_t, std::uint32_t>>, StatementTime>& all() const {
    return times_;
  }
  [[nodiscard]] bool empty() const { return times_.empty(); }

 private:
  class Walk;
  std::map<std::pair<FileId, std::pair<std::uint32_t, std::uint32_t>>, StatementTime> times_;
};

}  // namespace rampart::editor
