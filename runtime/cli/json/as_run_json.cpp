#include "runtime/cli/json/as_run_json.h"

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/as_run/excursion_words.h"
#include "runtime/cli/json/json_parts.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;
using as_run::AsRun;
using as_run::Excursion;
using as_run::MeasuredFigures;
using as_run::MeasuredResult;
using as_run::Verdict;

std::string_view verdict_name(Verdict verdict) {
  switch (verdict) {
    case Verdict::Pass:
      return "pass";
    case Verdict::Fail:
      return "fail";
    case Verdict::Inconclusive:
      break;
  }
  return "inconclusive";
}

std::string_view observed_name(as_run::Observed observed) {
  switch (observed) {
    case as_run::Observed::Pass:
      return "pass";
    case as_run::Observed::Fail:
      return "fail";
    case as_run::Observed::NotObserved:
      break;
  }
  return "not observed";
}

class AsRunDocument {
 public:
  explicit AsRunDocument(const as_run::Evaluated& evaluated) : evaluated_(evaluated) {}

  std::string write() const {
    Json document{{"rampart", version()},
                  {"profile", evaluated_.answer.path},
                  {"as_run", evaluated_.as_run ? as_run(*evaluated_.as_run) : Json(nullptr)},
                  {"findings", findings_json(evaluated_.answer)}};
    return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
  }

 private:
  [[nodiscard]] const Profile& profile() const { return *evaluated_.answer.compiled.profile(); }

  template <class Value>
  static Json optional(const std::optional<Value>& value) {
    return value ? Json(*value) : Json(nullptr);
  }

  [[nodiscard]] Json place(const as_run::Place& place) const {
    Json line = nullptr;
    Json file = nullptr;
    if (place.statement.end > place.statement.begin) {
      const SourceFile& source = evaluated_.answer.findings.texts()[place.statement.file];
      file = source.name();
      line = source.position(place.statement.begin).line;
    }
    return {{"run_s", place.run_s}, {"log_s", place.log_s}, {"file", std::move(file)}, {"line", std::move(line)}};
  }

  [[nodiscard]] Json excursion(const Excursion& excursion) const {
    Json other = nullptr;
    if (excursion.cause == as_run::Cause::Swapped) {
      other = profile().rails[std::strtoull(excursion.other.c_str(), nullptr, 10)].name;
    } else if (!excursion.other.empty()) {
      other = excursion.other;
    }
    Json along = Json::array();
    for (const RailId rail : excursion.along) along.push_back(profile()[rail].name);
    return {{"rail", profile()[excursion.rail].name},
            {"quantity", excursion.quantity == as_run::Measured::Voltage ? "voltage" : "current"},
            {"cause", as_run::row_of(excursion.cause).name},
            {"amount", optional(excursion.amount)},
            {"other", std::move(other)},
            {"along", std::move(along)},
            {"from", place(excursion.from)},
            {"to", place(excursion.to)},
            {"readings", excursion.readings},
            {"stretches", excursion.stretches},
            {"worst", place(excursion.worst)},
            {"measured", excursion.measured},
            {"predicted", excursion.predicted},
            {"low", excursion.expected.low},
            {"high", excursion.expected.high},
            {"unit", as_run::unit_of(excursion.quantity)},
            {"log", evaluated_.as_run->logs[excursion.log].path},
            {"text", as_run::excursion_text(profile(), excursion)}};
  }

  // File and line of a statement.
  void add_line(const Span& statement, Json& json) const {
    json["file"] = nullptr;
    json["line"] = nullptr;
    if (statement.end <= statement.begin) return;
    const SourceFile& source = evaluated_.answer.findings.texts()[statement.file];
    json["file"] = source.name();
    json["line"] = source.position(statement.begin).line;
  }

  [[nodiscard]] Json difference(const as_run::CommandDifference& one) const {
    Json json{{"fault", as_run::fault_name(one.fault)},
              {"channel", one.channel},
              {"segment", one.segment},
              {"from_s", one.from_s},
              {"to_s", one.to_s},
              {"log_s", one.log_s},
              {"count", one.count}};
    add_line(one.statement, json);
    json["text"] = one.text;
    return json;
  }

  [[nodiscard]] Json late_row(const as_run::LateRow& row) const {
    Json json{{"channel", row.channel}, {"segment", row.segment}, {"planned_s", row.planned_s},
              {"late_s", row.late_s},   {"total_s", row.total_s}, {"log_s", row.log_s}};
    add_line(row.statement, json);
    return json;
  }

  [[nodiscard]] static Json log(const as_run::LogSeen& log) {
    return {{"path", log.path},
            {"description", description(log.description)},
            {"readings", log.readings},
            {"before_run", log.before_run},
            {"after_run", log.after_run},
            {"duplicates", log.duplicates},
            {"interval_s", log.interval_s},
            {"shift_s", optional(log.shift_s)},
            {"shift_uncertainty_s", log.shift_uncertainty_s},
            {"clock_error", log.clock_error},
            {"record", log.record ? record(*log.record) : Json(nullptr)}};
  }

  [[nodiscard]] Json rail(const MeasuredFigures& rail) const {
    return {{"rail", profile()[rail.rail].name},
            {"readings", rail.readings},
            {"single_outside", rail.single},
            {"voltage_judged", rail.voltage_judged},
            {"current_judged", rail.current_judged},
            {"energy_J", rail.energy_J},
            {"energy_bound_J", rail.has_bound ? Json(rail.energy_bound_J) : Json(nullptr)},
            {"predicted_energy_J", optional(rail.predicted_energy_J)},
            {"charge_C", rail.charge_C},
            {"charge_bound_C", rail.has_bound ? Json(rail.charge_bound_C) : Json(nullptr)},
            {"predicted_charge_C", optional(rail.predicted_charge_C)}};
  }

  [[nodiscard]] static Json result(const MeasuredResult& result) {
    return {{"text", result.text},
            {"result", observed_name(result.result)},
            {"margin_low", optional(result.least)},
            {"margin_high", optional(result.most)},
            {"unit", result.unit},
            {"holds_at_readings", result.holds_at_readings},
            {"why", result.why}};
  }

  static Json text_or_null(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }

  [[nodiscard]] static Json description(const LogDescription& log) {
    Json instruments = Json::array();
    for (const LogInstrument& instrument : log.instruments) {
      instruments.push_back(
          {{"name", instrument.name},
           {"serial", text_or_null(instrument.serial)},
           {"calibration_due",
            instrument.calibration_due ? Json(date_text(*instrument.calibration_due)) : Json(nullptr)}});
    }
    return {
        {"title", text_or_null(log.title)},          {"date", log.date ? Json(date_text(*log.date)) : Json(nullptr)},
        {"operator", text_or_null(log.who)},         {"part", text_or_null(log.device.part)},
        {"serial", text_or_null(log.device.serial)}, {"revision", text_or_null(log.device.revision)},
        {"ambient", text_or_null(log.ambient)},      {"instruments", std::move(instruments)}};
  }

  [[nodiscard]] static Json record(const RecordedRun& run) {
    Json supplies = Json::array();
    for (const RecordedSupply& supply : run.supplies) {
      supplies.push_back({{"supply", supply.name},
                          {"identification", text_or_null(supply.identification)},
                          {"serial_number", text_or_null(supply.serial)},
                          {"firmware", text_or_null(supply.firmware)},
                          {"calibration_due", text_or_null(supply.calibration_due)}});
    }
    return {{"run_id", run.run_id},
            {"start_utc", text_or_null(run.start_utc)},
            {"zone", text_or_null(run.zone)},
            {"device", text_or_null(run.device)},
            {"operator", text_or_null(run.operator_name)},
            {"table", text_or_null(run.table.name)},
            {"supplies", std::move(supplies)},
            {"set_by_hand", run.set_by_hand},
            {"end", run.has_end ? Json(run.reason) : Json(nullptr)}};
  }

  [[nodiscard]] Json as_run(const AsRun& answer) const {
    Json logs = Json::array();
    for (const as_run::LogSeen& one : answer.logs) logs.push_back(log(one));
    Json differences = Json::array();
    for (const as_run::CommandDifference& one : answer.differences) differences.push_back(difference(one));
    Json late_rows = Json::array();
    for (const as_run::LateRow& one : answer.late_rows) late_rows.push_back(late_row(one));
    Json segments = Json::array();
    for (const as_run::SegmentSeen& segment : answer.segments) {
      segments.push_back({{"run_s", segment.run_s},
                          {"log_s", segment.log_s},
                          {"observed", segment.observed},
                          {"waited_s", segment.waited_s}});
    }
    Json excursions = Json::array();
    for (const Excursion& one : answer.excursions) excursions.push_back(excursion(one));
    Json rails = Json::array();
    for (const MeasuredFigures& one : answer.rails) rails.push_back(rail(one));
    Json rules = Json::array();
    for (const MeasuredResult& one : answer.rules) rules.push_back(result(one));
    Json expectations = Json::array();
    for (const MeasuredResult& one : answer.expectations) expectations.push_back(result(one));
    return {{"sequence", {{"verdict", verdict_name(answer.sequence)}, {"reason", answer.sequence_reason}}},
            {"response", {{"verdict", verdict_name(answer.response)}, {"reason", answer.response_reason}}},
            {"cause", text_or_null(answer.cause)},
            {"from", answer.from_commands ? "commands" : "edges"},
            {"commands", answer.commands},
            {"edges_planned", answer.edges_planned},
            {"edges_matched", answer.edges_matched},
            {"commands_not_compared", answer.commands_not_compared},
            {"differences", std::move(differences)},
            {"differences_left_out", answer.differences_left_out},
            {"late_rows", std::move(late_rows)},
            {"latest_s", answer.latest_s},
            {"logs", std::move(logs)},
            {"ended_early_s", optional(answer.trip_s)},
            {"duration_s", answer.duration_s},
            {"planned_s", answer.planned_s},
            {"measured_s", optional(answer.measured_s)},
            {"segments", std::move(segments)},
            {"excursions", std::move(excursions)},
            {"rails", std::move(rails)},
            {"rules", std::move(rules)},
            {"expectations", std::move(expectations)},
            {"not_judged", answer.not_judged}};
  }

  const as_run::Evaluated& evaluated_;
};

}  // namespace

std::string as_run_document(const as_run::Evaluated& evaluated) {
  return AsRunDocument(evaluated).write();
}

}  // namespace rampart::cli
