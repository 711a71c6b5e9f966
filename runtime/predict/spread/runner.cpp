#include "runtime/predict/spread/runner.h"

#include <string>

#include "lang/job/parallel.h"

namespace rampart::spread {

namespace {

std::string result_name(std::string_view what, std::size_t place) {
  return std::string(what) + " " + std::to_string(place);
}

}  // namespace

Runner::Runner(const Simulator& simulator, const Job& job, const Results* known)
    : simulator_(simulator), known_(known) {
  const Simulation nominal = simulate(Positions(tolerances().size()), job);
  if (job.progress) job.progress(1, 1);
  ledger_.emplace(profile(), nominal);
  nominal_ = ledger_->read(nominal);
}

Simulation Runner::simulate(const Positions& positions, const Job& job) const {
  Scenario scenario;
  scenario.rules = RulesAsked::Verdicts;
  scenario.at = positions;
  return simulator_.run(scenario, nullptr, job);
}

std::vector<Outcome> Runner::run_all(const std::vector<Positions>& cases, std::string_view what, std::size_t first,
                                     const Job& job) const {
  std::vector<Outcome> outcomes(cases.size());
  run_parallel(cases.size(), job, [&](std::size_t i) {
    std::optional<Outcome> known = find_known(what, first + i);
    outcomes[i] = known ? std::move(*known) : outcome(cases[i], job.quietly());
  });
  return outcomes;
}

std::optional<Outcome> Runner::find_known(std::string_view what, std::size_t place) const {
  if (known_ == nullptr) return std::nullopt;
  const auto known = known_->find(result_name(what, place));
  return known != known_->end() ? read_outcome(known->second, nominal_) : std::nullopt;
}

Results Runner::run_part(const std::vector<Positions>& cases, std::string_view what, const Part& part,
                         const Job& job) const {
  const auto [begin, end] = share_of(part, cases.size());
  const std::vector<Positions> own(cases.begin() + static_cast<std::ptrdiff_t>(begin),
                                   cases.begin() + static_cast<std::ptrdiff_t>(end));
  Results results;
  const std::vector<Outcome> outcomes = run_all(own, what, begin, job);
  for (std::size_t i = 0; i < own.size(); ++i) results[result_name(what, begin + i)] = outcome_text(outcomes[i]);
  return results;
}

}  // namespace rampart::spread
