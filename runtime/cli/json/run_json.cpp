#include "runtime/cli/json/run_json.h"

#include <array>
#include <nlohmann/json.hpp>

#include "runtime/bench_run/words.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;

std::string line_of(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
}

double seconds(Nanoseconds time) {
  return to_seconds(time).to_double();
}

template <class Value>
Json or_null(const std::optional<Value>& value) {
  if constexpr (std::is_same_v<Value, Rational>) return value ? Json(value->to_double()) : Json(nullptr);
  if constexpr (std::is_same_v<Value, Nanoseconds>) return value ? Json(seconds(*value)) : Json(nullptr);
  if constexpr (std::is_same_v<Value, double> || std::is_same_v<Value, bool>) {
    return value ? Json(*value) : Json(nullptr);
  }
}

Json or_null(const std::string& text) {
  return text.empty() ? Json(nullptr) : Json(text);
}

Json output_json(const bench_run::OutputState& output) {
  return {{"channel", output.channel},
          {"state", bench_run::known_name(output.known)},
          {"is_off", output.is_off()},
          {"measured_V", or_null(output.volts)},
          {"why", or_null(output.why)}};
}

Json final_members(std::span<const bench_run::SupplyState> supplies) {
  Json outputs = Json::array();
  Json instruments = Json::array();
  for (const bench_run::SupplyState& supply : supplies) {
    instruments.push_back({{"supply", supply.supply}, {"place", supply.place}, {"identity", or_null(supply.identity)}});
    for (const bench_run::OutputState& output : supply.outputs) outputs.push_back(output_json(output));
  }
  const bool all_off = bench_run::not_off(supplies).empty();
  return {{"line", "final"}, {"all_off", all_off}, {"supplies", instruments}, {"outputs", outputs}};
}

}  // namespace

std::string final_json(std::span<const bench_run::SupplyState> supplies) {
  return line_of(final_members(supplies));
}

std::string run_end_json(const bench_run::RunEnd& end, std::span<const bench_run::SupplyState> supplies) {
  Json json = final_members(supplies);
  json["complete"] = end.is_complete;
  json["reason"] = end.reason;
  json["left_on"] = end.left_on;
  json["duration_s"] = seconds(end.duration);
  json["worst_late_s"] = seconds(end.lateness.worst);
  json["moved_s"] = seconds(end.lateness.shifted);
  return line_of(json);
}

std::string refusal_json(const bench_run::Refusal& refusal) {
  return line_of({{"line", "refused"},
                  {"name", or_null(std::string(refusal.name))},
                  {"message", refusal.what},
                  {"hint", or_null(refusal.hint)}});
}

std::string note_json(const std::string& text) {
  return line_of({{"line", "note"}, {"message", text}});
}

std::string row_json(const bench_run::LogRow& row) {
  constexpr std::array<std::string_view, 3> kKinds{"reading", "command", "event"};
  Json json{{"line", kKinds[static_cast<std::size_t>(row.kind)]},
            {"time_s", seconds(row.time)},
            {"segment", or_null(row.segment)},
            {"channel", or_null(row.channel)}};
  if (row.kind == bench_run::LogKind::Event) {
    json["text"] = row.text;
    return line_of(json);
  }
  json["set_V"] = or_null(row.set_V);
  json["set_A"] = or_null(row.set_A);
  json["output"] = or_null(row.output);
  if (row.kind == bench_run::LogKind::Reading) {
    json["measured_V"] = or_null(row.measured_V);
    json["measured_A"] = or_null(row.measured_A);
    json["mode"] = or_null(row.mode);
    json["quality"] = or_null(row.quality);
  } else {
    json["planned_s"] = or_null(row.planned);
    json["sent_s"] = or_null(row.sent);
    json["acked_s"] = or_null(row.acked);
  }
  return line_of(json);
}

std::string status_json(const bench_run::RunStatus& status) {
  Json rails = Json::array();
  for (const bench_run::RailStatus& rail : status.rails) {
    rails.push_back({{"rail", rail.rail},
                     {"output", rail.is_on},
                     {"set_V", or_null(rail.set_V)},
                     {"measured_V", or_null(rail.measured_V)},
                     {"measured_A", or_null(rail.measured_A)},
                     {"mode", or_null(rail.mode)}});
  }
  return line_of({{"line", "status"},
                  {"time_s", seconds(status.time)},
                  {"segment", or_null(status.segment)},
                  {"left_s", or_null(status.left)},
                  {"next", or_null(status.next)},
                  {"rails", rails}});
}

void DryRunJson::message(std::optional<Nanoseconds> time, const std::string& supply, const std::string& text) {
  put_(line_of(
      {{"line", "message"}, {"phase", phase_}, {"time_s", or_null(time)}, {"supply", supply}, {"message", text}}));
}

void DryRunJson::instant(Nanoseconds time, const std::string& what) {
  put_(line_of({{"line", "instant"}, {"phase", phase_}, {"time_s", seconds(time)}, {"what", what}}));
}

void DryRunJson::wait(const bench_run::TableWait& wait) {
  put_(line_of({{"line", "wait"}, {"phase", phase_}, {"for", wait_text(wait)}}));
}

}  // namespace rampart::cli
