#include "runtime/report/sweep_picture.h"

#include <nlohmann/json.hpp>
#include <set>
#include <utility>

#include "runtime/predict/origin.h"

namespace rampart::report {
namespace {

using SweepJson = nlohmann::json;

// More cells than a sweep makes are none that it has made.
constexpr std::size_t kMostValues = 40'000;

SweptValue value_of(const SweepJson& json) {
  return {json.at("value").get<double>(), json.at("text").get<std::string>()};
}

void take_margin(const SweepJson& json, SweptTrial& trial) {
  const SweepJson& tightest = json.at("tightest");
  if (tightest.is_null()) return;
  trial.tightest = tightest.at("of").get<std::string>();
  const double limit = tightest.at("limit").get<double>();
  trial.left = limit != 0 ? tightest.at("margin").get<double>() / limit : 0;
}

SweptTrial trial_of(const SweepJson& json) {
  SweptTrial trial;
  trial.at = value_of(json);
  trial.holds = json.at("holds").get<bool>();
  const SweepJson& error = json.at("first_error");
  if (!error.is_null()) trial.error = error.at("message").get<std::string>();
  take_margin(json, trial);
  return trial;
}

std::optional<SweptTrial> optional_trial(const SweepJson& json) {
  return json.is_null() ? std::nullopt : std::optional(trial_of(json));
}

std::vector<SweptInterval> intervals_of(const SweepJson& json) {
  std::vector<SweptInterval> intervals;
  for (const SweepJson& one : json) {
    intervals.push_back({trial_of(one.at("low")), trial_of(one.at("high")), optional_trial(one.at("below")),
                         optional_trial(one.at("above"))});
  }
  return intervals;
}

SweptParameter parameter_of(const SweepJson& json) {
  return {json.at("name").get<std::string>(), trial_of(json.at("present")),
          {json.at("low").get<double>(), ""}, {json.at("high").get<double>(), ""},
          intervals_of(json.at("intervals")), optional_trial(json.at("least_bad"))};
}

SweptAxis axis_of(const SweepJson& json, const SweepJson& present) {
  SweptAxis axis;
  axis.name = json.at("name").get<std::string>();
  for (const SweepJson& value : json.at("values")) axis.values.push_back(value_of(value));
  axis.present = present.get<double>();
  return axis;
}

SweptMap map_of(const SweepJson& json) {
  const SweepJson& present = json.at("present");
  SweptMap map{axis_of(json.at("across"), present.at("across")), axis_of(json.at("up"), present.at("up")), {}};
  const std::size_t columns = map.across.values.size();
  for (const SweepJson& row : json.at("rows")) {
    SweptRow& swept = map.rows.emplace_back();
    for (const SweepJson& cell : row.at("cells")) {
      SweptTrial trial;
      trial.holds = cell.at("holds").get<bool>();
      if (!cell.at("first_error").is_null()) trial.error = cell.at("first_error").get<std::string>();
      take_margin(cell, trial);
      swept.cells.push_back(std::move(trial));
    }
    if (swept.cells.size() != columns) throw SweepMistake{"has rows of different length"};
    for (std::size_t i = 0; i < columns; ++i) swept.cells[i].at = map.across.values[i];
    swept.intervals = intervals_of(row.at("intervals"));
  }
  if (map.rows.size() != map.up.values.size() || columns == 0 || columns * map.rows.size() > 2 * kMostValues) {
    throw SweepMistake{"has a map without its cells"};
  }
  return map;
}

std::multiset<std::string> digests_of(const Answer& answer) {
  const Origin origin = origin_of(answer.compiled, answer.predictions.load.get());
  std::multiset<std::string> digests{"profile " + origin.profile.sha256};
  for (const OriginFile& file : origin.imports) digests.insert("import " + file.sha256);
  for (const OriginFile& file : origin.waveforms) digests.insert("waveform " + file.sha256);
  if (origin.bench) digests.insert("bench " + origin.bench->sha256);
  if (origin.load) digests.insert("load " + origin.load->sha256);
  return digests;
}

void check_files(const SweepJson& document, const Answer& answer) {
  const std::multiset<std::string> ours = digests_of(answer);
  std::multiset<std::string> theirs;
  for (const SweepJson& file : document.at("files")) {
    theirs.insert(file.at("role").get<std::string>() + " " + file.at("sha256").get<std::string>());
  }
  if (ours == theirs) return;
  for (const std::string& one : ours) {
    if (theirs.contains(one)) continue;
    throw SweepMistake{"was made with another " + one.substr(0, one.find(' ')) +
                       ": sweep the files of the report again"};
  }
  throw SweepMistake{"was made with more files than the report: sweep the files of the report again"};
}

}  // namespace

SweepPicture read_sweep(const std::string& text, const Answer& answer) {
  try {
    const SweepJson document = SweepJson::parse(text);
    SweepPicture picture;
    check_files(document, answer);
    picture.has_load = document.at("has_load").get<bool>();
    for (const SweepJson& parameter : document.at("parameters")) picture.parameters.push_back(parameter_of(parameter));
    if (!document.at("map").is_null()) picture.map = map_of(document.at("map"));
    return picture;
  } catch (const SweepJson::exception&) {
    throw SweepMistake{"is not what `sweep --format json` writes"};
  }
}

}  // namespace rampart::report
