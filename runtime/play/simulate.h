#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/bench/switch_delay.h"
#include "compiler/table/table.h"
#include "lang/job/job.h"
#include "lang/values/instant.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load.h"
#include "runtime/rail/course_sink.h"
#include "runtime/rail/deviation.h"

// Plays a table into a load.
namespace rampart {

// From `at` on, `becomes` stands on the rail.
struct Injection {
  RailId rail{};
  Instant at;
  std::vector<LoadElement> becomes;
};

// An interlock's line goes high at `at`: its rails switch off for good, and `safe` is played.
struct Assertion {
  LineId line{};
  Instant at;
};

// What a log tells of a run that ended early: its rails go off for good at `at`, whatever switched them off, and `safe`
// is played. There may be none.
struct CutOff {
  std::vector<RailId> rails;
  Instant at;
};

// What a log tells of a channel that was commanded otherwise than the table has it. From the first of these on the rows
// of the channel do not come, and these come instead; what such a row does not know stays as it was. Not in `safe`.
struct Commanded {
  Row row;  // at its time 0
  Instant at;
};

// What a run tells of rules.
enum class RulesAsked : std::uint8_t {
  Nothing,
  Verdicts,  // not how near a condition comes that is never met
  All
};

// What happens in a run besides its table: a fault, an interlock, outputs off their setpoints.
struct Incidents {
  std::optional<Injection> fault;
  std::optional<Assertion> assertion;
  std::vector<RailDeviation> deviations;  // one a rail; none: outputs are as they are set
  // How long the first waits last, in the order in which the run comes to them, whatever they wait for.
  std::vector<Nanoseconds> waits;
  std::optional<CutOff> cut_off{};
  std::vector<Commanded> commanded{};  // by time
  RulesAsked rules = RulesAsked::All;
};

// Outputs as they are set, on supplies whose switches act at these places in their ranges.
[[nodiscard]] std::vector<RailDeviation> deviations_at(const Table& table, const SwitchPositions& positions);

class MarkStates;
class Milestones;
struct RunNotes;

// What the rules of a run have come to at its end, or where it went on as another run did.
struct JudgedRun {
  std::vector<RuleResult> rules;
  bool joined = false;
};

// Plays the table into the load. Rails that the load does not name are open. `safe` is played from a trip. What the
// rails do goes to the sink, where there is one; how much of the table has been played, in ns, to the job's progress.
// The run takes down `notes` of itself, where they are asked for. Throws JobStopped.
[[nodiscard]] Simulation simulate(const Table& table, const Table* safe, const Load& load,
                                  const Incidents& incidents = {}, CourseSink* sink = nullptr, const Job& job = {},
                                  RunNotes* notes = nullptr);

// The run of the same table and load that has these incidents too, all of them after the mark. Begins there where the
// run that took down these states kept one; none where it did not. It judges no rules. Throws JobStopped.
[[nodiscard]] std::optional<Simulation> simulate_from(const MarkStates& marks, const std::string& mark,
                                                      const Table& table, const Load& load, const Incidents& incidents,
                                                      const Job& job);

// Plays it until it stands as a run of the same table stood, which took down its milestones. Throws JobStopped.
[[nodiscard]] JudgedRun judge(const Table& table, const Table* safe, const Load& load, const Incidents& incidents,
                              const Milestones& known, const Job& job);

}  // namespace rampart
