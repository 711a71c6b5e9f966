#pragma once

#include <functional>
#include <span>
#include <string>

#include "runtime/bench_run/dry_run.h"
#include "runtime/bench_run/output_state.h"
#include "runtime/bench_run/plan.h"
#include "runtime/bench_run/run_end.h"
#include "runtime/bench_run/run_view.h"

// Lines of JSON about real supplies, as docs/run.schema.json describes them: one object a line.
namespace rampart::cli {

[[nodiscard]] std::string final_json(std::span<const bench_run::SupplyState> supplies);
[[nodiscard]] std::string run_end_json(const bench_run::RunEnd& end, std::span<const bench_run::SupplyState> supplies);
[[nodiscard]] std::string refusal_json(const bench_run::Refusal& refusal);
[[nodiscard]] std::string note_json(const std::string& text);
// A row of the log.
[[nodiscard]] std::string row_json(const bench_run::LogRow& row);
[[nodiscard]] std::string status_json(const bench_run::RunStatus& status);

class DryRunJson : public bench_run::DryRunView {
 public:
  explicit DryRunJson(std::function<void(const std::string&)> put) : put_(std::move(put)) {}
  void phase(const std::string& name) override { phase_ = name; }
  void message(std::optional<Nanoseconds> time, const std::string& supply, const std::string& text) override;
  void instant(Nanoseconds time, const std::string& what) override;
  void wait(const bench_run::TableWait& wait) override;

 private:
  std::function<void(const std::string&)> put_;
  std::string phase_;
};

}  // namespace rampart::cli
