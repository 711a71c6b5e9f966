#include "runtime/cli/text/simulation_text.h"

#include <algorithm>
#include <cmath>

#include "lang/values/short_text.h"
#include "runtime/answer/loop_text.h"
#include "runtime/answer/margin_words.h"
#include "runtime/cli/text/event_lines.h"
#include "runtime/cli/text/readings_text.h"
#include "runtime/cli/text/text_table.h"
#include "runtime/fold/drift.h"

namespace rampart::cli {
namespace {

// More events than this say less: the first ones and a count.
constexpr std::size_t kMaxEventsShown = 20;
// Less is what calculating leaves behind, not something to measure.
constexpr double kSmallestShownVolts = 1e-6;
// A balance that leaves over more than this share, and more than this many joules, breaks what is promised.
constexpr double kBalanceTold = 1e-6;
constexpr double kNothingLeftOver = 1e-12;

class SimulationText {
 public:
  explicit SimulationText(const Answer& answer)
      : answer_(answer), profile_(*answer.compiled.profile()), simulation_(*answer.predictions.shown()) {}

  std::string title(const std::string& drawing) {
    write_title();
    if (!drawing.empty()) text_ += "\n" + drawing + "\n";
    return text_;
  }

  std::string tables() {
    write_rails();
    write_readings();
    write_events();
    write_balances();
    write_margins();
    write_rules();
    write_expectations();
    write_loops();
    write_assumed();
    return text_;
  }

 private:
  void write_title() {
    text_ += (profile_.title.empty() ? answer_.path : profile_.title) + ": " +
             (simulation_.fault ? "under " + *answer_.predictions.fault + ", " : "") +
             to_text(simulation_.duration_s, "s") + ", " + short_text(simulation_.total_energy_J, "J") +
             " total, peak " + short_text(simulation_.total_power_W.value, "W") + "\n";
    if (simulation_.fault || simulation_.asserted)
      text_ += "the findings are those of the run without it, unless they say otherwise\n";
  }

  // "electronic fuse", or "linked with radio".
  [[nodiscard]] std::string cause_of(RailId rail) const {
    const std::optional<Trip>& trip = simulation_.rails[static_cast<std::size_t>(rail)].trip;
    if (!trip) return {};
    const std::optional<RailId> by = pulled_by(profile_, simulation_, rail);
    return std::string(trip_cause_words(trip->cause)) + (by ? " with " + profile_[*by].name : "");
  }

  void write_rails() {
    TextTable table({"rail", "energy", "charge", "peak current", "peak power", "peak voltage", "in CC", "ends at"});
    for (std::size_t i = 0; i < profile_.rails.size(); ++i) {
      const RailFigures& rail = simulation_.rails[i];
      table.add({profile_.rails[i].name, short_text(rail.energy_J, "J"), short_text(rail.charge_C, "C"),
                 short_text(rail.current_A.value, "A"), short_text(rail.power_W.value, "W"),
                 short_text(rail.voltage_V.value, "V"), short_text(rail.cc_time_s, "s"), final_voltage(rail)});
    }
    text_ += "\n" + table.text();
  }

  void write_readings() {
    const std::string readings = readings_text(answer_, simulation_.readings.size());
    if (!readings.empty()) text_ += "\n" + readings;
  }

  static std::string final_voltage(const RailFigures& rail) {
    return short_text(std::abs(rail.final_voltage_V) < kSmallestShownVolts ? 0.0 : rail.final_voltage_V, "V");
  }

  // Figures of a rail are no better than its balance.
  void write_balances() {
    std::string lines;
    for (std::size_t i = 0; i < profile_.rails.size(); ++i) {
      const EnergyBalance& balance = simulation_.rails[i].balance;
      const double error = balance.relative_error;
      double left_over = balance.delivered_J - balance.dissipated_wire_J - balance.stored_J;
      for (const double element : balance.dissipated_elements_J) left_over -= element;
      if (error <= kBalanceTold || std::abs(left_over) <= kNothingLeftOver) continue;
      lines += "energy of `" + profile_.rails[i].name + "`: accurate only to " + to_text(100 * told_error(error), "%") +
               " of the energy that flows, because its parts differ too much in size or were not simulated in full\n";
    }
    if (!lines.empty()) text_ += "\n" + lines;
  }

  void write_events() {
    TextTable table({"event", "at", "rail", "pass"});
    std::size_t shown = 0;
    for (const EventLine& line : event_lines(simulation_.events)) {
      if (follows_current_limit(*line.first)) continue;
      if (shown++ >= kMaxEventsShown) continue;
      const Event& event = *line.first;
      table.add({what_happened(line), to_text(event.time_s, "s"), event.rail ? profile_[*event.rail].name : "",
                 event.passes.empty() ? "" : std::to_string(event.passes.back())});
    }
    if (table.empty()) return;
    text_ += "\n" + table.text();
    const std::int64_t more =
        static_cast<std::int64_t>(shown - std::min(shown, kMaxEventsShown)) + simulation_.events_left_out;
    if (more > 0) text_ += "  … and " + std::to_string(more) + " more; --format json has them\n";
  }

  // A line that shows constant current says again what the rail's own events say.
  [[nodiscard]] bool follows_current_limit(const Event& event) const {
    return event.line && profile_[*event.line].trigger == LineTrigger::ConstantCurrent;
  }

  [[nodiscard]] std::string what_happened(const EventLine& line) const {
    const Event& event = *line.first;
    if (line.spells > 1) {
      return (event.part.empty() ? "in and out of CC, " : event.part + " starts and stops, ") +
             std::to_string(line.spells) + " times until " + to_text(line.until_s, "s");
    }
    if (event.line)
      return "line " + profile_[*event.line].name + (event.kind == EventKind::LineHigh ? " high" : " low");
    if (!event.part.empty()) return event.part + " " + std::string(row_of(event.kind).verb);
    if (event.kind == EventKind::Mark) return "mark \"" + event.mark + "\"";
    if (event.kind == EventKind::Passes) {
      return (event.count == 1 ? "1 pass" : std::to_string(event.count) + " passes") +
             (event.drifting ? " of a slow drift, until " : " identical, until ") + to_text(event.to_s, "s");
    }
    if (event.kind == EventKind::Trip) return "trip: " + cause_of(*event.rail);
    return std::string(row_of(event.kind).name);
  }

  void write_margins() {
    TextTable table({"margin", "rail", "left", "of", "at", "line"});
    for (const Margin& margin : simulation_.margins) {
      const MarginRow& row = row_of(margin.kind);
      table.add({std::string(row.words), owner_of(profile_, margin),
                 left_cell(profile_, simulation_, margin, answer_.findings), short_text(margin.limit, row.unit),
                 to_text(margin.time_s, "s"), line_of(margin.statement)});
    }
    if (!table.empty()) text_ += "\n" + table.text();
    if (const std::string exceeded = exceeded_words(simulation_); !exceeded.empty()) text_ += "  " + exceeded + "\n";
    write_delays();
  }

  // Of the plain run alone.
  void write_delays() {
    if (&simulation_ != (answer_.predictions.simulation ? &*answer_.predictions.simulation : nullptr)) return;
    TextTable table({"fuse of", "minimum delay", "maximum delay", "acts first above that"});
    for (const FuseDelays& delays : answer_.predictions.fuse_delays) {
      table.add({profile_[delays.rail].name, minimum_text(delays), maximum_text(delays),
                 delays.longest_s ? longest_by_text(delays) : ""});
    }
    if (!table.empty()) text_ += "\n" + table.text();
  }

  void write_rules() {
    TextTable table({"rule", "judged on", "result", "margin", "at", "line"});
    for (const RuleResult& result : answer_.compiled.rules()) add_rule(result, table);
    for (const RuleResult& result : simulation_.rules) add_rule(result, table);
    if (!table.empty()) text_ += "\n" + table.text();
  }

  void add_rule(const RuleResult& result, TextTable& table) const {
    const std::string side(result.side == RuleSide::Setpoints ? "setpoints" : "simulation");
    const std::string& name = profile_.rules[result.rule].name;
    if (!result.exercised) {
      table.add({name, side, "not exercised", "", "", ""});
      return;
    }
    table.add({name, side, result.holds ? "PASS" : "FAIL",
               result.margin ? short_text_down(*result.margin, result.unit) : "", to_text(result.time_s, "s"),
               line_of(result.statement)});
  }

  // Empty where there is no statement to show.
  [[nodiscard]] std::string line_of(const Span& statement) const {
    if (statement.end <= statement.begin) return "";
    return std::to_string(answer_.findings.texts()[statement.file].position(statement.begin).line);
  }

  void write_expectations() {
    TextTable table({"expectation", "result", "is", "margin"});
    for (const ExpectationResult& result : answer_.predictions.expectations(*answer_.compiled.profile())) {
      table.add({result.text, result.holds ? "PASS" : "FAIL",
                 result.value ? short_text(*result.value, result.unit) : "",
                 result.margin ? short_text_down(*result.margin, result.unit) : ""});
    }
    if (!table.empty()) text_ += "\n" + table.text();
  }

  void write_loops() {
    for (const FoldedLoop& loop : simulation_.folded) {
      if (loop.added == 0) continue;
      text_ += "\nrepeat in line " + line_of(loop.statement) + ": " + std::to_string(loop.simulated) +
               (loop.simulated == 1 ? " pass" : " passes") + " simulated; " + added_passes_text(loop) + "\n";
    }
  }

  void write_assumed() {
    if (simulation_.assumed.empty()) return;
    text_ += "\nassumed ideal (not in the bench or load file)\n";
    for (const Assumption& assumed : simulation_.assumed) text_ += "  " + assumption_text(assumed) + "\n";
  }

  const Answer& answer_;
  const Profile& profile_;
  const Simulation& simulation_;
  std::string text_;
};

}  // namespace

std::string run_text(const Answer& answer, const std::string& drawing) {
  return SimulationText(answer).title(drawing);
}

std::string simulation_tables(const Answer& answer) {
  return SimulationText(answer).tables();
}

}  // namespace rampart::cli
