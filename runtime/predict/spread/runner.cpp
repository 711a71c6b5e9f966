#include "runtime/predict/spread/runner.h"

#include "lang/job/parallel.h"
#include "runtime/play/simulate.h"

namespace rampart::spread {
namespace {

Bench without_accuracy(Bench bench) {
  for (Channel& channel : bench.channels) {
    channel.limits.voltage_accuracy.reset();
    channel.limits.current_accuracy.reset();
  }
  return bench;
}

}  // namespace

Runner::Runner(const Table& run, const Table* safe, const Load& load, const Progress& progress)
    : exact_(without_accuracy(run.bench())), run_(run.profile(), exact_, run.timeline()), tolerances_(run, load) {
  if (safe != nullptr) safe_.emplace(safe->profile(), exact_, safe->timeline());
  const Simulation nominal = simulate(Positions(tolerances().size()), progress);
  if (progress) progress(1, 1);
  ledger_.emplace(run.profile(), nominal);
  nominal_ = ledger_->read(nominal);
}

Simulation Runner::simulate(const Positions& positions, const Progress& progress) const {
  Case one = tolerances_.at(positions);
  Incidents incidents;
  incidents.deviations = std::move(one.deviations);
  return rampart::simulate(run_, safe_ ? &*safe_ : nullptr, one.load, incidents, nullptr, progress);
}

std::vector<Outcome> Runner::run_all(const std::vector<Positions>& cases, const Job& job) const {
  std::vector<Outcome> outcomes(cases.size());
  run_parallel(cases.size(), job, [&](std::size_t i) { outcomes[i] = outcome(cases[i]); });
  return outcomes;
}

}  // namespace rampart::spread
