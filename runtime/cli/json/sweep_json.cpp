#include "runtime/cli/json/sweep_json.h"

#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/cli/json/json_parts.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;
using sweep::Best;
using sweep::Find;
using sweep::Goal;
using sweep::Interval;
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
  }
  return "";
}

// In the SI unit of the parameter.
Json value_json(const Quantity& value) {
  return value.value.to_double();
}

Json margin_json(const std::optional<sweep::TightMargin>& margin) {
  if (!margin) return nullptr;
  return {{"of", margin->of}, {"margin", margin->margin}, {"limit", margin->limit}, {"unit", margin->unit}};
}

Json trial_json(const Sweep& sweep, const Trial& trial) {
  return {{"value", value_json(trial.value)},
          {"holds", trial.holds()},
          {"errors", trial.errors.size()},
          {"first_error",
           trial.first_error ? finding_json(sweep.base.findings.texts(), *trial.first_error) : Json(nullptr)},
          {"tightest", margin_json(trial.tightest)},
          {"duration_s", trial.duration_s}};
}

Json optional_trial(const Sweep& sweep, const std::optional<Trial>& trial) {
  return trial ? trial_json(sweep, *trial) : Json(nullptr);
}

Json parameter_json(const Sweep& sweep, const ParameterSweep& parameter) {
  Json intervals = Json::array();
  for (const Interval& interval : parameter.intervals) {
    intervals.push_back({{"low", trial_json(sweep, interval.low)},
                         {"high", trial_json(sweep, interval.high)},
                         {"below", optional_trial(sweep, interval.below)},
                         {"above", optional_trial(sweep, interval.above)}});
  }
  return {{"name", parameter.name},
          {"unit", unit_text(parameter.step.dimension)},
          {"low", value_json(parameter.range.low)},
          {"high", value_json(parameter.range.high)},
          {"present", trial_json(sweep, parameter.present)},
          {"step", value_json(parameter.step)},
          {"scan_step", parameter.scan_step ? value_json(*parameter.scan_step) : Json(nullptr)},
          {"refined", parameter.refined},
          {"tried", parameter.tried},
          {"intervals", std::move(intervals)},
          {"least_bad", optional_trial(sweep, parameter.least_bad)}};
}

Json best_json(const Sweep& sweep) {
  if (!sweep.best) return nullptr;
  const Best& best = *sweep.best;
  return {{"name", sweep.parameters[best.parameter].name},
          {"setting", best.setting},
          {"confirmed", best.confirmed},
          {"at", trial_json(sweep, best.trial)},
          {"beyond", optional_trial(sweep, best.beyond)}};
}

}  // namespace

std::string sweep_document(const Sweep& sweep, const std::optional<Find>& find) {
  Json parameters = Json::array();
  for (const ParameterSweep& parameter : sweep.parameters) parameters.push_back(parameter_json(sweep, parameter));
  const Json document{{"rampart", version()},
                      {"profile", sweep.base.path},
                      {"has_load", sweep.has_load},
                      {"parameters", std::move(parameters)},
                      {"goal", find ? Json(goal_name(find->goal)) : Json(nullptr)},
                      {"found", best_json(sweep)},
                      {"findings", findings_json(sweep.best ? sweep.best->answer : sweep.base)}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace rampart::cli
