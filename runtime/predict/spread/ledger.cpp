#include "runtime/predict/spread/ledger.h"

#include <algorithm>
#include <array>
#include <limits>
#include <utility>

#include "runtime/answer/expectations.h"
#include "runtime/answer/margin_words.h"
#include "runtime/part/fields.h"

namespace rampart::spread {
namespace {

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

struct FigureColumn {
  std::string_view name;
  std::string_view unit;
  double (*of)(const RailFigures&);
};

constexpr std::array<FigureColumn, 6> kColumns{{
    {"energy", "J", [](const RailFigures& rail) { return rail.energy_J; }},
    {"peak current", "A", [](const RailFigures& rail) { return rail.current_A.value; }},
    {"peak power", "W", [](const RailFigures& rail) { return rail.power_W.value; }},
    {"peak voltage", "V", [](const RailFigures& rail) { return rail.voltage_V.value; }},
    {"time in constant current", "s", [](const RailFigures& rail) { return rail.cc_time_s; }},
    {"final voltage", "V", [](const RailFigures& rail) { return rail.final_voltage_V; }},
}};

double margin_in(const Simulation& simulation, const Reading& reading) {
  for (const Margin& margin : simulation.margins) {
    const bool is_same = margin.rail == reading.rail && margin.kind == reading.margin && margin.owner == reading.owner;
    if (!is_same) continue;
    // Another setpoint may be the tightest, and that is by its share of the time for which it is held.
    const bool is_other = margin.kind == MarginKind::Settling && margin.margin > 0 && margin.limit != reading.limit;
    return is_other ? margin.margin / margin.limit * reading.limit : margin.margin;
  }
  return kNone;
}

double figure_in(const Simulation& simulation, const Reading& reading) {
  if (!reading.rail) return simulation.total_energy_J;
  return kColumns[reading.index].of(simulation.rails[static_cast<std::size_t>(*reading.rail)]);
}

}  // namespace

std::string owner_of(const Profile& profile, const Reading& reading) {
  if (reading.margin) return rampart::owner_of(profile, *reading.margin, *reading.rail, reading.owner);
  return reading.rail ? profile[*reading.rail].name : "";
}

bool Outcome::failed() const {
  const auto any = [](const std::vector<bool>& list) {
    return std::find(list.begin(), list.end(), true) != list.end();
  };
  return timed_out || given_up || any(fails) || any(unasked);
}

std::string outcome_text(const Outcome& outcome) {
  FieldWriter fields;
  for (std::size_t i = 0; i < outcome.values.size(); ++i) {
    fields.number(outcome.values[i]);
    fields.whole(outcome.fails[i] ? 1 : 0);
  }
  for (std::size_t i = 0; i < outcome.trips.size(); ++i) {
    fields.whole(outcome.trips[i] ? static_cast<std::int64_t>(*outcome.trips[i]) : -1);
    fields.whole(outcome.unasked[i] ? 1 : 0);
  }
  fields.whole(outcome.timed_out ? 1 : 0);
  fields.whole(outcome.given_up ? 1 : 0);
  return fields.take();
}

std::optional<Outcome> read_outcome(std::string_view text, const Outcome& like) {
  FieldReader fields(text);
  Outcome outcome;
  for (std::size_t i = 0; i < like.values.size(); ++i) {
    outcome.values.push_back(fields.number());
    outcome.fails.push_back(fields.whole() != 0);
  }
  for (std::size_t i = 0; i < like.trips.size(); ++i) {
    const std::int64_t cause = fields.whole();
    if (cause >= static_cast<std::int64_t>(trip_cause_rows().size())) return std::nullopt;
    outcome.trips.push_back(cause < 0 ? std::nullopt : std::optional(static_cast<TripCause>(cause)));
    outcome.unasked.push_back(fields.whole() != 0);
  }
  outcome.timed_out = fields.whole() != 0;
  outcome.given_up = fields.whole() != 0;
  return fields.is_right() ? std::optional(std::move(outcome)) : std::nullopt;
}

Ledger::Ledger(const Profile& profile, const Simulation& nominal) : profile_(&profile) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) add_figures(RailId{static_cast<std::uint32_t>(i)});
  readings_.push_back({Subject::Figure, std::nullopt, 0, "total energy", "J"});
  for (const Margin& margin : nominal.margins) {
    const MarginRow& row = row_of(margin.kind);
    readings_.push_back({Subject::Margin, margin.rail, 0, std::string(row.words), std::string(row.unit), margin.kind,
                         margin.limit, margin.owner});
  }
  for (std::size_t i = 0; i < nominal.rules.size(); ++i) {
    const RuleResult& rule = nominal.rules[i];
    readings_.push_back({Subject::Rule, std::nullopt, i, profile.rules[rule.rule].name, rule.unit});
  }
  const std::vector<ExpectationResult> expectations = judge_expectations(profile, nominal);
  for (std::size_t i = 0; i < expectations.size(); ++i) {
    readings_.push_back({Subject::Expectation, std::nullopt, i, expectations[i].text, expectations[i].unit});
  }
}

void Ledger::add_figures(RailId rail) {
  for (std::size_t i = 0; i < kColumns.size(); ++i) {
    readings_.push_back({Subject::Figure, rail, i, std::string(kColumns[i].name), std::string(kColumns[i].unit)});
  }
}

Outcome Ledger::read(const Simulation& simulation) const {
  Outcome outcome;
  const std::vector<ExpectationResult> expectations = judge_expectations(*profile_, simulation);
  for (const Reading& reading : readings_) {
    double value = kNone;
    bool fails = false;
    switch (reading.subject) {
      case Subject::Figure:
        value = figure_in(simulation, reading);
        break;
      case Subject::Margin:
        value = margin_in(simulation, reading);
        break;
      case Subject::Rule:
        value = simulation.rules[reading.index].margin.value_or(kNone);
        fails = !simulation.rules[reading.index].holds;
        break;
      case Subject::Expectation:
        value = expectations[reading.index].margin.value_or(kNone);
        fails = !expectations[reading.index].holds;
        break;
    }
    outcome.values.push_back(value);
    outcome.fails.push_back(fails);
  }
  for (std::size_t i = 0; i < simulation.rails.size(); ++i) {
    const std::optional<Trip>& trip = simulation.rails[i].trip;
    outcome.trips.push_back(trip ? std::optional(trip->cause) : std::nullopt);
    outcome.unasked.push_back(trip && !trip_expected(*profile_, RailId{static_cast<std::uint32_t>(i)}, trip->cause));
  }
  outcome.timed_out = std::any_of(simulation.awaited.begin(), simulation.awaited.end(),
                                  [](const Awaited& wait) { return wait.timed_out; });
  outcome.given_up = !simulation.chatter.empty();
  return outcome;
}

}  // namespace rampart::spread
