#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "compiler/profile/profile.h"
#include "compiler/rules/rules.h"
#include "lang/text/source.h"
#include "runtime/as_run/cause.h"
#include "runtime/as_run/course_window.h"
#include "runtime/log/log_description.h"
#include "runtime/log/recorded_run.h"

// What a log says of a run.
namespace rampart::as_run {

// Inconclusive: the log does not tell. It is never a pass.
enum class Verdict : std::uint8_t { Pass, Fail, Inconclusive };
[[nodiscard]] std::string_view verdict_word(Verdict verdict);

// Where something is: in the run, in the log, in the profile.
struct Place {
  double run_s = 0;
  double log_s = 0;  // as the log counts
  Span statement;    // that was played; empty before the first
};

// Readings of one quantity that are not where they should be, for one reason.
struct Excursion {
  RailId rail{};
  Measured quantity{};
  Place from;
  Place to;
  std::int64_t readings = 0;
  std::int64_t stretches = 1;  // apart from each other by readings that cannot tell
  Place worst;
  double measured = 0;  // where it is worst
  double predicted = 0;
  Band expected;  // what the reading may be there
  Cause cause{};
  std::optional<double> amount;  // of the cause, in its unit
  std::string other;             // with Swapped, the rail that it looks like; with Tripped, the log's words
  std::vector<RailId> along;     // with Tripped, the rails that went off with it
  std::size_t log = 0;           // of AsRun::logs, that shows it
};

// What is wrong with a command.
enum class CommandFault : std::uint8_t { Missing, Extra, Value };
[[nodiscard]] std::string_view fault_name(CommandFault fault);

// A command that is not what the table has, or a row that was not sent; what goes on alike is one.
struct CommandDifference {
  CommandFault fault{};
  std::string channel;  // or line
  std::string segment;
  double from_s = 0;  // planned, in the segment
  double to_s = 0;
  double log_s = 0;  // of the line where it shows
  std::int64_t count = 1;
  Span statement;    // of the row; empty where there is none
  std::string text;  // of the first
};

// A row that was later than the one before it.
struct LateRow {
  std::string channel;
  std::string segment;
  double planned_s = 0;  // in it
  double late_s = 0;     // more than the row before
  double total_s = 0;    // since its segment began
  double log_s = 0;
  Span statement;  // that the row is of
};

// One log, and where the run lies in it.
struct LogSeen {
  std::string path;
  LogDescription description;
  std::optional<RecordedRun> record;
  std::int64_t readings = 0;  // of rails
  std::int64_t before_run = 0;
  std::int64_t after_run = 0;
  std::int64_t duplicates = 0;
  double interval_s = 0;          // between readings of a rail, the longest of all rails' usual ones
  std::optional<double> shift_s;  // the time of the log at which the run begins; none: it was not found
  double clock_error = 0;
  double shift_uncertainty_s = 0;
  std::optional<Date> day;  // of the run
};

// Readings of a rail between two times of the run, for a drawing.
struct MeasuredPoint {
  double from_s = 0;
  double to_s = 0;
  std::optional<Band> volts;
  std::optional<Band> amps;
  std::optional<Band> watts;  // of readings with both
};

// One of the profile's segments, as the log shows it.
struct SegmentSeen {
  double run_s = 0;
  double log_s = 0;
  bool observed = false;
  double waited_s = 0;  // before it
};

// A rule or expectation on what was measured.
enum class Observed : std::uint8_t { Pass, Fail, NotObserved };
[[nodiscard]] std::string_view observed_word(Observed observed);

struct MeasuredResult {
  std::string text;  // of the rule's name, or the expectation as written
  Span span;
  Observed result = Observed::NotObserved;
  std::optional<double> least;  // of the margin, with the uncertainty of the measurement
  std::optional<double> most;
  std::string unit;
  std::string why;  // it was not observed
  bool holds_at_readings = false;
};

// Energy and charge of a rail between its first and last reading within the run, with their bounds.
struct MeasuredFigures {
  RailId rail{};
  std::int64_t readings = 0;
  double energy_J = 0;
  double energy_bound_J = 0;
  double charge_C = 0;
  double charge_bound_C = 0;
  std::optional<double> predicted_energy_J;
  std::optional<double> predicted_charge_C;
  std::int64_t single = 0;  // readings outside with none outside beside them
  bool voltage_judged = false;
  bool current_judged = false;
  bool with_power = false;   // voltage and current were read together
  bool has_bound = false;    // it is known how well all of them were
  bool lacks_meter = false;  // it was read, and nothing says how well
};

struct AsRun {
  Verdict sequence = Verdict::Inconclusive;
  Verdict response = Verdict::Inconclusive;
  std::string sequence_reason;
  std::string response_reason;
  bool from_commands = false;              // else from edges of voltage
  std::int64_t commands = 0;               // that were compared with the table
  std::int64_t commands_not_compared = 0;  // without a planned time
  std::vector<CommandDifference> differences;
  std::int64_t differences_left_out = 0;
  std::vector<LateRow> late_rows;
  std::vector<std::string> followed;   // rails that are predicted by what they were commanded instead of the table
  std::string unfollowed;              // one that is not, and so not judged; empty: none
  std::vector<RailId> left_on;         // at the end of the log, and should be off
  std::string stopped;                 // what else than a trip ended it early; empty: nothing did
  std::optional<double> broken_off_s;  // of the run: the log ends there, and says nothing of the end of the run
  std::string cause;                   // what makes all else that differs of no account; empty: nothing does
  double latest_s = 0;                 // of all commands, how much later than planned in their segment
  std::size_t edges_matched = 0;
  std::size_t edges_planned = 0;

  std::vector<LogSeen> logs;         // as they were given
  std::size_t leader = 0;            // of these: the one that tells the waits
  double duration_s = 0;             // of the run, as it was
  double needed_s = 0;               // of the run: until then there have to be readings
  double planned_s = 0;              // of the whole run, with waits as they were
  std::optional<double> measured_s;  // from its begin to its end, as the log says
  std::optional<double> trip_s;      // of the run: an unplanned trip or a stop
  std::vector<SegmentSeen> segments;
  std::vector<Excursion> excursions;
  std::vector<MeasuredFigures> rails;
  std::vector<MeasuredResult> rules;
  std::vector<MeasuredResult> expectations;
  std::vector<std::string> not_judged;
  std::vector<std::vector<MeasuredPoint>> curves;  // by rail, where they are asked for

  // Found in a log at all.
  [[nodiscard]] bool is_found() const { return !logs.empty() && logs[leader].shift_s.has_value(); }
  // Readings of all logs.
  [[nodiscard]] std::int64_t readings() const {
    std::int64_t sum = 0;
    for (const LogSeen& log : logs) sum += log.readings;
    return sum;
  }

  [[nodiscard]] bool passes() const { return sequence == Verdict::Pass && response == Verdict::Pass; }
};

}  // namespace rampart::as_run
