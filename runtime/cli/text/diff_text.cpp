#include "runtime/cli/text/diff_text.h"

#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/cli/json/json_parts.h"
#include "runtime/cli/text/text_table.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;
using diff::Compared;
using diff::kComparedCount;

constexpr std::string_view kNames[] = {"setpoint", "limit", "output", "level"};

bool is_switch(Compared quantity) {
  return quantity == Compared::Output || quantity == Compared::Level;
}

std::string value_text(Compared quantity, const std::optional<Rational>& value) {
  if (!value) return "as it is";
  switch (quantity) {
    case Compared::Setpoint:
      return to_text(Volts{*value});
    case Compared::Limit:
      return to_text(Amps{*value});
    case Compared::Output:
      return value->sign() == 0 ? "off" : "on";
    case Compared::Level:
      break;
  }
  return value->sign() == 0 ? "low" : "high";
}

// How much of a difference is told, and in what words.
struct DiffWords {
  bool full = false;
  bool segments = false;  // there are several, or a safe sequence
};

std::string stretch_text(Compared quantity, const diff::Stretch& stretch, bool segments) {
  const bool at_end = stretch.from == stretch.to;
  std::string text = at_end ? "    left at the end" : "    " + to_text(stretch.from) + " to " + to_text(stretch.to);
  if (segments) text += " of segment " + stretch.segment;
  if (stretch.waits) text += " and through the wait after it";
  text += ": " + value_text(quantity, stretch.after) + " instead of " + value_text(quantity, stretch.before);
  if (stretch.at != stretch.from) text += " at " + to_text(stretch.at);
  if (!is_switch(quantity) && stretch.before && stretch.after)
    text += ", " + value_text(quantity, stretch.largest) + " apart";
  if (stretch.passes > 1) text += ", in " + std::to_string(stretch.passes) + " passes";
  return text + "\n";
}

std::string rail_name(const Answer& before, const Answer& after, const diff::RailDifference& rail) {
  const std::string& old_name = (*before.compiled.profile())[rail.before].name;
  const std::string& name = (*after.compiled.profile())[rail.after].name;
  return old_name == name ? name : name + " (was " + old_name + ")";
}

// As many as a person reads before the figures that decide.
constexpr std::size_t kShownStretches = 3;

std::string quantity_text(Compared quantity, const diff::QuantityDifference& one, const DiffWords& words) {
  if (one.stretches.empty()) return {};
  std::string text = "  " + std::string(kNames[static_cast<std::size_t>(quantity)]) + " differs";
  text += one.total == Nanoseconds{0} ? "\n" : " for " + to_text(one.total) + " in total\n";
  const std::size_t shown = words.full ? one.stretches.size() : std::min(one.stretches.size(), kShownStretches);
  for (std::size_t i = 0; i < shown; ++i) text += stretch_text(quantity, one.stretches[i], words.segments);
  const std::int64_t others = static_cast<std::int64_t>(one.stretches.size() - shown) + one.left_out;
  if (others > 0)
    text += "    and in " + std::to_string(others) + (others == 1 ? " more stretch\n" : " more stretches\n");
  return text;
}

std::string rail_text(const std::string& name, const diff::RailDifference& rail, const DiffWords& words) {
  std::string text = "rail " + name + "\n";
  for (std::size_t i = 0; i < kComparedCount; ++i) {
    text += quantity_text(static_cast<Compared>(i), rail.quantities[i], words);
  }
  return text;
}

std::string line_name(const Answer& answer, LineId line) {
  return answer.compiled.profile()->lines[static_cast<std::size_t>(line)].name;
}

std::string line_text(const Answer& before, const Answer& after, const diff::LineDifference& line,
                      const DiffWords& words) {
  const std::string text = quantity_text(Compared::Level, line.level, words);
  if (text.empty()) return {};
  const std::string old_name = line_name(before, line.before);
  const std::string name = line_name(after, line.after);
  return "line " + name + (old_name == name ? "" : " (was " + old_name + ")") + "\n" + text;
}

std::string wait_text(const diff::WaitChange& change) {
  const auto shown = [](const std::string& value) { return value.empty() ? "measured" : value; };
  const std::string what = change.what == "assume" ? "assumed to last" : change.what;
  return "wait after segment " + change.segment + ": " + what + " " + shown(change.after) + " instead of " +
         shown(change.before) + "\n";
}

std::size_t line_of(const Answer& answer, const Span& statement) {
  return answer.findings.texts()[statement.file].position(statement.begin).line;
}

std::string loop_text(const Answer& after, const diff::LoopChange& change) {
  const std::string loop = "repeat in line " + std::to_string(line_of(after, change.statement));
  std::string text;
  if (change.length_before != change.length_after) {
    text += loop + ": a pass takes " + to_text(change.length_after) + " instead of " + to_text(change.length_before) +
            "; passes are compared from their start\n";
  }
  if (change.passes_before != change.passes_after) {
    text += loop + ": " + std::to_string(change.passes_after) + " passes instead of " +
            std::to_string(change.passes_before) + "\n";
  }
  return text;
}

std::string unmatched_text(std::string_view what, const diff::Unmatched& other) {
  std::string text;
  for (const std::string& name : other.before) text += std::string(what) + " " + name + " is gone\n";
  for (const std::string& name : other.after) text += std::string(what) + " " + name + " is new\n";
  return text;
}

std::string figures_text(const std::vector<diff::FigureChange>& figures) {
  if (figures.empty()) return {};
  TextTable table({"figure", "of", "old", "new"});
  const auto text = [](const std::optional<double>& value, const std::string& unit) {
    return value ? to_text(*value, unit) : std::string("none");
  };
  for (const diff::FigureChange& figure : figures) {
    table.add({figure.what, figure.rail, text(figure.before, figure.unit), text(figure.after, figure.unit)});
  }
  return table.text();
}

Json stretches_json(Compared quantity, const diff::QuantityDifference& difference) {
  Json stretches = Json::array();
  const auto value = [quantity](const std::optional<Rational>& number) {
    if (!number) return Json(nullptr);
    return is_switch(quantity) ? Json(number->sign() != 0) : Json(number->to_double());
  };
  for (const diff::Stretch& one : difference.stretches) {
    stretches.push_back({{"segment", one.segment},
                         {"from_s", to_seconds(one.from).to_double()},
                         {"to_s", to_seconds(one.to).to_double()},
                         {"largest", one.largest.to_double()},
                         {"at_s", to_seconds(one.at).to_double()},
                         {"old", value(one.before)},
                         {"new", value(one.after)},
                         {"passes", one.passes},
                         {"waits", one.waits}});
  }
  return {{"total_s", to_seconds(difference.total).to_double()},
          {"stretches", std::move(stretches)},
          {"left_out", difference.left_out}};
}

Json figure_json(const std::optional<double>& value) {
  return value ? Json(*value == 0.0 ? 0.0 : *value) : Json(nullptr);
}

}  // namespace

std::string diff_text(const Answer& before, const Answer& after, const diff::ProfileDifference& difference, bool full) {
  const diff::TableDifference& table = difference.table;
  const DiffWords words{full, before.compiled.run_timeline()->has_segments() || before.compiled.safe() != nullptr ||
                                  after.compiled.safe() != nullptr};
  std::string text;
  if (table.duration_before != table.duration_after) {
    text += "lasts " + to_text(table.duration_after) + " instead of " + to_text(table.duration_before) + "\n";
  }
  for (const std::string& segment : table.segments) text += segment + "\n";
  for (const diff::LoopChange& change : table.loops) text += loop_text(after, change);
  for (const diff::WaitChange& change : table.waits) text += wait_text(change);
  text += unmatched_text("rail", table.other_rails) + unmatched_text("line", table.other_lines);
  for (const diff::RailDifference& rail : table.rails) {
    if (rail.any()) text += rail_text(rail_name(before, after, rail), rail, words);
  }
  for (const diff::LineDifference& line : table.lines) text += line_text(before, after, line, words);
  for (const diff::SetupChange& change : difference.setup) {
    const auto shown = [](const std::string& value) { return value.empty() ? "none" : value; };
    text +=
        change.what + " of " + change.of + ": " + shown(change.after) + " instead of " + shown(change.before) + "\n";
  }
  for (const diff::MeasurementChange& change : difference.measurements) {
    const auto shown = [](const std::optional<Nanoseconds>& over) {
      return over ? "over " + to_text(*over) : std::string("none");
    };
    text += "reading `" + change.name + "`: " + shown(change.after) + " instead of " + shown(change.before) + "\n";
  }
  text += figures_text(difference.figures);
  for (const std::string& finding : difference.vanished) text += "no longer found: " + finding + "\n";
  for (const std::string& finding : difference.appeared) text += "now found: " + finding + "\n";
  for (const diff::FindingChange& finding : difference.changed) {
    text += "still found: " + finding.after + "\n        was: " + finding.before + "\n";
  }
  return text;
}

std::string one_sided_text(const Answer& only, bool is_new) {
  std::string text = std::string(is_new ? "new" : "removed") + " profile: " + only.compiled.profile()->title + "\n";
  text += "lasts " + to_text(only.compiled.run()->timeline().duration()) + "\n";
  for (const Rail& rail : only.compiled.profile()->rails) text += "rail " + rail.name + "\n";
  for (const Line& line : only.compiled.profile()->lines) text += "line " + line.name + "\n";
  return text;
}

std::string one_sided_document(const std::string& before, const std::string& after, const Answer& only, bool is_new) {
  Json rails = Json::array();
  for (const Rail& rail : only.compiled.profile()->rails) rails.push_back(rail.name);
  Json lines = Json::array();
  for (const Line& line : only.compiled.profile()->lines) lines.push_back(line.name);
  const double duration = to_seconds(only.compiled.run()->timeline().duration()).to_double();
  const std::string side = is_new ? "new" : "old";
  const Json document{{"rampart", version()},
                      {"old", before},
                      {"new", after},
                      {"differs", true},
                      {"only", side},
                      {"duration_s", {{side, duration}}},
                      {"only_" + side, std::move(rails)},
                      {"only_" + side + "_lines", std::move(lines)}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string broken_document(const Answer& before, const Answer& after) {
  Json broken = Json::array();
  if (!before.has_table()) broken.push_back("old");
  if (!after.has_table()) broken.push_back("new");
  const Json document{{"rampart", version()},
                      {"old", before.path},
                      {"new", after.path},
                      {"differs", nullptr},
                      {"broken", std::move(broken)},
                      {"old_findings", findings_json(before)},
                      {"new_findings", findings_json(after)}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string diff_document(const Answer& before, const Answer& after, const diff::ProfileDifference& difference) {
  const diff::TableDifference& table = difference.table;
  Json rails = Json::array();
  for (const diff::RailDifference& rail : table.rails) {
    Json one{{"rail", (*after.compiled.profile())[rail.after].name},
             {"old_name", (*before.compiled.profile())[rail.before].name}};
    for (std::size_t i = 0; i < kComparedCount; ++i) {
      one[std::string(kNames[i])] = stretches_json(static_cast<Compared>(i), rail.quantities[i]);
    }
    rails.push_back(std::move(one));
  }
  Json lines = Json::array();
  for (const diff::LineDifference& line : table.lines) {
    lines.push_back({{"line", line_name(after, line.after)},
                     {"old_name", line_name(before, line.before)},
                     {"level", stretches_json(Compared::Level, line.level)}});
  }
  Json loops = Json::array();
  for (const diff::LoopChange& change : table.loops) {
    loops.push_back({{"line", line_of(after, change.statement)},
                     {"old_pass_s", to_seconds(change.length_before).to_double()},
                     {"new_pass_s", to_seconds(change.length_after).to_double()},
                     {"old_passes", change.passes_before},
                     {"new_passes", change.passes_after}});
  }
  Json waits = Json::array();
  for (const diff::WaitChange& change : table.waits) {
    const auto text = [](const std::string& value) { return value.empty() ? Json(nullptr) : Json(value); };
    waits.push_back({{"segment", change.segment},
                     {"what", change.what},
                     {"old", text(change.before)},
                     {"new", text(change.after)}});
  }
  Json setup = Json::array();
  for (const diff::SetupChange& change : difference.setup) {
    setup.push_back({{change.is_line ? "line" : "rail", change.of},
                     {"what", change.what},
                     {"old", change.before},
                     {"new", change.after}});
  }
  Json measurements = Json::array();
  for (const diff::MeasurementChange& change : difference.measurements) {
    const auto over = [](const std::optional<Nanoseconds>& time) {
      return time ? Json(to_seconds(*time).to_double()) : Json(nullptr);
    };
    measurements.push_back(
        {{"name", change.name}, {"old_over_s", over(change.before)}, {"new_over_s", over(change.after)}});
  }
  Json figures = Json::array();
  for (const diff::FigureChange& figure : difference.figures) {
    figures.push_back({{"rail", figure.rail},
                       {"what", figure.what},
                       {"old", figure_json(figure.before)},
                       {"new", figure_json(figure.after)},
                       {"unit", figure.unit}});
  }
  Json changed = Json::array();
  for (const diff::FindingChange& one : difference.changed)
    changed.push_back({{"old", one.before}, {"new", one.after}});
  const Json document{
      {"rampart", version()},
      {"old", before.path},
      {"new", after.path},
      {"differs", difference.any()},
      {"duration_s",
       {{"old", to_seconds(table.duration_before).to_double()}, {"new", to_seconds(table.duration_after).to_double()}}},
      {"rails", std::move(rails)},
      {"only_old", table.other_rails.before},
      {"only_new", table.other_rails.after},
      {"lines", std::move(lines)},
      {"only_old_lines", table.other_lines.before},
      {"only_new_lines", table.other_lines.after},
      {"loops", std::move(loops)},
      {"waits", std::move(waits)},
      {"segments", table.segments},
      {"setup", std::move(setup)},
      {"measurements", std::move(measurements)},
      {"figures", std::move(figures)},
      {"findings",
       {{"vanished", difference.vanished}, {"appeared", difference.appeared}, {"changed", std::move(changed)}}}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace rampart::cli
