#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/export/origin.h"
#include "lang/values/rational.h"

namespace rampart::audit {

// More files than any table is made from, and more channels than any bench has; the rest is not looked at.
inline constexpr std::size_t kMaxRecorded = 10'000;
// Deeper documents are no setpoint tables.
inline constexpr std::size_t kMaxDepth = 64;

struct RecordedFuse {
  std::optional<Rational> delay;    // s
  std::optional<Rational> current;  // A; none: it acts in constant current
  std::vector<std::string> switches_off;
};

struct RecordedOverpower {
  std::optional<Rational> power;  // W
  std::optional<Rational> delay;  // s
};

struct RecordedChannel {
  std::string channel;
  std::string rail;
  bool remote_sense = false;
  std::optional<Rational> overvoltage;  // V
  std::optional<RecordedFuse> fuse;
  std::optional<RecordedOverpower> overpower;
  std::vector<std::string> coupled;
  // How the table was made for the channel.
  std::string interpolation;             // "hold" or "linear"; empty: nothing is said
  std::optional<Rational> minimum_step;  // s
  std::optional<Rational> time_step;     // s
  std::optional<Rational> voltage_step;  // V
  std::optional<Rational> current_step;  // A
};

struct RecordedRail {
  std::string rail;
  std::vector<std::string> channels;
  bool in_series = false;
  std::optional<Rational> ceiling;  // V, by magnitude
};

// What a table, or the file beside it, says of where the table comes from and what is set up before it.
struct Record {
  std::vector<OriginFile> files;  // empty: nothing is said
  std::string table_sha256;       // in the file beside a table: of the table
  std::string above_sha256;       // of the lines above this one
  std::string sha256_above;       // in the file beside a table: what that digest is
  bool has_setup = false;
  std::vector<RecordedRail> rails;
  std::vector<RecordedChannel> channels;
  std::vector<std::string> lines;
};

// What a value of a JSON document is.
enum class JsonKind : std::uint8_t { Null, Truth, Number, Text, Object, Array };

// Gathers a record from the events of a JSON document. What is not known passes by; what is known and of another kind
// than `build` writes is a mistake.
class RecordBuilder {
 public:
  explicit RecordBuilder(Record& record) : record_(record) {}

  void key(const std::string& name) { key_ = name; }
  void open(bool is_object);
  void close();
  void text(const std::string& value);
  void number(const std::string& value);
  void null() { check(JsonKind::Null); }
  void truth() { check(JsonKind::Truth); }
  // What is wrong with the first value of another kind, in words; empty if none is.
  [[nodiscard]] const std::string& mistake() const { return mistake_; }

 private:
  struct Level {
    std::size_t path_length = 0;  // of the path around it
    bool is_object = false;
  };
  [[nodiscard]] std::string here() const;
  // A value of this kind comes next; a text is given with its words.
  void check(JsonKind kind, const std::string& words = {});
  void take_rail_text(const std::string& path, const std::string& value);
  void take_channel_text(const std::string& path, const std::string& value);

  Record& record_;
  OriginFile file_;
  std::string key_;
  std::string path_;  // of what is open: a name a level, empty for the members of an array
  std::vector<Level> levels_;
  std::string mistake_;
};

// The last key of a table in JSON, and of the file beside one: the digest of the lines above it.
inline constexpr std::string_view kDigestKey = "above_sha256";
// What is wrong with a key that comes after it, in words.
[[nodiscard]] std::string below_digest(const std::string& key);

// Reads the record beside a table. `why`: what is wrong with it; empty if it is a JSON document with a set-up or
// origin.
[[nodiscard]] Record read_record(std::FILE* stream, std::string& why);

// The SHA-256 digest of what is left of a stream.
[[nodiscard]] std::string sha256_of(std::FILE* stream);

}  // namespace rampart::audit
