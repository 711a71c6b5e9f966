#include "runtime/cli/json/sweep_json.h"

#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/cli/json/json_parts.h"
#include "runtime/predict/origin.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;
using sweep::Best;
using sweep::Goal;
using sweep::Interval;
using sweep::Map;
using sweep::MapAxis;
using sweep::MapRow;
using sweep::ParameterSweep;
using sweep::Sweep;
using sweep::Trial;

std::string_view goal_name(Goal goal) {
  switch (goal) {
    case Goal::LeastValue:
      return "least value";
    case Goal::GreatestValue:
      return "greatest value";
    case Goal::LeastDuration:
      return "least duration";
    case Goal::LeastEnergy:
      return "least energy";
  }
  return "";
}

// In the SI unit of the parameter.
Json value_json(const Quantity& value) {
  return value.value.to_double();
}

Json margin_json(const std::optional<sweep::TightMargin>& margin) {
  if (!margin) return nullptr;
  return {{"of", margin->of},
          {"margin", margin->margin},
          {"limit", margin->limit},
          {"unit", margin->unit},
          {"corner", margin->corner.empty() ? Json(nullptr) : Json(margin->corner)}};
}

Json trial_json(const Sweep& sweep, const Range<Quantity>& range, const Trial& trial) {
  return {{"value", value_json(trial.value)},
          {"text", parameter_text(trial.value, range)},
          {"holds", trial.holds()},
          {"errors", trial.errors.size()},
          {"first_error",
           trial.first_error ? finding_json(sweep.base.findings.texts(), *trial.first_error) : Json(nullptr)},
          {"tightest", margin_json(trial.tightest)},
          {"too_little", margin_json(trial.too_little)},
          {"duration_s", trial.duration_s},
          {"energy_J", trial.energy_J}};
}

Json optional_trial(const Sweep& sweep, const Range<Quantity>& range, const std::optional<Trial>& trial) {
  return trial ? trial_json(sweep, range, *trial) : Json(nullptr);
}

Json intervals_json(const Sweep& sweep, const Range<Quantity>& range, const std::vector<Interval>& intervals) {
  Json list = Json::array();
  for (const Interval& interval : intervals) {
    list.push_back({{"low", trial_json(sweep, range, interval.low)},
                    {"high", trial_json(sweep, range, interval.high)},
                    {"below", optional_trial(sweep, range, interval.below)},
                    {"above", optional_trial(sweep, range, interval.above)}});
  }
  return list;
}

Json axis_json(const MapAxis& axis) {
  Json values = Json::array();
  for (const Quantity& value : axis.values) {
    values.push_back({{"value", value_json(value)}, {"text", parameter_text(value, axis.range)}});
  }
  return {{"name", axis.name},
          {"unit", unit_text(axis.step.dimension)},
          {"low", value_json(axis.range.low)},
          {"high", value_json(axis.range.high)},
          {"step", value_json(axis.step)},
          {"values", std::move(values)}};
}

// One pair of values, without its place: the rows and their cells are in the order of the axes.
Json cell_json(const Trial& trial) {
  return {{"holds", trial.holds()},
          {"errors", trial.errors.size()},
          {"first_error", trial.errors.empty() ? Json(nullptr) : Json(std::get<0>(trial.errors[trial.first]))},
          {"tightest", margin_json(trial.tightest)}};
}

Json map_json(const Sweep& sweep) {
  if (!sweep.map) return nullptr;
  const Map& map = *sweep.map;
  Json rows = Json::array();
  for (const MapRow& row : map.rows) {
    Json cells = Json::array();
    for (const Trial& cell : row.cells) cells.push_back(cell_json(cell));
    rows.push_back({{"value", value_json(row.value)},
                    {"text", parameter_text(row.value, map.upright.range)},
                    {"cells", std::move(cells)},
                    {"intervals", intervals_json(sweep, map.across.range, row.intervals)}});
  }
  return {{"across", axis_json(map.across)},
          {"up", axis_json(map.upright)},
          {"present",
           {{"across", value_json(map.present.value)},
            {"up", value_json(map.present_upright)},
            {"at", trial_json(sweep, map.across.range, map.present)}}},
          {"tried", map.tried},
          {"rows", std::move(rows)}};
}

Json parameter_json(const Sweep& sweep, const ParameterSweep& parameter) {
  return {{"name", parameter.name},
          {"unit", unit_text(parameter.step.dimension)},
          {"low", value_json(parameter.range.low)},
          {"high", value_json(parameter.range.high)},
          {"present", trial_json(sweep, parameter.range, parameter.present)},
          {"step", value_json(parameter.step)},
          {"scan_step", parameter.scan_step ? value_json(*parameter.scan_step) : Json(nullptr)},
          {"refined", parameter.refined},
          {"tried", parameter.trials.size()},
          {"intervals", intervals_json(sweep, parameter.range, parameter.intervals)},
          {"least_bad", optional_trial(sweep, parameter.range, parameter.least_bad)}};
}

Json best_json(const Sweep& sweep) {
  if (!sweep.best) return nullptr;
  const Best& best = *sweep.best;
  const Range<Quantity>& range = sweep.parameters[best.parameter].range;
  return {{"name", sweep.parameters[best.parameter].name},
          {"setting", best.setting},
          {"confirmed", best.confirmed},
          {"corners", best.corners},
          {"tightest", margin_json(best.tightest)},
          {"at", trial_json(sweep, range, best.trial)},
          {"beyond", optional_trial(sweep, range, best.beyond)}};
}

Json nearest_json(const Sweep& sweep) {
  if (!sweep.nearest) return nullptr;
  const sweep::Nearest& nearest = *sweep.nearest;
  const ParameterSweep& parameter = sweep.parameters[nearest.parameter];
  return {{"name", parameter.name},
          {"corners", nearest.tried},
          {"failing", nearest.corners},
          {"at", trial_json(sweep, parameter.range, nearest.trial)}};
}

// By role and digest: a report takes a sweep of its own files alone.
Json files_json(const Sweep& sweep) {
  Json files = Json::array();
  const Compiled& compiled = sweep.base.compiled;
  if (compiled.profile() == nullptr) return files;
  const Origin origin = origin_of(compiled, sweep.base.predictions.load.get());
  const auto add = [&](std::string_view role, const OriginFile& file) {
    files.push_back({{"role", role}, {"name", file.name}, {"sha256", file.sha256}});
  };
  add("profile", origin.profile);
  for (const OriginFile& file : origin.imports) add("import", file);
  for (const OriginFile& file : origin.waveforms) add("waveform", file);
  if (origin.bench) add("bench", *origin.bench);
  if (origin.load) add("load", *origin.load);
  return files;
}

Json goal_json(const sweep::Request& request) {
  if (!request.find) return nullptr;
  return {{"what", goal_name(request.find->goal)},
          {"name", request.find->name.empty() ? Json(nullptr) : Json(request.find->name)},
          {"corners", request.demand.corners},
          {"keep", request.demand.keep}};
}

}  // namespace

std::string sweep_document(const Sweep& sweep, const sweep::Request& request) {
  Json parameters = Json::array();
  for (const ParameterSweep& parameter : sweep.parameters) parameters.push_back(parameter_json(sweep, parameter));
  const Json document{{"rampart", version()},
                      {"profile", sweep.base.path},
                      {"files", files_json(sweep)},
                      {"has_load", sweep.has_load},
                      {"parameters", std::move(parameters)},
                      {"map", map_json(sweep)},
                      {"goal", goal_json(request)},
                      {"found", best_json(sweep)},
                      {"nearest", nearest_json(sweep)},
                      {"findings", findings_json(sweep.best ? sweep.best->answer : sweep.base)}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace rampart::cli
