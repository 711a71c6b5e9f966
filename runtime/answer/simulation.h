#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "compiler/rules/rules.h"
#include "compiler/table/table.h"
#include "lang/findings/finding.h"
#include "lang/values/instant.h"
#include "runtime/answer/assumption.h"
#include "runtime/answer/event_kind.h"
#include "runtime/answer/margin_kind.h"
#include "runtime/answer/shortfalls.h"

// What a table does to a load: the answer of the simulation, in SI units.
namespace rampart {

struct Trip {
  TripCause cause{};
  double time_s = 0;
  Span statement;  // what the table was doing
  Passes passes;
};

struct Event {
  double time_s = 0;
  std::optional<RailId> rail;
  EventKind kind{};
  Span statement;
  Passes passes;
  std::string mark;            // with Mark
  std::string part;            // of the load, with Starts and Stops
  std::optional<LineId> line;  // with LineHigh and LineLow
  std::int64_t count = 0;      // with Passes
  double to_s = 0;             // with Passes: where the added passes end
  bool drifting = false;       // with Passes: of a slow drift, not alike
};

// Energy in joules that left the terminals, and where it went. delivered = wire + elements + stored.
struct EnergyBalance {
  double delivered_J = 0;
  double dissipated_wire_J = 0;
  std::vector<double> dissipated_elements_J;  // in the order of the load's elements
  double stored_J = 0;                        // at the end less at the start
  double relative_error = 0;                  // what is left over, against the larger side
};

struct Peak {
  double value = 0;
  double time_s = 0;
  Span statement;
  Passes passes;
};

// What a rail reads at a mark: the least and greatest left limit over all times it was reached.
struct MarkReading {
  std::string mark;
  double low_voltage_V = 0;
  double high_voltage_V = 0;
  double low_current_A = 0;
  double high_current_A = 0;
  std::int64_t reached = 0;
};

// A rail that was not at its setpoint all through a reading.
struct Unsettled {
  double setpoint_V = 0;
  double voltage_V = 0;  // at the end of the reading
  // How long after the reading had begun the rail was there; empty: it never was.
  std::optional<double> late_s;
};

// What one rail reads: the means of the voltage that its supply regulates, and of its current.
struct RailReading {
  double voltage_V = 0;
  double current_A = 0;
  std::optional<Unsettled> unsettled;
};

// A `measure` statement, reached once or several times in passes that are alike.
struct TakenReading {
  std::string name;
  double over_s = 0;
  Span statement;
  double time_s = 0;  // the first time
  Passes passes;      // likewise
  std::int64_t count = 1;
  std::int64_t drifting = 0;                      // more passes after these, of a slow drift: on the way to the next
  std::vector<std::optional<RailReading>> rails;  // in the order of the profile; empty: not known
};

struct RailFigures {
  double energy_J = 0;
  double charge_C = 0;
  double returned_energy_J = 0;  // into a sink; `energy_J` is net of it
  Peak current_A;
  Peak power_W;
  Peak voltage_V;      // at the terminals
  double i2t_A2s = 0;  // integral of the current squared
  double cc_time_s = 0;
  Peak longest_cc_s;           // its end
  double final_voltage_V = 0;  // at the load
  double stored_J = 0;         // in the load at the end
  bool ends_on = false;        // its last row has it on
  // How long after the end the load is down to kChargedVolts by itself, where it is off and charged above that.
  std::optional<double> clears_s;
  std::optional<StoredCharge> left;  // what it holds at the end, where it is off and charged above that
  std::optional<Trip> trip;
  EnergyBalance balance;
  std::vector<MarkReading> marks;
  Shortfalls shortfalls;
};

// A distance to a limit: positive while it holds, in the unit of its kind.
struct Margin {
  RailId rail{};  // with a supply: the first that draws from it
  MarginKind kind{};
  double margin = 0;
  double limit = 0;  // what the margin is measured against
  double time_s = 0;
  Span statement;
  Passes passes;
  std::string owner{};  // the output, channel or supply, where the kind is not of the rail
};

// How loops were answered.
struct FoldedLoop {
  Span statement;
  std::int64_t simulated = 0;  // passes walked
  std::int64_t added = 0;      // passes added in one step
  std::int64_t drifting = 0;   // of those, passes of a slow drift; the others are alike
  double error = 0;            // by the drift: bound as a share of a rail's largest voltage, current and power
};

// What went on without end on a rail; from `time_s` on it is given up, and the rest a guess.
struct ModeChatter {
  RailId rail{};
  double time_s = 0;
  std::int64_t cycles = 0;  // of Modes; steps of the course; changes by the clock
  Span statement;
  Passes passes;
  ChatterKind kind{};
};

// How near a comparison came to being true, and when.
struct Approach {
  double distance = 0;  // the greatest value of its form; 0 or above: it was true at some time
  double time_s = 0;
};

// How long an `await` without an assumed time waited for its condition.
struct Awaited {
  double time_s = 0;    // when the wait began
  double waited_s = 0;  // all that it may, where it timed out
  bool timed_out = false;
  Span statement;
  Passes passes;
  std::size_t condition = 0;        // of the profile
  std::vector<Approach> nearest{};  // by comparison of the condition, where it timed out
};

// Where a run was left, since what remained would have taken too long to go through.
struct CutShort {
  double time_s = 0;
  std::int64_t steps = 0;
  std::int64_t unlike_passes = 0;  // of the loop at `statement`, each of which has steps of its own; 0: another reason
  Span statement;
  Passes passes;
};

// When a mark was first reached.
struct MarkTime {
  std::string mark;
  Instant at;
  Span statement;
};

// A fault that came in this run.
struct FaultRecord {
  RailId rail{};
  double time_s = 0;
  double energy_J = 0;  // that the rail had delivered by then
  double i2t_A2s = 0;   // likewise the integral of its current squared
};

struct Simulation {
  double duration_s = 0;
  std::vector<RailFigures> rails;  // in the order of the profile's rails
  double total_energy_J = 0;
  Peak total_power_W;
  std::vector<Event> events;
  std::int64_t events_left_out = 0;  // past the bound on how many are kept
  std::vector<Margin> margins;
  std::vector<RuleResult> rules;  // judged at the load
  std::vector<FoldedLoop> folded;
  std::vector<ModeChatter> chatter;
  std::vector<Awaited> awaited;  // of walked passes
  std::vector<Assumption> assumed;
  bool safe_played = false;
  std::vector<TakenReading> readings;
  std::int64_t readings_left_out = 0;  // past the bound on how many are kept, or of passes that were added unread
  std::vector<MarkTime> first_marks;
  std::vector<Instant> segment_starts;  // of the first ones
  bool asserted = false;                // an interlock has acted
  std::optional<CutShort> cut_short;    // figures and margins are those until then
  std::optional<FaultRecord> fault;     // none in a plain run, or where the run ends before it
};

// Events kept with the answer; figures count all.
inline constexpr std::size_t kMaxEvents = 10'000;
// Readings kept with the answer that are not alike.
inline constexpr std::size_t kMaxReadings = 10'000;
// Starts of segments kept with the answer.
inline constexpr std::size_t kMaxSegmentStarts = 10'000;
// Changes of mode of a rail that are gone through, and pieces that its own course asks for; its rows give a few back.
inline constexpr std::int64_t kMaxModeChanges = 10'000;
inline constexpr std::int64_t kMaxOwnPieces = 100'000;

// Steps of rails that a run is gone through in; one that is solved numerically counts as so many.
inline constexpr std::int64_t kMostSteps = 2'000'000;
inline constexpr std::int64_t kSolvedStep = 3;

}  // namespace rampart
