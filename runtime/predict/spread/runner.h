#pragma once

#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

#include "lang/job/job.h"
#include "runtime/answer/simulation.h"
#include "runtime/part/part.h"
#include "runtime/predict/spread/ledger.h"
#include "runtime/scenario/simulator.h"

namespace rampart::spread {

// Runs one simulator in many scenarios, and reads from each what there is to compare.
class Runner {
 public:
  // The simulator outlives it. The run without deviations is told to the job's progress. `known`, which may be
  // null and outlives it too, are outcomes that other machines have found. Throws JobStopped.
  explicit Runner(const Simulator& simulator, const Job& job = {}, const Results* known = nullptr);
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
  // In the order of `cases`. What is known by the name `what` and the place of the case, `first` being that of the
  // first one, is not run. Throws JobStopped.
  [[nodiscard]] std::vector<Outcome> run_all(const std::vector<Positions>& cases, std::string_view what,
                                             std::size_t first, const Job& job) const;
  // A part of the cases, as others take it by that name. Throws JobStopped.
  [[nodiscard]] Results run_part(const std::vector<Positions>& cases, std::string_view what, const Part& part,
                                 const Job& job) const;

 private:
  [[nodiscard]] std::optional<Outcome> find_known(std::string_view what, std::size_t place) const;

  const Simulator& simulator_;
  const Results* known_;
  std::optional<Ledger> ledger_;
  Outcome nominal_;
};

}  // namespace rampart::spread
