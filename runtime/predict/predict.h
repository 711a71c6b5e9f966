#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <string>

#include "compiler/compile/compile.h"
#include "lang/findings/finding.h"
#include "lang/job/job.h"
#include "runtime/load/load_file.h"
#include "runtime/part/part.h"
#include "runtime/predict/predictions.h"
#include "runtime/predict/spread/sample.h"
#include "runtime/scenario/scenario.h"
#include "runtime/waveform/recorder.h"

namespace rampart {

struct PredictOptions {
  bool needs_load = false;                 // without one there is no answer
  bool verdict_only = false;               // no runs that only give warnings or advice
  std::optional<std::string> fault;        // of the load: its run is the one to show
  bool every_fault = false;                // try a short and an open circuit all over the run
  std::optional<std::string> assert_line;  // LINE=TIME: an interlock acts in the run to show
  std::optional<WaveOverflow> waveforms;   // record the run to show
  bool corners = false;                    // try the ends of all tolerances
  std::optional<spread::SampleOptions> sample;
  Sharing sharing;  // of the runs of corners and sample: a part of them alone, or what parts have found
  // Told before the runs of corners begin: how many there are, and about how long they take. May be empty.
  std::function<void(std::size_t runs, double seconds)> before_corners{};
};

// Plays the table of a compiled profile into a load and says what comes of it: figures, margins, expectations, faults,
// corners. Adds what will go wrong to the findings, and of rules what the setpoints alone do not tell. Nothing where
// there is no table. Throws JobStopped, and PartMistake where parts are not of this work.
[[nodiscard]] Predictions predict(const Compiled& compiled, LoadPtr load, const PredictOptions& options,
                                  FindingSink& findings, const Job& job = {});

// Records another run than the one to show: one as a log says that it was. The predictions have a load. Throws
// JobStopped.
void record_run(const Compiled& compiled, const Scenario& scenario, WaveOverflow overflow, Predictions& predictions,
                const Job& job = {});

}  // namespace rampart
