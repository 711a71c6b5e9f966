#include <cmath>
#include <nlohmann/json.hpp>

#include "runtime/cli/json/json_parts.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;
using spread::Extreme;
using spread::Reading;
using spread::SampleReading;
using spread::Share;
using spread::Subject;

Json number(double value) {
  if (std::isnan(value)) return nullptr;
  return value == 0.0 ? 0.0 : value;
}

std::string_view subject_name(Subject subject) {
  switch (subject) {
    case Subject::Figure:
      return "figure";
    case Subject::Margin:
      return "margin";
    case Subject::Rule:
      return "rule";
    case Subject::Expectation:
      return "expectation";
  }
  return "";
}

bool is_judged(const Reading& reading) {
  return reading.subject == Subject::Rule || reading.subject == Subject::Expectation;
}

Json share_json(const Share& share) {
  return {{"runs", share.runs}, {"share", share.share}, {"confidence_95", {share.low, share.high}}};
}

class SpreadJson {
 public:
  explicit SpreadJson(const Answer& answer) : answer_(answer), readings_(answer.predictions.varied->readings) {}

  [[nodiscard]] Json corners() const {
    const spread::Corners& corners = *answer_.predictions.corners;
    Json readings = Json::array();
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      Json item = reading(readings_[i]);
      item["nominal"] = number(corners.readings[i].nominal);
      item["least"] = extreme(corners.readings[i].low);
      item["most"] = extreme(corners.readings[i].high);
      if (is_judged(readings_[i])) item["failing"] = corners.readings[i].failing;
      readings.push_back(std::move(item));
    }
    return {{"tolerances", tolerances()},
            {"all", corners.all},
            {"corners", corners.corners},
            {"failing", corners.failing},
            {"readings", std::move(readings)}};
  }

  [[nodiscard]] Json sample() const {
    const spread::Sample& sample = *answer_.predictions.sample;
    Json readings = Json::array();
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      const SampleReading& result = sample.readings[i];
      Json item = reading(readings_[i]);
      item["nominal"] = number(result.nominal);
      item["spread"] = spread(result.spread);
      if (is_judged(readings_[i])) item["failing"] = share_json(result.failing);
      readings.push_back(std::move(item));
    }
    Json trips = Json::object();
    for (std::size_t i = 0; i < sample.trips.size(); ++i) {
      trips[answer_.compiled.profile()->rails[i].name] = share_json(sample.trips[i]);
    }
    return {{"tolerances", tolerances()},  {"runs", sample.options.count},
            {"seed", sample.options.seed}, {"failing", share_json(sample.failing)},
            {"trips", std::move(trips)},   {"readings", std::move(readings)}};
  }

 private:
  [[nodiscard]] Json tolerances() const {
    Json list = Json::array();
    for (const spread::Tolerance& tolerance : answer_.predictions.varied->tolerances) {
      list.push_back({{"name", tolerance.name}, {"low", tolerance.low}, {"high", tolerance.high}});
    }
    return list;
  }

  [[nodiscard]] Json reading(const Reading& reading) const {
    const bool is_of_supply = reading.margin && row_of(*reading.margin).owner == MarginOwner::Supply;
    const bool is_of_rail = reading.rail && !is_of_supply;
    return {{"what", reading.margin ? std::string(row_of(*reading.margin).name) : reading.name},
            {"kind", subject_name(reading.subject)},
            {"rail", is_of_rail ? Json((*answer_.compiled.profile())[*reading.rail].name) : Json(nullptr)},
            {"of", reading.owner.empty() ? Json(nullptr) : Json(reading.owner)},
            {"unit", reading.unit}};
  }

  // The corner names what is not nominal there.
  [[nodiscard]] Json extreme(const std::optional<Extreme>& extreme) const {
    if (!extreme) return nullptr;
    Json corner = Json::object();
    const auto& tolerances = answer_.predictions.varied->tolerances;
    for (std::size_t i = 0; i < extreme->at.size(); ++i) {
      if (extreme->at[i] != 0) corner[tolerances[i].name] = extreme->at[i] < 0 ? "low" : "high";
    }
    return {{"value", number(extreme->value)}, {"corner", std::move(corner)}};
  }

  static Json spread(const spread::Spread& spread) {
    if (spread.runs == 0) return nullptr;
    return {{"runs", spread.runs}, {"mean", spread.mean}, {"least", spread.least}, {"p5", spread.p5},
            {"p50", spread.p50},   {"p95", spread.p95},   {"most", spread.most}};
  }

  const Answer& answer_;
  const std::vector<Reading>& readings_;
};

}  // namespace

void add_spread(const Answer& answer, nlohmann::ordered_json& document) {
  if (!answer.predictions.varied) return;
  const SpreadJson json(answer);
  if (answer.predictions.corners) document["corners"] = json.corners();
  if (answer.predictions.sample) document["sample"] = json.sample();
}

}  // namespace rampart::cli
