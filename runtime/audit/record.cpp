#include "runtime/audit/record.h"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <string_view>

#include "compiler/export/sha256.h"
#include "runtime/audit/json_source.h"
#include "runtime/audit/key_watch.h"
#include "runtime/audit/table_row.h"

namespace rampart::audit {
namespace {

using Json = nlohmann::json;

constexpr std::string_view kOrigin = "/origin";
constexpr std::string_view kRail = "/setup/rails/";
constexpr std::string_view kChannel = "/setup/channels/";
constexpr std::string_view kProtection = "/setup/channels//protection/";
constexpr std::string_view kFuse = "/setup/channels//protection/fuse";
constexpr std::string_view kOverpower = "/setup/channels//protection/overpower";

// The kinds that a value may have, and the words that a text may be.
struct KnownValue {
  std::string_view path;
  std::vector<JsonKind> kinds;
  std::vector<std::string_view> words;  // empty: any
};

std::string_view words_of(JsonKind kind) {
  switch (kind) {
    case JsonKind::Null:
      return "null";
    case JsonKind::Truth:
      return "true or false";
    case JsonKind::Number:
      return "a number";
    case JsonKind::Text:
      return "a text";
    case JsonKind::Object:
      return "an object";
    case JsonKind::Array:
      return "a list";
  }
  return "";
}

const std::vector<KnownValue>& known_values() {
  using enum JsonKind;
  const std::vector<JsonKind> text = {Text};
  const std::vector<JsonKind> number = {Number};
  const std::vector<JsonKind> number_or_null = {Number, Null};
  const std::vector<JsonKind> object = {Object};
  const std::vector<JsonKind> object_or_null = {Object, Null};
  const std::vector<JsonKind> array = {Array};
  static const std::vector<KnownValue> kKnown = {
      {"/table_sha256", text, {}},
      {"/above_sha256", text, {}},
      {"/origin", object, {}},
      {"/setup", object, {}},
      {"/setup/rails", array, {}},
      {"/setup/rails/", object, {}},
      {"/setup/rails//rail", text, {}},
      {"/setup/rails//channels", array, {}},
      {"/setup/rails//channels/", text, {}},
      {"/setup/rails//arrangement", {Text, Null}, {"series", "parallel"}},
      {"/setup/rails//ceiling_V", number_or_null, {}},
      {"/setup/channels", array, {}},
      {"/setup/channels/", object, {}},
      {"/setup/channels//channel", text, {}},
      {"/setup/channels//rail", text, {}},
      {"/setup/channels//sense", text, {"local", "remote"}},
      {"/setup/channels//coupled", array, {}},
      {"/setup/channels//coupled/", text, {}},
      {"/setup/channels//protection", object, {}},
      {"/setup/channels//protection/overvoltage_V", number_or_null, {}},
      {"/setup/channels//protection/fuse", object_or_null, {}},
      {"/setup/channels//protection/fuse/delay_s", number, {}},
      {"/setup/channels//protection/fuse/current_A", number_or_null, {}},
      {"/setup/channels//protection/fuse/switches_off", array, {}},
      {"/setup/channels//protection/fuse/switches_off/", text, {}},
      {"/setup/channels//protection/overpower", object_or_null, {}},
      {"/setup/channels//protection/overpower/power_W", number, {}},
      {"/setup/channels//protection/overpower/delay_s", number, {}},
      {"/setup/channels//interpolation", text, {"hold", "linear"}},
      {"/setup/channels//minimum_step_s", number, {}},
      {"/setup/channels//time_step_s", number, {}},
      {"/setup/channels//voltage_step_V", number, {}},
      {"/setup/channels//current_step_A", number, {}},
      {"/setup/lines", array, {}},
      {"/setup/lines/", object, {}},
      {"/setup/lines//line", text, {}},
  };
  return kKnown;
}

// Hands the events of the JSON library on.
class RecordEvents {
 public:
  RecordEvents(JsonSource& source, Record& record) : source_(source), record_(record), builder_(record) {}

  [[nodiscard]] bool is_too_deep() const { return is_too_deep_; }
  // What is wrong with a key; empty if nothing is.
  [[nodiscard]] const std::string& wrong_key() const { return wrong_key_; }

  [[nodiscard]] const std::string& mistake() const { return builder_.mistake(); }

  bool null() {
    builder_.null();
    return goes_on();
  }
  bool boolean(bool) {
    builder_.truth();
    return goes_on();
  }
  bool number_integer(Json::number_integer_t value) { return number(std::to_string(value)); }
  bool number_unsigned(Json::number_unsigned_t value) { return number(std::to_string(value)); }
  bool number_float(Json::number_float_t, const std::string& text) { return number(text); }
  bool binary(Json::binary_t&) { return true; }
  bool string(std::string& value) {
    builder_.text(value);
    return goes_on();
  }
  bool key(std::string& value) {
    builder_.key(value);
    wrong_key_ = keys_.take(value);
    if (depth_ == 1 && has_digest_ && wrong_key_.empty()) wrong_key_ = below_digest(value);
    if (depth_ == 1 && value == kDigestKey) {
      has_digest_ = true;
      record_.sha256_above = source_.sha256_above(value);
    }
    return wrong_key_.empty();
  }
  bool start_object(std::size_t) { return open(true); }
  bool start_array(std::size_t) { return open(false); }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool parse_error(std::size_t, const std::string&, const Json::exception&) { return false; }

 private:
  [[nodiscard]] bool goes_on() const { return builder_.mistake().empty(); }
  bool number(const std::string& text) {
    builder_.number(text);
    return goes_on();
  }
  bool open(bool is_object) {
    builder_.open(is_object);
    keys_.open();
    is_too_deep_ = ++depth_ > kMaxDepth;
    return !is_too_deep_ && goes_on();
  }
  bool close() {
    builder_.close();
    keys_.close();
    --depth_;
    return true;
  }

  JsonSource& source_;
  Record& record_;
  RecordBuilder builder_;
  KeyWatch keys_;
  bool has_digest_ = false;
  std::string wrong_key_;
  std::size_t depth_ = 0;
  bool is_too_deep_ = false;
};

}  // namespace

std::string RecordBuilder::here() const {
  return path_ + "/" + (levels_.empty() || !levels_.back().is_object ? "" : key_);
}

// A file of the origin may stand anywhere in it, and each has a name and a digest.
void RecordBuilder::check(JsonKind kind, const std::string& words) {
  if (!mistake_.empty()) return;
  const std::string path = here();
  const bool is_of_file =
      path.starts_with(kOrigin) && !levels_.empty() && levels_.back().is_object && (key_ == "name" || key_ == "sha256");
  const auto& all = known_values();
  const auto known = std::find_if(all.begin(), all.end(), [&](const KnownValue& one) { return one.path == path; });
  std::vector<JsonKind> kinds;
  if (known != all.end()) {
    kinds = known->kinds;
  } else if (is_of_file) {
    kinds = {JsonKind::Text};
  }
  const bool is_kind = kinds.empty() || std::find(kinds.begin(), kinds.end(), kind) != kinds.end();
  if (is_kind && kind == JsonKind::Text && known != all.end() && !known->words.empty() &&
      std::find(known->words.begin(), known->words.end(), words) == known->words.end()) {
    mistake_ = "`" + key_ + "` is";
    for (const std::string_view word : known->words) {
      mistake_ += (word == known->words.front() ? " neither `" : " nor `") + std::string(word) + "`";
    }
    return;
  }
  if (known == all.end() && !is_of_file && path.starts_with(kProtection))
    mistake_ = "`" + key_ + "` is not a key of a protection";
  if (is_kind) return;
  const std::string list = path.substr(0, path.size() - 1);
  const std::string where =
      levels_.back().is_object ? "`" + key_ + "`" : "an entry of `" + list.substr(list.rfind('/') + 1) + "`";
  mistake_ = where + " is not ";
  for (const JsonKind one : kinds) {
    if (one != kinds.front()) mistake_ += " or ";
    mistake_ += words_of(one);
  }
}

void RecordBuilder::open(bool is_object) {
  check(is_object ? JsonKind::Object : JsonKind::Array);
  const std::size_t around = path_.size();
  if (!levels_.empty()) path_ = here();
  levels_.push_back({around, is_object});
  file_ = {};
  if (path_ == "/setup") record_.has_setup = is_object;
  if (path_ == kRail && record_.rails.size() < kMaxRecorded) record_.rails.emplace_back();
  if (path_ == kChannel && record_.channels.size() < kMaxRecorded) record_.channels.emplace_back();
  if (record_.channels.empty()) return;
  if (path_ == kFuse) record_.channels.back().fuse.emplace();
  if (path_ == kOverpower) record_.channels.back().overpower.emplace();
}

// Inside the origin every object with a name and a digest is a file.
void RecordBuilder::close() {
  if (levels_.empty()) return;
  const bool is_file = path_.starts_with(kOrigin) && !file_.name.empty() && !file_.sha256.empty();
  if (is_file && record_.files.size() < kMaxRecorded) record_.files.push_back(file_);
  file_ = {};
  path_.resize(levels_.back().path_length);
  levels_.pop_back();
}

void RecordBuilder::text(const std::string& value) {
  check(JsonKind::Text, value);
  const std::string path = here();
  if (path == "/table_sha256") record_.table_sha256 = value;
  if (path == "/above_sha256") record_.above_sha256 = value;
  if (path.starts_with(kOrigin) && key_ == "name") file_.name = value;
  if (path.starts_with(kOrigin) && key_ == "sha256") file_.sha256 = value;
  if (path == "/setup/lines//line" && record_.lines.size() < kMaxRecorded) record_.lines.push_back(value);
  if (path.starts_with(kRail) && !record_.rails.empty()) take_rail_text(path.substr(kRail.size()), value);
  if (path.starts_with(kChannel) && !record_.channels.empty()) take_channel_text(path.substr(kChannel.size()), value);
}

void RecordBuilder::take_rail_text(const std::string& path, const std::string& value) {
  RecordedRail& rail = record_.rails.back();
  if (path == "/rail") rail.rail = value;
  if (path == "/arrangement") rail.in_series = value == "series";
  if (path == "/channels/" && rail.channels.size() < kMaxRecorded) rail.channels.push_back(value);
}

void RecordBuilder::take_channel_text(const std::string& path, const std::string& value) {
  RecordedChannel& channel = record_.channels.back();
  if (path == "/channel") channel.channel = value;
  if (path == "/rail") channel.rail = value;
  if (path == "/interpolation") channel.interpolation = value;
  if (path == "/sense") channel.remote_sense = value == "remote";
  if (path == "/coupled/" && channel.coupled.size() < kMaxRecorded) channel.coupled.push_back(value);
  if (path == "/protection/fuse/switches_off/" && channel.fuse && channel.fuse->switches_off.size() < kMaxRecorded) {
    channel.fuse->switches_off.push_back(value);
  }
}

void RecordBuilder::number(const std::string& value) {
  check(JsonKind::Number);
  const std::optional<TableNumber> read = read_json_number(value);
  const std::optional<Rational> number = read ? std::optional(read->value()) : std::nullopt;
  if (path_ == kRail && key_ == "ceiling_V" && !record_.rails.empty()) record_.rails.back().ceiling = number;
  if (record_.channels.empty() || !path_.starts_with(kChannel)) return;
  RecordedChannel& channel = record_.channels.back();
  if (path_ == kChannel) {
    if (key_ == "minimum_step_s") channel.minimum_step = number;
    if (key_ == "time_step_s") channel.time_step = number;
    if (key_ == "voltage_step_V") channel.voltage_step = number;
    if (key_ == "current_step_A") channel.current_step = number;
  }
  if (path_ == "/setup/channels//protection" && key_ == "overvoltage_V") channel.overvoltage = number;
  if (path_ == kFuse && channel.fuse) {
    if (key_ == "delay_s") channel.fuse->delay = number;
    if (key_ == "current_A") channel.fuse->current = number;
  }
  if (path_ == kOverpower && channel.overpower) {
    if (key_ == "power_W") channel.overpower->power = number;
    if (key_ == "delay_s") channel.overpower->delay = number;
  }
}

std::string below_digest(const std::string& key) {
  return "key `" + key + "` is below `" + std::string(kDigestKey) + "`, which does not cover it";
}

Record read_record(std::FILE* stream, std::string& why) {
  Record record;
  JsonSource source(stream);
  RecordEvents events(source, record);
  if (!Json::sax_parse(source.begin(), JsonSource::end(), &events)) {
    const std::string line = std::to_string(source.line());
    why = events.is_too_deep()          ? "it is nested too deeply"
          : !events.wrong_key().empty() ? events.wrong_key()
          : !events.mistake().empty()   ? events.mistake() + " in line " + line
                                        : "it is not valid JSON from line " + line + " on";
  } else if (record.files.empty() && !record.has_setup) {
    why = "it holds neither a set-up nor an origin";
  }
  return record;
}

std::string sha256_of(std::FILE* stream) {
  Sha256 digest;
  char piece[1 << 16];
  std::size_t got = 0;
  while ((got = std::fread(piece, 1, sizeof piece, stream)) > 0) digest.add({piece, got});
  return digest.finish();
}

}  // namespace rampart::audit
