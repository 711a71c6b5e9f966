#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/profile/profile.h"
#include "runtime/answer/expectations.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load_file.h"
#include "runtime/part/part.h"
#include "runtime/predict/every_fault.h"
#include "runtime/predict/fuse_delays.h"
#include "runtime/predict/spread/corners.h"
#include "runtime/predict/spread/ledger.h"
#include "runtime/predict/spread/sample.h"
#include "runtime/scenario/tolerances.h"
#include "runtime/waveform/recorder.h"

namespace rampart {

// A run with one of the load's faults.
struct FaultRun {
  std::string fault;
  Simulation simulation;
};

// What differs between many runs, and what is read of each.
struct Varied {
  std::vector<spread::Tolerance> tolerances;
  std::vector<spread::Reading> readings;
};

// What a compiled profile does to a load. Without a load there are no more than courses of open rails.
struct Predictions {
  LoadPtr load;
  std::optional<Simulation> simulation;   // without faults
  std::vector<FuseDelays> fuse_delays;    // of that run
  std::vector<FaultRun> fault_runs;       // of the faults that expectations name, then the one asked for
  std::optional<std::string> fault;       // asked for
  bool asserts = false;                   // a run in which an interlock acts is asked for
  std::optional<Simulation> asserted;     // that run
  std::optional<EveryFault> every_fault;  // where it was asked for
  std::optional<Waveforms> waveforms;     // of the run to show; without a load of open rails
  std::optional<Simulation> recorded;     // the run of the waveforms, where it is another one
  std::optional<Varied> varied;           // where corners or a sample were asked for
  std::optional<spread::Corners> corners;
  std::optional<spread::Sample> sample;
  std::optional<PartFile> part;  // in place of both, where a part of their runs was asked for

  // The run to show: the plain one, or that with the fault or interlock asked for. None where it could not be made.
  [[nodiscard]] const Simulation* shown() const;
  // The same, no interlock acting.
  [[nodiscard]] const Simulation* shown_fault() const;
  // Of the run to show; for the plain one also those under faults. None speaks of a run in which an interlock acts.
  [[nodiscard]] std::vector<ExpectationResult> expectations(const Profile& profile) const;
};

}  // namespace rampart
