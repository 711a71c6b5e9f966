#pragma once

#include <cstdio>
#include <string>
#include <string_view>

#include "runtime/bench_run/plan.h"

namespace rampart::bench_run {

// Receives what a run would send, in order.
class DryRunView {
 public:
  virtual ~DryRunView() = default;
  // "start", "set-up", "segment 1", "safe", "end".
  virtual void phase(const std::string& name) = 0;
  // `time`: in the segment, as the table has it; none outside of segments.
  virtual void message(std::optional<Nanoseconds> time, const std::string& supply, const std::string& text) = 0;
  // A mark, or a measurement that ends there.
  virtual void instant(Nanoseconds time, const std::string& what) = 0;
  virtual void wait(const TableWait& wait) = 0;
};

// Gives all that a run of the plan would send if nothing happened, and `safe`. Opens nothing. What is wrong with the
// table; empty if nothing is.
[[nodiscard]] std::string dry_run(std::FILE* table, const Plan& plan, DryRunView& view);

}  // namespace rampart::bench_run
