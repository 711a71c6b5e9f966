#pragma once

#include <set>
#include <string>

#include "runtime/play/simulate.h"
#include "runtime/predict/compilation.h"

namespace rampart {

// Everything that is simulated of one compilation, with what is found: the plain run, those under faults and
// interlocks, corners and samples, and the recording of the run to show.
class PredictionRuns {
 public:
  // The compilation has a table.
  PredictionRuns(Compilation& work, const CompileOptions& options) : work_(work), options_(options) {}

  // Needs a load.
  void predict();
  // Records a second run: how fine is known from the first one. Without a load all rails are open.
  void record();

 private:
  void report_unused_loads();
  // Judges rules of the simulation at the ends of switch delays too.
  void judge_switching();
  void try_many();
  void record(const Load& load, const Simulation& known);
  Span place_of_option(const std::string& option, const std::string& text);
  [[nodiscard]] Simulation simulate_with(const Incidents& incidents) const;
  void try_faults();
  void run_assertion(const std::string& text);
  void run_fault(const std::string& name, const Span& place);

  Compilation& work_;
  const CompileOptions& options_;
  std::set<std::string> faults_named_;
  Incidents shown_incidents_;  // of the run to show
};

}  // namespace rampart
