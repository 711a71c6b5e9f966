#pragma once

#include <optional>
#include <vector>

#include "compiler/table/table.h"
#include "lang/job/job.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load.h"
#include "runtime/play/simulate.h"
#include "runtime/waveform/waveform.h"

// What is predicted: the run that was played, with the supplies as they are set, and at the ends of what their data
// sheets allow them.
namespace rampart::as_run {

struct Recording {
  Simulation simulation;
  Waveforms waveforms;
};

// A value of the load at one of the ends of its tolerance.
struct LoadEnd {
  std::size_t rail = 0;
  std::size_t value = 0;  // counted through the load; both its ends have the same
  Recording recording;
};

struct Recordings {
  Recording nominal;
  // Setpoints and limits at their ends, each with each; switch-on delays at theirs.
  std::vector<Recording> ends;
  std::vector<LoadEnd> loads;      // where they are asked for
  std::size_t loads_left_out = 0;  // values beyond kMostLoadValues
  // From here on the recordings are not whole, s; none: they are.
  [[nodiscard]] std::optional<double> left_out_from() const;
};

// What is played, and into what. All of it outlives its use.
struct Played {
  const Table* run = nullptr;
  const Table* safe = nullptr;  // null: there is no orderly stop
  const Load* load = nullptr;
};

// Values of a load whose ends are tried.
inline constexpr std::size_t kMostLoadValues = 64;

// Which runs besides the nominal one.
struct Wanted {
  bool ends = false;
  bool loads = false;
};

// What a log tells of the run that was played.
struct AsPlayed {
  std::vector<Nanoseconds> waits;  // how long they lasted
  std::optional<CutOff> cut_off{};
  std::vector<Commanded> commanded{};
};

// Plays the table like that. Throws JobStopped.
[[nodiscard]] Recordings record(const Played& played, const AsPlayed& played_as, const Wanted& wanted, const Job& job);

}  // namespace rampart::as_run
