#pragma once

#include <optional>
#include <vector>

#include "lang/job/job.h"
#include "runtime/answer/simulation.h"
#include "runtime/predict/spread/ledger.h"
#include "runtime/scenario/simulator.h"

namespace rampart::spread {

// Runs one simulator in many scenarios, and reads from each what there is to compare.
class Runner {
 public:
  // The simulator outlives it. The run without deviations is told to the job's progress. Throws JobStopped.
  explicit Runner(const Simulator& simulator, const Job& job = {});
  Runner(const Runner&) = delete;
  Runner& operator=(const Runner&) = delete;

  [[nodiscard]] const std::vector<Tolerance>& tolerances() const { return simulator_.tolerances(); }
  [[nodiscard]] const Ledger& ledger() const { return *ledger_; }
  [[nodiscard]] const Profile& profile() const { return simulator_.profile(); }
  [[nodiscard]] const Table& table() const { return simulator_.table(); }
  // With everything as it should be.
  [[nodiscard]] const Outcome& nominal() const { return nominal_; }

  // Throws JobStopped.
  [[nodiscard]] Simulation simulate(const Positions& positions, const Job& job = {}) const;
  [[nodiscard]] Outcome outcome(const Positions& positions, const Job& job = {}) const {
    return ledger_->read(simulate(positions, job));
  }
  // In the order of `cases`. Throws JobStopped.
  [[nodiscard]] std::vector<Outcome> run_all(const std::vector<Positions>& cases, const Job& job) const;

 private:
  const Simulator& simulator_;
  std::optional<Ledger> ledger_;
  Outcome nominal_;
};

}  // namespace rampart::spread
