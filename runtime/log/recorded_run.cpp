#include "runtime/log/recorded_run.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "lang/text/character.h"
#include "runtime/support/json_levels.h"

namespace rampart {
namespace {

using Json = nlohmann::json;

const Json* member(const Json& json, const char* key) {
  if (!json.is_object()) return nullptr;
  const auto found = json.find(key);
  return found == json.end() ? nullptr : &*found;
}

// On one line, shortened after kMostRecordText bytes.
std::string cleaned(std::string_view text) {
  std::string clean;
  for (std::size_t i = 0; i < text.size();) {
    const auto [length, code, valid] = character_at(text, i);
    if (clean.size() + length > kMostRecordText) return clean + "…";
    clean += is_hidden(code) ? std::string_view(" ") : text.substr(i, length);
    i += length;
  }
  return clean;
}

std::string text_of(const Json* json) {
  return json != nullptr && json->is_string() ? cleaned(json->get_ref<const std::string&>()) : std::string();
}

std::string text_in(const Json& json, const char* key) {
  return text_of(member(json, key));
}

std::optional<RecordedFile> file_of(const Json* json) {
  if (json == nullptr || !json->is_object()) return std::nullopt;
  return RecordedFile{text_in(*json, "name"), text_in(*json, "sha256")};
}

template <class Take>
void each_in(const Json& json, const char* key, const Take& take) {
  const Json* list = member(json, key);
  if (list == nullptr || !list->is_array()) return;
  const std::size_t count = std::min(list->size(), kMostRecorded);
  for (std::size_t i = 0; i < count; ++i) take((*list)[i]);
}

void read_origin(const Json& origin, RecordedRun& run) {
  const auto add = [](std::vector<RecordedFile>& files) {
    return [&files](const Json& one) {
      if (const auto file = file_of(&one)) files.push_back(*file);
    };
  };
  run.profile = file_of(member(origin, "profile"));
  run.bench = file_of(member(origin, "bench"));
  each_in(origin, "imports", add(run.imports));
  each_in(origin, "waveforms", add(run.waveforms));
  each_in(origin, "parameters", [&run](const Json& one) {
    run.parameters.push_back({text_in(one, "name"), text_in(one, "text")});
  });
}

}  // namespace

std::optional<Date> RecordedRun::day() const {
  const std::optional<Nanoseconds> start = parse_log_time(start_utc, LogTimeFormat::Iso8601, false, std::nullopt);
  if (!start) return std::nullopt;
  const Nanoseconds ahead = parse_offset(zone).value_or(Nanoseconds{0});
  return Date{std::chrono::floor<std::chrono::days>(std::chrono::sys_time<Nanoseconds>(*start + ahead))};
}

std::optional<RecordedRun> read_recorded_run(std::string_view text, std::string& why) {
  if (text.size() > kMostRecordBytes) {
    why = "it is larger than 1 MiB";
    return std::nullopt;
  }
  if (nests_deeper(text, kMostRecordDepth)) {
    why = "it is nested too deeply";
    return std::nullopt;
  }
  const Json json = Json::parse(text, nullptr, false);
  if (!json.is_object() || member(json, "run_id") == nullptr) {
    why = json.is_discarded() ? "it is not JSON" : "it has no `run_id`";
    return std::nullopt;
  }
  RecordedRun run;
  run.run_id = text_in(json, "run_id");
  run.start_utc = text_in(json, "start_utc");
  run.zone = text_in(json, "zone");
  run.device = text_in(json, "device");
  run.operator_name = text_in(json, "operator");
  run.table = file_of(member(json, "table")).value_or(RecordedFile{});
  if (const Json* origin = member(json, "origin")) read_origin(*origin, run);
  each_in(json, "supplies", [&run](const Json& one) {
    run.supplies.push_back({text_in(one, "supply"), text_in(one, "identification"), text_in(one, "serial_number"),
                            text_in(one, "firmware"), text_in(one, "calibration_due")});
  });
  each_in(json, "set_by_hand", [&run](const Json& one) { run.set_by_hand.push_back(text_of(&one)); });
  if (const Json* end = member(json, "end"); end != nullptr && end->is_object()) {
    run.has_end = true;
    run.reason = text_in(*end, "reason");
  }
  run.log_sha256 = text_in(json, "log_sha256");
  return run;
}

}  // namespace rampart
