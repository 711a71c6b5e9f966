#pragma once

#include <cstdint>
#include <optional>

#include "runtime/bench_run/recent_readings.h"
#include "runtime/bench_run/run_view.h"

namespace rampart::bench_run {

// One wait between two segments, until something ends it.
class WaitWatch {
 public:
  enum class End : std::uint8_t { Operator, NotYes, Line, Condition, Timeout };

  // All has to live as long.
  WaitWatch(const TableWait& wait, const Plan& plan, Clock::time_point begin);

  [[nodiscard]] Clock::time_point until() const { return begin_ + wait_.within; }
  [[nodiscard]] const OperatorWait* asked() const { return std::get_if<OperatorWait>(&wait_.what); }
  [[nodiscard]] bool needs_readings() const { return std::holds_alternative<ConditionWait>(wait_.what); }
  // The line that has to be asked for, in the plan.
  [[nodiscard]] std::optional<std::size_t> line() const { return line_; }
  void take(const LineLevel& level) { level_ = level; }
  // What has ended it; nothing yet.
  [[nodiscard]] std::optional<End> look(Clock::time_point now, Person& person, const RecentReadings& recent) const;

 private:
  [[nodiscard]] bool line_has_come() const;

  const TableWait& wait_;
  Clock::time_point begin_;
  std::optional<std::size_t> line_;
  std::optional<LineLevel> level_;
};

}  // namespace rampart::bench_run
