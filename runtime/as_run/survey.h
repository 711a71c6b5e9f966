#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "lang/findings/finding.h"
#include "runtime/as_run/course_window.h"
#include "runtime/as_run/edges.h"
#include "runtime/as_run/rail_readings.h"
#include "runtime/log/log_reader.h"

// A first reading of a log: what it covers, its edges, commands and events.
namespace rampart::as_run {

// More events, begins of segments and late rows are not kept.
inline constexpr std::size_t kMostEvents = 100'000;

// A line of the log, for findings.
struct LogLine {
  std::uint32_t number = 0;
  std::string text;
  double time = 0;
};

struct SeenEvent {
  LogLine line;
  std::string word;
  std::string rest;
  std::string segment;
  std::optional<std::size_t> target;
};

// A segment of which there are commands.
struct SeenSegment {
  std::string name;
  double time = 0;  // at which it began
};

// A row that was not as late as the one before it, after its segment had begun.
struct SeenDelay {
  std::size_t segment = 0;  // of Survey::segments
  double planned = 0;       // in it
  double late = 0;          // when it was acknowledged
  double width = 0;         // from when it was sent until then
};

// A command that is of no row: an output was switched off besides.
struct SeenOff {
  std::size_t target = 0;
  double time = 0;
};

// A long time without readings of a quantity.
struct SeenGap {
  double from = 0;
  double to = 0;
  LogLine line;  // after it
};

// Readings of one quantity of a rail.
struct SurveyedQuantity {
  std::int64_t readings = 0;
  double first = 0;
  double last = 0;
  double interval = 0;        // the usual one, s
  std::vector<SeenGap> gaps;  // the longest ones, longer than kGapIntervals usual ones, by time
  bool is_expected = false;   // the log is to have it
};
inline constexpr double kGapIntervals = 10;

struct SurveyedRail {
  std::int64_t readings = 0;  // of either quantity, or of both at once
  double interval = 0;        // between these
  std::array<SurveyedQuantity, kMeasured> quantities;
  std::optional<std::size_t> volts_by;  // instrument of the description; none: the supply's own meter

  [[nodiscard]] const SurveyedQuantity& of(Measured quantity) const { return quantities[place_of(quantity)]; }
  [[nodiscard]] bool has(Measured quantity) const { return of(quantity).readings > 0; }
};

struct Survey {
  Nanoseconds origin{0};  // all times count from here
  std::vector<SurveyedRail> rails;
  std::vector<Edge> edges;
  std::vector<SeenEvent> events;
  std::vector<SeenSegment> segments;
  std::vector<SeenDelay> delays;
  std::vector<SeenOff> extra_offs;
  std::int64_t readings = 0;
  std::int64_t commands = 0;
  std::int64_t duplicates = 0;
  double first = 0;
  double last = 0;
  // What comes after this line is out of order, and is not looked at.
  std::optional<std::uint32_t> ends_at;
  bool is_log = false;      // its header can be read
  bool has_broken = false;  // some of its lines cannot
  bool failed = false;      // could not be read to its end

  // Seconds since the origin.
  [[nodiscard]] double seconds(Nanoseconds time) const { return static_cast<double>((time - origin).count()) / 1e9; }
};

// `stream` is at its beginning. Reports what is wrong with its lines and times.
[[nodiscard]] Survey survey(std::FILE* stream, const std::string& name, const LogDescription& description,
                            const LogNames& names, const Table& table, const std::vector<RailLevels>& levels,
                            FindingSink& findings);

// Where a line of the log stands, for a finding.
[[nodiscard]] Span place_of_line(const std::string& name, const LogLine& line, FindingSink& findings);

}  // namespace rampart::as_run
