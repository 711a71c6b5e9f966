#include "runtime/bench_run/run_record.h"

#include <sys/random.h>

#include <array>
#include <ctime>
#include <nlohmann/json.hpp>

#include "lang/text/version.h"

namespace rampart::bench_run {
namespace {

using Json = nlohmann::ordered_json;

Json or_null(const std::string& text) {
  return text.empty() ? Json(nullptr) : Json(text);
}

// A random UUID, RFC 4122, 4.4.
std::string random_id() {
  std::array<unsigned char, 16> bytes{};
  static_cast<void>(getrandom(bytes.data(), bytes.size(), 0));
  bytes[6] = static_cast<unsigned char>((bytes[6] & 0x0FU) | 0x40U);
  bytes[8] = static_cast<unsigned char>((bytes[8] & 0x3FU) | 0x80U);
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    if (i == 4 || i == 6 || i == 8 || i == 10) text += '-';
    text += kDigits[bytes[i] >> 4U];
    text += kDigits[bytes[i] & 0x0FU];
  }
  return text;
}

std::string formatted(const char* format, const std::tm& time) {
  std::array<char, 64> text{};
  return {text.data(), std::strftime(text.data(), text.size(), format, &time)};
}

Json digest_json(const NamedDigest& file) {
  return {{"name", file.name}, {"sha256", file.sha256}};
}

Json supplies_json(const Plan& plan, const std::vector<ReadySupply>& supplies) {
  Json all = Json::array();
  for (std::size_t i = 0; i < plan.supplies.size() && i < supplies.size(); ++i) {
    const link::SupplyLink& link = *plan.supplies[i].link;
    const link::Identity& identity = supplies[i].identity;
    all.push_back({{"supply", link.name},
                   {"place", place_text(link.place)},
                   {"identification", identity.text},
                   {"serial_number", identity.serial_number},
                   {"firmware", identity.firmware},
                   {"calibration_due", link.calibration_due ? Json(*link.calibration_due) : Json(nullptr)},
                   {"round_trip_s", to_seconds(supplies[i].round_trip).to_double()}});
  }
  return all;
}

Json end_json(const RunEnd& end) {
  const auto seconds = [](Nanoseconds time) { return to_seconds(time).to_double(); };
  Json outputs = Json::array();
  for (const OutputState& output : end.outputs) {
    outputs.push_back({{"channel", output.channel},
                       {"state", known_name(output.known)},
                       {"measured_V", output.volts ? Json(*output.volts) : Json(nullptr)},
                       {"why", or_null(output.why)}});
  }
  return {{"complete", end.is_complete},
          {"reason", end.reason},
          {"time_s", seconds(end.duration)},
          {"outputs", std::move(outputs)},
          {"left_on", end.left_on},
          {"lateness",
           {{"messages", end.lateness.groups},
            {"worst_s", seconds(end.lateness.worst)},
            {"moved_s", seconds(end.lateness.shifted)}}}};
}

}  // namespace

RunRecord begin_record() {
  RunRecord record;
  record.run_id = random_id();
  const std::time_t now = std::time(nullptr);
  std::tm utc{};
  std::tm local{};
  gmtime_r(&now, &utc);
  localtime_r(&now, &local);
  record.start_utc = formatted("%Y-%m-%dT%H:%M:%SZ", utc);
  record.zone = formatted("%z", local);
  if (record.zone.size() == 5) record.zone.insert(3, ":");
  return record;
}

std::string record_json(const RunRecord& record, const Plan& plan, const std::vector<ReadySupply>& supplies,
                        const RunEnd* end, const std::string& log_sha256) {
  Json by_hand = Json::array();
  for (const HandSetting& setting : plan.by_hand) by_hand.push_back(setting.text);
  const Json json{{"rampart", version()},
                  {"run_id", record.run_id},
                  {"title", plan.head.title},
                  {"start_utc", record.start_utc},
                  {"zone", record.zone},
                  {"table", digest_json(record.table)},
                  {"bench", digest_json(record.bench)},
                  {"link", digest_json(record.link)},
                  {"origin", Json::parse(plan.head.origin)},
                  {"device", or_null(record.device)},
                  {"operator", or_null(record.operator_name)},
                  {"supplies", supplies_json(plan, supplies)},
                  {"set_by_hand", std::move(by_hand)},
                  {"end", end == nullptr ? Json(nullptr) : end_json(*end)},
                  {"log_sha256", or_null(log_sha256)}};
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace rampart::bench_run
