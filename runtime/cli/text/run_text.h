#pragma once

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "runtime/bench_run/dry_run.h"
#include "runtime/bench_run/output_state.h"
#include "runtime/bench_run/plan.h"
#include "runtime/bench_run/run_end.h"
#include "runtime/bench_run/run_view.h"

// A run on real supplies, for a person at the bench.
namespace rampart::cli {

// What is known of every output at the end, what decides first.
[[nodiscard]] std::string final_text(std::span<const bench_run::SupplyState> supplies);
// How a run ended, and the outputs.
[[nodiscard]] std::string run_end_text(const bench_run::RunEnd& end);
// One line for an event; empty for what is not shown.
[[nodiscard]] std::string event_text(const bench_run::LogRow& row);
// Rails, time left and what comes next, one line each.
[[nodiscard]] std::vector<std::string> status_text(const bench_run::RunStatus& status);

// What would be sent, line by line.
class DryRunText : public bench_run::DryRunView {
 public:
  explicit DryRunText(std::function<void(const std::string&)> put) : put_(std::move(put)) {}
  void phase(const std::string& name) override;
  void message(std::optional<Nanoseconds> time, const std::string& supply, const std::string& text) override;
  void instant(Nanoseconds time, const std::string& what) override;
  void wait(const bench_run::TableWait& wait) override;

 private:
  std::function<void(const std::string&)> put_;
};

}  // namespace rampart::cli
