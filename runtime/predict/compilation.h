#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/profile/profile.h"
#include "compiler/rules/rules.h"
#include "compiler/table/table.h"
#include "compiler/timeline/timeline.h"
#include "lang/findings/finding.h"
#include "lang/syntax/ast.h"
#include "lang/text/source.h"
#include "runtime/answer/expectations.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load.h"
#include "runtime/predict/every_fault.h"
#include "runtime/predict/fuse_delays.h"
#include "runtime/predict/spread/corners.h"
#include "runtime/predict/spread/sample.h"
#include "runtime/waveform/recorder.h"

namespace rampart {

// A file whose text is taken from another one.
struct StandIn {
  std::string path;  // as profiles reach it, in any spelling
  std::string by;    // where the text is
};

// True if both paths lead to one file.
[[nodiscard]] bool is_same_file(const std::string& a, const std::string& b);

// What findings call the source that path `-` reads.
inline constexpr const char* kStandardInput = "standard input";

struct CompileOptions {
  std::optional<std::string> bench;        // instead of the one the profile names
  std::optional<std::string> load;         // likewise
  std::vector<std::string> settings;       // NAME=VALUE
  std::optional<std::string> fault;        // of the load: its run is the one to show
  bool every_fault = false;                // try a short and an open circuit all over the run
  std::optional<std::string> assert_line;  // LINE=TIME: an interlock acts in the run to show
  std::optional<WaveOverflow> waveforms;   // record the run to show
  bool needs_load = false;                 // without one there is no answer
  bool corners = false;                    // try the ends of all tolerances
  std::optional<spread::SampleOptions> sample;
  Progress progress;                  // of long work
  std::optional<std::string> folder;  // that paths in the profile start from, instead of its own
  std::optional<StandIn> stand_in;
};

// A run with one of the load's faults.
struct FaultRun {
  const Fault* fault = nullptr;
  Simulation simulation;
};

// A profile on its way from text to answers. Each part is there if everything before it went well; the parts point to
// each other, so a compilation stays where it was made.
struct Compilation {
  explicit Compilation(std::string profile_path) : path(std::move(profile_path)) {}
  Compilation(const Compilation&) = delete;
  Compilation& operator=(const Compilation&) = delete;

  std::string path;
  SourceSet sources;
  FindingSink findings;
  bool unreadable = false;  // a file could not be read at all

  std::vector<std::unique_ptr<ast::Profile>> trees;  // the profile's, then those of its imports
  std::optional<Bench> bench;
  std::optional<Load> load;
  std::optional<Profile> profile;
  std::optional<Timeline> run_timeline;
  std::optional<Timeline> safe_timeline;
  std::optional<Table> run;
  std::optional<Table> safe;
  std::vector<RuleResult> rules;         // judged on the setpoints
  std::optional<Simulation> simulation;  // without faults
  std::vector<FuseDelays> fuse_delays;   // of that run
  std::vector<FaultRun> fault_runs;      // of the faults that expectations name, then the one asked for
  std::optional<std::string> fault;      // asked for
  bool asserts = false;                  // a run in which an interlock acts is asked for
  std::optional<Simulation> asserted;
  std::optional<EveryFault> every_fault;  // where it was asked for
  std::optional<Waveforms> waveforms;     // of the run to show; without a load of open rails
  std::unique_ptr<spread::Runner> many;   // runs with other values of load and supplies, where they were asked for
  std::optional<spread::Corners> corners;
  std::optional<spread::Sample> sample;

  // The run to show: the plain one, or that with the fault or interlock asked for. None where it could not be made.
  [[nodiscard]] const Simulation* shown() const;
  // The same, no interlock acting.
  [[nodiscard]] const Simulation* shown_fault() const;
  // Of the run to show; for the plain one also those under faults. None speaks of a run in which an interlock acts.
  [[nodiscard]] std::vector<ExpectationResult> expectations() const;
};

// Takes a profile all the way: reads its files, resolves and lays it out in time, checks it, and simulates it where it
// has a load. Every finding of every stage is kept. `path` "-" is standard input.
[[nodiscard]] std::unique_ptr<Compilation> compile(const std::string& path, const CompileOptions& options);

}  // namespace rampart
