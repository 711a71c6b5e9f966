#pragma once

#include <optional>
#include <vector>

#include "compiler/table/table.h"
#include "lang/job/job.h"
#include "runtime/answer/simulation.h"
#include "runtime/play/simulate.h"
#include "runtime/predict/spread/ledger.h"
#include "runtime/predict/spread/tolerances.h"

namespace rampart::spread {

using Positions = std::vector<double>;

// Runs one table with many loads and supplies. What is off in a run is off for certain, so rules keep nothing back
// for accuracy there.
class Runner {
 public:
  // The run without deviations is told to `progress`.
  Runner(const Table& run, const Table* safe, const Load& load, const Progress& progress = {});
  Runner(const Runner&) = delete;
  Runner& operator=(const Runner&) = delete;

  [[nodiscard]] const std::vector<Tolerance>& tolerances() const { return tolerances_.list(); }
  [[nodiscard]] const Ledger& ledger() const { return *ledger_; }
  [[nodiscard]] const Profile& profile() const { return run_.profile(); }
  // With everything as it should be.
  [[nodiscard]] const Outcome& nominal() const { return nominal_; }

  [[nodiscard]] Simulation simulate(const Positions& positions, const Progress& progress = {}) const;
  [[nodiscard]] Outcome outcome(const Positions& positions) const { return ledger_->read(simulate(positions)); }
  // In the order of `cases`.
  [[nodiscard]] std::vector<Outcome> run_all(const std::vector<Positions>& cases, const Job& job) const;

 private:
  Bench exact_;
  Table run_;
  std::optional<Table> safe_;
  Tolerances tolerances_;
  std::optional<Ledger> ledger_;
  Outcome nominal_;
};

}  // namespace rampart::spread
