#include "runtime/predict/spread/runner.h"

#include "lang/job/parallel.h"

namespace rampart::spread {

Runner::Runner(const Simulator& simulator, const Job& job) : simulator_(simulator) {
  const Simulation nominal = simulate(Positions(tolerances().size()), job);
  if (job.progress) job.progress(1, 1);
  ledger_.emplace(profile(), nominal);
  nominal_ = ledger_->read(nominal);
}

Simulation Runner::simulate(const Positions& positions, const Job& job) const {
  Scenario scenario;
  scenario.at = positions;
  return simulator_.run(scenario, nullptr, job);
}

std::vector<Outcome> Runner::run_all(const std::vector<Positions>& cases, const Job& job) const {
  std::vector<Outcome> outcomes(cases.size());
  run_parallel(cases.size(), job, [&](std::size_t i) { outcomes[i] = outcome(cases[i], job.quietly()); });
  return outcomes;
}

}  // namespace rampart::spread
