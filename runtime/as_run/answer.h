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
  std::optional<double> covered_to_s;  // of the run
};

struct AsRun {
  Verdict sequence = Verdict::Inconclusive;
  Verdict response = Verdict::Inconclusive;
  std::string sequence_reason;
  std::string response_reason;
  bool from_commands = false;  // else from edges of voltage
  std::int64_t commands = 0;
  std::size_t edges_matched = 0;
  std::size_t edges_planned = 0;

  std::string log;  // its name
  LogDescription description;
  std::int64_t readings = 0;  // of rails
  std::int64_t before_run = 0;
  std::int64_t after_run = 0;
  std::int64_t duplicates = 0;
  double interval_s = 0;  // between readings of a rail, the longest of all rails' usual ones

  std::optional<double> shift_s;  // the time of the log at which the run begins
  double clock_error = 0;
  double shift_uncertainty_s = 0;
  double duration_s = 0;  // of the run, as it was
  std::vector<SegmentSeen> segments;
  std::vector<Excursion> excursions;
  std::vector<MeasuredFigures> rails;
  std::vector<MeasuredResult> rules;
  std::vector<MeasuredResult> expectations;
  std::vector<std::string> not_judged;

  [[nodiscard]] bool passes() const { return sequence == Verdict::Pass && response == Verdict::Pass; }
};

}  // namespace rampart::as_run
