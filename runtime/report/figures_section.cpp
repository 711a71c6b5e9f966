#include <algorithm>
#include <cmath>
#include <vector>

#include "lang/values/short_text.h"
#include "runtime/answer/loop_text.h"
#include "runtime/answer/margin_words.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

constexpr double kSmallestShownVolts = 1e-6;

Markup result_of(bool holds) {
  return element("span", {{"class", holds ? "yes" : "no"}}, text(holds ? "PASS" : "FAIL"));
}

// The tightest first.
Markup margin_table(const Subject& subject, bool protections) {
  HtmlTable table(protections
                      ? "Protection: margin left before it acts"
                      : "Limits and settling: margin left. For a rail at its current limit, see the margin of its fuse",
                  {"of", "margin", "#left", "#of", "#share", "#at", "last change", "threshold set in"});
  const Margin* tightest = subject.headline.tightest.empty() ? nullptr : subject.headline.tightest.front().nominal;
  std::vector<const Margin*> margins;
  for (const Margin& margin : subject.simulation->margins) {
    if (row_of(margin.kind).trips_by.has_value() == protections) margins.push_back(&margin);
  }
  const auto has_share = [&](const Margin& margin) {
    return margin.limit != 0 && !has_tripped(*subject.simulation, margin) &&
           !never_acts(subject.profile, margin, subject.answer.findings);
  };
  std::stable_sort(margins.begin(), margins.end(), [&](const Margin* a, const Margin* b) {
    if (has_share(*a) != has_share(*b)) return has_share(*a);
    return share_of(a->margin, a->limit) < share_of(b->margin, b->limit);
  });
  for (const Margin* one : margins) {
    const Margin& margin = *one;
    const MarginRow& row = row_of(margin.kind);
    const Span threshold = subject.threshold_of(margin);
    table.add_row(&margin == tightest ? "least" : "",
                  {name(owner_of(subject.profile, margin)), text(row.words),
                   text(left_cell(subject.profile, *subject.simulation, margin, subject.answer.findings)),
                   text(short_text(margin.limit, row.unit)),
                   has_share(margin) ? text(share_text(margin.margin, margin.limit)) : Markup(),
                   subject.at(margin.time_s, margin.rail, spell_of(margin)), subject.line_of(margin.statement),
                   subject.line_of(threshold)});
  }
  if (!table.empty()) {
    const std::string exceeded = protections ? exceeded_words(*subject.simulation) : std::string();
    return exceeded.empty() ? table.markup() : table.markup() + element("p", text(exceeded));
  }
  return protections ? element("p", text("No protection is set, so there are no margins.")) : Markup();
}

Markup delays_table(const Subject& subject) {
  HtmlTable table(
      "Fuses: minimum delay that does not trip in this run, and maximum delay with which the fuse still acts first in "
      "an overload. All values are nominal",
      {"rail", "#set to", "#longest time", "#minimum delay", "#maximum delay", "acts first above that"});
  for (const FuseDelays& delays : subject.answer.predictions.fuse_delays) {
    const std::optional<Fuse>& fuse = subject.profile[delays.rail].protection.fuse;
    table.add({name(subject.profile[delays.rail].name), fuse ? text(to_text(fuse->delay.value)) : Markup(),
               text(to_text(delays.spell_s, "s")), text(minimum_text(delays)), text(maximum_text(delays)),
               text(longest_by_text(delays))});
  }
  return table.empty() ? Markup() : table.markup();
}

void add_rule(const Subject& subject, const RuleResult& result, HtmlTable& table) {
  const Rule& rule = subject.profile.rules[result.rule];
  const Markup side = text(result.side == RuleSide::Setpoints ? "setpoints" : "simulation");
  if (!result.exercised) {
    table.add({name(rule.name), side, text("not exercised"), {}, {}, {}, subject.line_of(rule.span)});
    return;
  }
  table.add_row(result.holds ? "" : "broken",
                {name(rule.name), side, result_of(result.holds),
                 result.margin ? text(short_text_down(*result.margin, result.unit)) : Markup(),
                 subject.at(result.time_s), subject.line_of(result.statement), subject.line_of(rule.span)});
}

Markup rules_table(const Subject& subject) {
  HtmlTable table("Rules: tightest margin of each, after worst-case accuracy, stairs and skew",
                  {"rule", "judged on", "result", "#margin", "#at", "last change", "written in"});
  for (const RuleResult& result : subject.answer.compiled.rules()) add_rule(subject, result, table);
  if (subject.simulation != nullptr) {
    for (const RuleResult& result : subject.simulation->rules) add_rule(subject, result, table);
  }
  return table.empty() ? Markup() : table.markup();
}

Markup expectations_table(const Subject& subject) {
  HtmlTable table("Expectations", {"expectation", "result", "#is", "#margin", "written in"});
  for (const ExpectationResult& result : subject.expectations) {
    table.add_row(
        result.holds ? "" : "broken",
        {element("code", text(result.text)), result_of(result.holds),
         result.value ? text(short_text(*result.value, result.unit)) : Markup(),
         result.margin ? text(short_text_down(*result.margin, result.unit)) : Markup(), subject.line_of(result.span)});
  }
  return table.empty() ? Markup() : table.markup();
}

Markup energy_table(const Subject& subject) {
  HtmlTable table("Energy, charge and peaks at the terminals",
                  {"rail", "#energy", "#charge", "#lost in wire", "#peak current", "#peak power", "#peak voltage",
                   "#in CC", "#ends at"});
  const Simulation& simulation = *subject.simulation;
  for (std::size_t i = 0; i < subject.profile.rails.size(); ++i) {
    const RailFigures& rail = simulation.rails[i];
    const double end = std::abs(rail.final_voltage_V) < kSmallestShownVolts ? 0.0 : rail.final_voltage_V;
    const auto peak = [&](const Peak& value, std::string_view unit) {
      return text(short_text(value.value, unit)) + text(" at ") +
             subject.at(value.time_s, RailId{static_cast<std::uint32_t>(i)});
    };
    table.add({name(subject.profile.rails[i].name), text(short_text(rail.energy_J, "J")),
               text(short_text(rail.charge_C, "C")), text(short_text(rail.balance.dissipated_wire_J, "J")),
               peak(rail.current_A, "A"), peak(rail.power_W, "W"), peak(rail.voltage_V, "V"),
               text(short_text(rail.cc_time_s, "s")), text(short_text(end, "V"))});
  }
  double charge = 0;
  for (const RailFigures& rail : simulation.rails) charge += rail.charge_C;
  table.add_row("total", {text("all rails"),
                          text(short_text(simulation.total_energy_J, "J")),
                          text(short_text(charge, "C")),
                          {},
                          {},
                          text(short_text(simulation.total_power_W.value, "W")) + text(" at ") +
                              subject.at(simulation.total_power_W.time_s),
                          {},
                          {},
                          {}});
  return table.markup();
}

// More are in the answer of `simulate`.
constexpr std::size_t kMostReadings = 500;

void add_reading(const Subject& subject, const TakenReading& reading, HtmlTable& table) {
  std::string times = std::to_string(reading.count);
  if (reading.drifting > 0) times += ", then " + std::to_string(reading.drifting) + " drifting";
  std::vector<Markup> cells{name(reading.name), subject.at(reading.time_s), text(to_text(reading.over_s, "s")),
                            text(times)};
  std::string unsettled;
  for (std::size_t i = 0; i < reading.rails.size(); ++i) {
    const std::optional<RailReading>& rail = reading.rails[i];
    cells.push_back(text(rail ? short_text(rail->voltage_V, "V") : "unknown"));
    cells.push_back(text(rail ? short_text(rail->current_A, "A") : "unknown"));
    if (rail && rail->unsettled) unsettled += (unsettled.empty() ? "" : ", ") + subject.profile.rails[i].name;
  }
  cells.push_back(name(unsettled));
  cells.push_back(subject.line_of(reading.statement));
  table.add(cells);
}

Markup loops(const Subject& subject) {
  Markup words;
  for (const FoldedLoop& loop : subject.simulation->folded) {
    if (loop.added == 0) continue;
    words += element("p", text("The repeat in ") + subject.line_of(loop.statement) + text(": ") +
                              text(std::to_string(loop.simulated)) + text(" passes were simulated; ") +
                              text(added_passes_text(loop) + "."));
  }
  return words;
}

}  // namespace

Markup margins_section(const Subject& subject) {
  Markup inside;
  if (subject.simulation != nullptr) inside += margin_table(subject, true) + delays_table(subject);
  inside += rules_table(subject) + expectations_table(subject);
  if (subject.simulation != nullptr) inside += margin_table(subject, false);
  return section("margins", "Margins", inside);
}

Markup readings_section(const Subject& subject) {
  if (subject.simulation == nullptr || subject.simulation->readings.empty()) return {};
  std::vector<std::string> titles{"reading", "#at", "#over", "#times"};
  for (const Rail& rail : subject.profile.rails) {
    titles.push_back("#" + rail.name + " voltage");
    titles.push_back("#" + rail.name + " current");
  }
  titles.insert(titles.end(), {"not settled", "written in"});
  HtmlTable table("Readings: the mean of each rail over the time before. Identical passes are listed once", titles);
  const std::vector<TakenReading>& readings = subject.simulation->readings;
  const std::size_t shown = std::min(readings.size(), kMostReadings);
  for (std::size_t i = 0; i < shown; ++i) add_reading(subject, readings[i], table);
  const std::int64_t more = static_cast<std::int64_t>(readings.size() - shown) + subject.simulation->readings_left_out;
  if (more > 0) table.add_band(text("… and " + std::to_string(more) + " more"));
  return section("readings", "Readings", table.markup());
}

Markup figures_section(const Subject& subject) {
  if (subject.simulation == nullptr) return {};
  return section("energy", "Energy and charge", energy_table(subject) + loops(subject));
}

}  // namespace rampart::report
