#include "runtime/cli/json/json.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/answer/expectations.h"
#include "runtime/cli/json/json_parts.h"
#include "runtime/predict/every_fault_words.h"
#include "runtime/predict/headline.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;

// Negative zero reads as a sign that is not there; the writer turns what is not finite into null.
double plain(double value) {
  return value == 0.0 ? 0.0 : value;
}

Json optional_number(const std::optional<double>& value) {
  return value ? Json(plain(*value)) : Json(nullptr);
}

// Text from files may hold bytes that are no UTF-8: each becomes the replacement character.
std::string written(const Json& document) {
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Json place_json(const SourceSet& sources, const Span& span) {
  const SourceFile& file = sources[span.file];
  const Position position = file.position(span.begin);
  return {{"file", file.name()}, {"line", position.line}, {"column", position.column}};
}

Json pass_json(const Passes& passes) {
  return passes.empty() ? Json(nullptr) : Json(passes.back());
}

Json rule_json(const Answer& answer, const RuleResult& result) {
  const Span& statement = result.statement;
  return {{"name", answer.compiled.profile()->rules[result.rule].name},
          {"holds", result.holds},
          {"margin", optional_number(result.margin)},
          {"unit", result.unit},
          {"exercised", result.exercised},
          {"nominal", optional_number(result.nominal)},
          {"side", rule_side_name(result.side)},
          {"time_s", result.exercised ? Json(plain(result.time_s)) : Json(nullptr)},
          {"place", statement == Span{} ? Json(nullptr) : place_json(answer.findings.texts(), statement)},
          {"pass", pass_json(result.passes)},
          {"passes", result.passes}};
}

// Rules are judged wherever there is a table.
Json rules_json(const Answer& answer) {
  Json rules = Json::array();
  for (const RuleResult& result : answer.compiled.rules()) rules.push_back(rule_json(answer, result));
  const Simulation* shown = answer.predictions.shown();
  if (shown == nullptr) return rules;
  for (const RuleResult& result : shown->rules) rules.push_back(rule_json(answer, result));
  return rules;
}

// Writes the parts of one simulation.
class SimulationJson {
 public:
  explicit SimulationJson(const Answer& answer)
      : answer_(answer),
        sources_(answer.findings.texts()),
        profile_(*answer.compiled.profile()),
        simulation_(*answer.predictions.shown()) {}

  void add_to(Json& document) const {
    document["duration_s"] = plain(simulation_.duration_s);
    document["rails"] = rails();
    document["total"] = {{"energy_J", plain(simulation_.total_energy_J)},
                         {"peak_power_W", plain(simulation_.total_power_W.value)}};
    document["events"] = events();
    document["events_left_out"] = simulation_.events_left_out;
    document["readings"] = readings();
    document["readings_left_out"] = simulation_.readings_left_out;
    document["rules"] = rules_json(answer_);
    document["expectations"] = expectations();
    document["margins"] = margins();
    document["folded"] = folded();
    document["assumed"] = assumed();
    document["safe_played"] = simulation_.safe_played;
    document["cut_short_s"] = simulation_.cut_short ? Json(plain(simulation_.cut_short->time_s)) : Json(nullptr);
    document["fault"] = fault();
    if (answer_.predictions.every_fault) document["every_fault"] = every_fault();
    document["interlock_acted"] = simulation_.asserted;
    add_spread(answer_, document);
  }

 private:
  Json trip(const std::optional<Trip>& trip) const {
    if (!trip) return nullptr;
    return {{"cause", trip_cause_name(trip->cause)},
            {"time_s", plain(trip->time_s)},
            {"place", place_json(sources_, trip->statement)},
            {"pass", pass_json(trip->passes)},
            {"passes", trip->passes}};
  }

  // With the rail that pulled it off, where it was another.
  Json trip_of(std::size_t rail) const {
    Json json = trip(simulation_.rails[rail].trip);
    const std::optional<RailId> by = pulled_by(profile_, simulation_, RailId{static_cast<std::uint32_t>(rail)});
    if (by) json["by"] = profile_[*by].name;
    return json;
  }

  static Json balance(const EnergyBalance& balance) {
    return {{"delivered_J", plain(balance.delivered_J)},
            {"dissipated_wire_J", plain(balance.dissipated_wire_J)},
            {"dissipated_elements_J", balance.dissipated_elements_J},
            {"stored_J", plain(balance.stored_J)},
            {"relative_error", plain(balance.relative_error)}};
  }

  Json rails() const {
    Json rails = Json::object();
    for (std::size_t i = 0; i < profile_.rails.size(); ++i) {
      const RailFigures& figures = simulation_.rails[i];
      rails[profile_.rails[i].name] = {{"energy_J", plain(figures.energy_J)},
                                       {"charge_C", plain(figures.charge_C)},
                                       {"peak_current_A", plain(figures.current_A.value)},
                                       {"peak_power_W", plain(figures.power_W.value)},
                                       {"peak_voltage_V", plain(figures.voltage_V.value)},
                                       {"cc_time_s", plain(figures.cc_time_s)},
                                       {"final_voltage_V", plain(figures.final_voltage_V)},
                                       {"trip", trip_of(i)},
                                       {"i2t_A2s", plain(figures.i2t_A2s)},
                                       {"longest_cc_s", plain(figures.longest_cc_s.value)},
                                       {"returned_energy_J", plain(figures.returned_energy_J)},
                                       {"stored_J", plain(figures.stored_J)},
                                       {"balance", balance(figures.balance)}};
    }
    return rails;
  }

  void add_cause(Json& event, RailId rail) const {
    const std::optional<Trip>& trip = simulation_.rails[static_cast<std::size_t>(rail)].trip;
    if (trip) event["cause"] = trip_cause_name(trip->cause);
    if (const auto by = pulled_by(profile_, simulation_, rail)) event["by"] = profile_[*by].name;
  }

  Json events() const {
    Json events = Json::array();
    for (const Event& event : simulation_.events) {
      Json item{{"time_s", plain(event.time_s)},
                {"rail", event.rail ? Json(profile_[*event.rail].name) : Json(nullptr)},
                {"kind", row_of(event.kind).name}};
      if (event.kind == EventKind::Mark) item["mark"] = event.mark;
      if (!event.part.empty()) item["part"] = event.part;
      if (event.kind == EventKind::Trip) add_cause(item, *event.rail);
      if (event.line) item["line"] = profile_[*event.line].name;
      if (event.kind == EventKind::Passes) {
        item["count"] = event.count;
        item["drifting"] = event.drifting;
        item["from_s"] = plain(event.time_s);
        item["to_s"] = plain(event.to_s);
      }
      item["pass"] = pass_json(event.passes);
      item["passes"] = event.passes;
      events.push_back(std::move(item));
    }
    return events;
  }

  Json readings() const {
    Json readings = Json::array();
    for (const TakenReading& reading : simulation_.readings) {
      Json rails = Json::object();
      for (std::size_t i = 0; i < profile_.rails.size(); ++i) {
        const std::optional<RailReading>& rail = reading.rails[i];
        Json& json = rails[profile_.rails[i].name];
        if (!rail) continue;
        json = {{"voltage_V", plain(rail->voltage_V)},
                {"current_A", plain(rail->current_A)},
                {"settled", !rail->unsettled.has_value()}};
      }
      readings.push_back({{"name", reading.name},
                          {"over_s", plain(reading.over_s)},
                          {"time_s", plain(reading.time_s)},
                          {"place", place_json(sources_, reading.statement)},
                          {"pass", pass_json(reading.passes)},
                          {"passes", reading.passes},
                          {"count", reading.count},
                          {"drifting", reading.drifting},
                          {"rails", std::move(rails)}});
    }
    return readings;
  }

  Json assumed() const {
    Json list = Json::array();
    for (const Assumption& assumed : simulation_.assumed) list.push_back(assumption_text(assumed));
    return list;
  }

  Json fault() const {
    if (!simulation_.fault) return nullptr;
    return {{"name", *answer_.predictions.fault},
            {"rail", profile_[simulation_.fault->rail].name},
            {"time_s", plain(simulation_.fault->time_s)}};
  }

  Json expectations() const {
    Json results = Json::array();
    for (const ExpectationResult& result : answer_.predictions.expectations(*answer_.compiled.profile())) {
      results.push_back({{"text", result.text},
                         {"holds", result.holds},
                         {"value", optional_number(result.value)},
                         {"margin", optional_number(result.margin)},
                         {"unit", result.unit}});
    }
    return results;
  }

  // Of the plain run alone.
  void add_delays(Json& margin, RailId rail) const {
    if (&simulation_ != (answer_.predictions.simulation ? &*answer_.predictions.simulation : nullptr)) return;
    const FuseDelays* delays = find_delays(answer_.predictions.fuse_delays, rail);
    if (delays == nullptr) return;
    margin["shortest_delay_s"] = optional_number(delays->shortest_s);
    margin["longest_delay_s"] = optional_number(delays->longest_s);
    margin["longest_delay_by"] = longest_by_text(*delays);
  }

  Json margins() const {
    Json margins = Json::array();
    for (const Margin& margin : simulation_.margins) {
      const MarginRow& row = row_of(margin.kind);
      const bool of_supply = row.owner == MarginOwner::Supply;
      margins.push_back({{"rail", of_supply ? Json(nullptr) : Json(profile_[margin.rail].name)},
                         {"what", row.name},
                         {"margin", plain(margin.margin)},
                         {"unit", row.unit},
                         {"limit", plain(margin.limit)},
                         {"time_s", plain(margin.time_s)},
                         {"place", place_json(sources_, margin.statement)},
                         {"pass", pass_json(margin.passes)},
                         {"of", margin.owner.empty() ? Json(nullptr) : Json(margin.owner)}});
      if (margin.kind == MarginKind::Fuse) add_delays(margins.back(), margin.rail);
    }
    return margins;
  }

  Json folded() const {
    Json loops = Json::array();
    for (const FoldedLoop& loop : simulation_.folded) {
      loops.push_back({{"place", place_json(sources_, loop.statement)},
                       {"simulated_passes", loop.simulated},
                       {"added_passes", loop.added},
                       {"drifting_passes", loop.drifting},
                       {"error", plain(loop.error)}});
    }
    return loops;
  }

  Json tried(const TriedFault& fault) const {
    const FaultInstant& instant = answer_.predictions.every_fault->where.instants[fault.instant];
    Json others = Json::object();
    for (const OtherRail& other : fault.others) {
      others[profile_[other.rail].name] = {{"switched_off", other.reaction != RailReaction::PlayedOn},
                                           {"trip", trip(other.trip)}};
    }
    Json by = nullptr;
    if (fault.caught) {
      by = {{"rail", profile_[fault.caught->rail].name},
            {"cause", trip_cause_name(fault.caught->cause)},
            {"after_s", plain(fault.caught->after_s)}};
    }
    return {{"fault", fault_kind_text(fault.kind)},
            {"rail", profile_[fault.rail].name},
            {"time_s", plain(instant.at.seconds())},
            {"mark", instant.mark.empty() ? Json(nullptr) : Json(instant.mark)},
            {"statement", instant.kind == InstantKind::Mark ? Json(nullptr) : Json(instant_kind_name(instant.kind))},
            {"place", place_json(sources_, instant.statement)},
            {"caught", fault.caught.has_value()},
            {"by", std::move(by)},
            {"let_through_J", plain(fault.let_through_J)},
            {"let_through_A2s", plain(fault.let_through_A2s)},
            {"others", std::move(others)}};
  }

  Json every_fault() const {
    const EveryFault& tried_faults = *answer_.predictions.every_fault;
    Json faults = Json::array();
    for (const TriedFault& fault : tried_faults.faults) faults.push_back(tried(fault));
    return {
        {"short_Ohm", kShortOhms}, {"instants_left_out", tried_faults.where.left_out}, {"faults", std::move(faults)}};
  }

  const Answer& answer_;
  const SourceSet& sources_;
  const Profile& profile_;
  const Simulation& simulation_;
};

Json tight_json(const Answer& answer, const TightMargin& tight) {
  const MarginRow& row = row_of(tight.kind);
  const Margin& nominal = *tight.nominal;
  const bool of_supply = row.owner == MarginOwner::Supply;
  return {{"rail", of_supply ? Json(nullptr) : Json((*answer.compiled.profile())[nominal.rail].name)},
          {"what", row.name},
          {"of", nominal.owner.empty() ? Json(nullptr) : Json(nominal.owner)},
          {"margin", plain(tight.margin)},
          {"unit", row.unit},
          {"limit", plain(tight.limit)},
          {"corner", tight.corner.empty() ? Json(nullptr) : Json(tight.corner)}};
}

// What the answer comes to; null where a file could not be read.
Json verdict_json(const Answer& answer, bool strict) {
  if (answer.is_unreadable()) return nullptr;
  const Headline headline = headline_of(answer, strict);
  Json tightest = Json::array();
  for (const TightMargin& tight : headline.tightest) tightest.push_back(tight_json(answer, tight));
  Json reached = Json::array();
  for (const HeadlineLine& line : headline.reached) reached.push_back(line.text);
  return {{"pass", headline.passes},        {"setpoints_only", headline.setpoints_only},
          {"text", verdict_text(headline)}, {"tightest", std::move(tightest)},
          {"reached", std::move(reached)},  {"not_judged", headline.not_judged}};
}

}  // namespace

Json finding_json(const SourceSet& sources, const Finding& finding) {
  const SourceFile& file = sources[finding.span.file];
  const Position begin = file.position(finding.span.begin);
  const Position end = file.position(finding.span.end);
  Json notes = Json::array();
  for (const FindingNote& note : finding.notes) {
    Json item{{"message", note.message}};
    item.update(place_json(sources, note.span));
    notes.push_back(std::move(item));
  }
  Json json{{"name", finding.name},       {"severity", severity_name(finding.severity)},
            {"message", finding.message}, {"file", file.name()},
            {"line", begin.line},         {"column", begin.column},
            {"end_line", end.line},       {"end_column", end.column},
            {"notes", std::move(notes)},  {"hint", finding.hint.empty() ? Json(nullptr) : Json(finding.hint)}};
  if (finding.accepted) json["accepted"] = *finding.accepted;
  return json;
}

Json findings_json(const Answer& answer) {
  Json findings = Json::array();
  for (const Finding& finding : answer.findings.findings()) {
    findings.push_back(finding_json(answer.findings.texts(), finding));
  }
  return findings;
}

std::string check_document(const Answers& answers, bool strict) {
  Json profiles = Json::array();
  for (const Answer& answer : answers) {
    profiles.push_back(
        {{"profile", answer.path}, {"verdict", verdict_json(answer, strict)}, {"findings", findings_json(answer)}});
  }
  return written({{"rampart", version()}, {"profiles", std::move(profiles)}});
}

std::string audit_document(const Answer& table, std::int64_t rows, std::int64_t left_out) {
  return written({{"rampart", version()},
                  {"table", table.path},
                  {"rows", rows},
                  {"findings_left_out", left_out},
                  {"findings", findings_json(table)}});
}

std::string simulation_document(const Answer& answer, bool strict) {
  Json document{{"rampart", version()}, {"profile", answer.path}, {"verdict", verdict_json(answer, strict)}};
  if (answer.predictions.shown() != nullptr) {
    SimulationJson(answer).add_to(document);
  } else {
    document["rules"] = rules_json(answer);
  }
  document["findings"] = findings_json(answer);
  return written(document);
}

}  // namespace rampart::cli
