#include "compiler/export/setup_json.h"

#include <nlohmann/json.hpp>

#include "compiler/export/sha256.h"
#include "compiler/table/setup.h"

namespace rampart {
namespace {

using Json = nlohmann::ordered_json;

std::string written(const Json& json) {
  return json.dump(2, ' ', false, Json::error_handler_t::replace);
}

template <class Value>
Json number_or_null(const std::optional<Value>& value) {
  return value ? Json(value->to_double()) : Json(nullptr);
}

double in_seconds(Nanoseconds time) {
  return to_seconds(time).to_double();
}

Json file_json(const std::optional<OriginFile>& file) {
  if (!file) return nullptr;
  return {{"name", file->name}, {"sha256", file->sha256}};
}

Json origin_json(const Origin& origin) {
  Json imports = Json::array();
  for (const OriginFile& file : origin.imports) imports.push_back(file_json(file));
  Json waveforms = Json::array();
  for (const OriginFile& file : origin.waveforms) waveforms.push_back(file_json(file));
  Json parameters = Json::array();
  for (const OriginParameter& parameter : origin.parameters) {
    parameters.push_back({{"name", parameter.name},
                          {"value", parameter.value.value.to_double()},
                          {"text", to_text(parameter.value)},
                          {"set", parameter.set}});
  }
  Json json{{"profile", file_json(origin.profile)}, {"imports", std::move(imports)},
            {"waveforms", std::move(waveforms)},    {"bench", file_json(origin.bench)},
            {"load", file_json(origin.load)},       {"parameters", std::move(parameters)}};
  if (origin.template_file) json["template"] = file_json(origin.template_file);
  return json;
}

Json channel_names(const Bench& bench, const std::vector<ChannelId>& channels) {
  Json names = Json::array();
  for (const ChannelId channel : channels) names.push_back(bench[channel].name);
  return names;
}

Json rails_json(const Table& table) {
  Json rails = Json::array();
  for (const RailSetup& setup : table.rails()) {
    const Rail& rail = table.profile()[setup.rail];
    Json arrangement;
    if (setup.arrangement) arrangement = *setup.arrangement == Arrangement::Series ? "series" : "parallel";
    const auto& ceiling = rail.protection.ceiling;
    rails.push_back({{"rail", rail.name},
                     {"channels", channel_names(table.bench(), setup.members)},
                     {"arrangement", std::move(arrangement)},
                     {"reversed", rail.reversed},
                     {"ceiling_V", ceiling ? Json(ceiling->value.to_double()) : Json(nullptr)}});
  }
  return rails;
}

Json protection_json(const Bench& bench, const ChannelSetup& setup) {
  Json fuse;
  if (setup.fuse) {
    fuse = {{"delay_s", in_seconds(setup.fuse->delay)},
            {"current_A", number_or_null(setup.fuse->current)},
            {"switches_off", channel_names(bench, setup.fuse->linked)}};
  }
  Json overpower;
  if (setup.overpower) {
    overpower = {{"power_W", setup.overpower->to_double()}, {"delay_s", in_seconds(setup.overpower_delay)}};
  }
  return {{"overvoltage_V", number_or_null(setup.overvoltage)},
          {"fuse", std::move(fuse)},
          {"overpower", std::move(overpower)}};
}

Json channels_json(const Table& table) {
  const Bench& bench = table.bench();
  Json channels = Json::array();
  for (const ChannelSetup& setup : channel_setups(table)) {
    const Channel& channel = bench[setup.channel];
    const Timing& timing = bench[channel.supply].timing;
    channels.push_back({{"channel", channel.name},
                        {"rail", table.profile()[setup.rail].name},
                        {"sense", setup.remote_sense ? "remote" : "local"},
                        {"protection", protection_json(bench, setup)},
                        {"coupled", channel_names(bench, setup.coupled)},
                        {"interpolation", timing.interpolation == Interpolation::Hold ? "hold" : "linear"},
                        {"minimum_step_s", in_seconds(timing.minimum_step)},
                        {"time_step_s", in_seconds(timing.resolution)},
                        {"voltage_step_V", channel.limits.voltage_resolution.to_double()},
                        {"current_step_A", channel.limits.current_resolution.to_double()}});
  }
  return channels;
}

Json lines_json(const Table& table) {
  Json lines = Json::array();
  for (const Line& line : table.profile().lines) {
    Json rails = Json::array();
    for (const RailId rail : line.rails) rails.push_back(table.profile()[rail].name);
    lines.push_back({{"line", line_name(table.bench(), line)},
                     {"name", line.name},
                     {"direction", line.is_output ? "output" : "input"},
                     {"role", line_role(line)},
                     {"rails", std::move(rails)}});
  }
  return lines;
}

}  // namespace

std::string setup_members(const Table& table, const Origin& origin) {
  Json document{
      {"rampart", origin.version},
      {"title", table.profile().title},
      {"origin", origin_json(origin)},
      {"setup", {{"rails", rails_json(table)}, {"channels", channels_json(table)}, {"lines", lines_json(table)}}}};
  const std::string text = written(document);
  // Without "{\n" and "\n}".
  return text.substr(2, text.size() - 4);
}

std::string setup_document(const Table& table, const Origin& origin, const std::string& table_sha256) {
  std::string text = "{\n" + setup_members(table, origin) + ",\n  \"table_sha256\": " + json_text(table_sha256) + ",\n";
  text += "  \"above_sha256\": \"" + sha256_of(text) + "\"\n}\n";
  return text;
}

std::string json_text(const std::string& text) {
  return written(text);
}

}  // namespace rampart
