#include "compiler/export/json_table.h"

#include <string>

#include "compiler/export/segments.h"
#include "compiler/export/setup_json.h"
#include "compiler/export/sha256.h"
#include "compiler/setup.h"
#include "lang/overloaded.h"

namespace rampart {
namespace {

constexpr int kTimeDecimals = 9;

// Takes the digest of what goes on to another sink.
class DigestSink : public TextSink {
 public:
  explicit DigestSink(TextSink& sink) : sink_(sink) {}
  void write(std::string_view text) override {
    digest_.add(text);
    sink_.write(text);
  }
  [[nodiscard]] bool failed() const override { return sink_.failed(); }
  [[nodiscard]] std::string sha256() { return digest_.finish(); }

 private:
  TextSink& sink_;
  Sha256 digest_;
};

// What both forms of rows have in common.
class JsonWriter {
 public:
  JsonWriter(const Table& table, const Origin& origin, std::string_view form, TextSink& sink)
      : table_(table), channels_(channel_scales(table.bench())), digest_(sink), buffer_(digest_) {
    for (const ChannelScale& channel : channels_) channel_texts_.push_back(json_text(channel.name));
    for (const std::string& line : line_names(table)) line_texts_.push_back(json_text(line));
    text() += "{\n" + setup_members(table, origin) + ",\n  \"rows\": \"";
    text() += form;
    text() += "\",\n  \"segments\": [";
  }

  [[nodiscard]] bool keep_going() { return buffer_.keep_going(); }

  void begin_segment(const std::string& name) {
    text() += first_segment_ ? "\n    {\"segment\": " : ",\n    {\"segment\": ";
    text() += json_text(name) + ", \"rows\": [";
    first_segment_ = false;
    first_row_ = true;
  }

  void end_segment(const SegmentEnded& end) {
    text() += "\n    ], \"duration_s\": ";
    append_short_decimal(end.time.count(), kTimeDecimals, text());
    text() += ", \"then\": " + wait_text(end.await) + "}";
  }

  // The digest covers every line above its own.
  void finish() {
    text() += "\n  ],\n";
    buffer_.flush();
    text() += "  \"above_sha256\": \"" + digest_.sha256() + "\"\n}\n";
  }

 protected:
  [[nodiscard]] std::string& text() { return buffer_.text(); }
  [[nodiscard]] const Bench& bench() const { return table_.bench(); }

  void begin_row(Nanoseconds time) {
    text() += first_row_ ? "\n      {\"time_s\": " : ",\n      {\"time_s\": ";
    append_short_decimal(time.count(), kTimeDecimals, text());
    first_row_ = false;
  }

  void add_setpoints(const Row& row) {
    const ChannelScale& channel = channels_[static_cast<std::size_t>(row.channel)];
    add_setpoint("\"voltage_V\": ", row.known.voltage, row.voltage, channel.voltage);
    add_setpoint(", \"current_A\": ", row.known.limit, row.current, channel.current);
    text() += !row.known.output ? ", \"output\": null" : row.output ? ", \"output\": true" : ", \"output\": false";
  }

  std::vector<std::string> channel_texts_;
  std::vector<std::string> line_texts_;

 private:
  void add_setpoint(std::string_view key, bool known, std::int64_t counts, const DecimalScale& scale) {
    text() += key;
    if (known) {
      append_short_decimal(counts * scale.factor, scale.decimals, text());
    } else {
      text() += "null";
    }
  }

  [[nodiscard]] std::string wait_text(const Await* await) const {
    if (await == nullptr) return "null";
    std::string text = "{\"await\": ";
    text += std::visit(
        Overloaded{[this](const AwaitLine& what) {
                     return "\"line\", \"line\": " + line_texts_[static_cast<std::size_t>(what.line)] +
                            (what.high ? ", \"high\": true" : ", \"high\": false");
                   },
                   [this](const AwaitCondition& what) {
                     const Profile& profile = table_.profile();
                     return "\"condition\", \"condition\": " +
                            json_text(condition_text(profile, profile.conditions[what.condition]));
                   },
                   [](const AwaitOperator& what) { return "\"operator\", \"prompt\": " + json_text(what.prompt); }},
        await->what);
    text += ", \"within_s\": ";
    append_short_decimal(await->within.count(), kTimeDecimals, text);
    text += ", \"assume_s\": ";
    if (await->assume) {
      append_short_decimal(await->assume->count(), kTimeDecimals, text);
    } else {
      text += "null";
    }
    return text + "}";
  }

  const Table& table_;
  std::vector<ChannelScale> channels_;
  bool first_segment_ = true;
  bool first_row_ = true;
  DigestSink digest_;
  TextBuffer buffer_;
};

class ChangesWriter : public JsonWriter {
 public:
  using JsonWriter::JsonWriter;

  void row(const Row& row) {
    begin_row(row.time);
    text() += ", \"channel\": " + channel_texts_[static_cast<std::size_t>(row.channel)] + ", ";
    add_setpoints(row);
    text() += '}';
  }

  void row(const LineRow& row) {
    begin_row(row.time);
    text() += ", \"channel\": " + line_texts_[static_cast<std::size_t>(row.line)];
    text() += ", \"voltage_V\": null, \"current_A\": null, \"output\": ";
    text() += row.high ? "true}" : "false}";
  }
};

class InstantsWriter : public JsonWriter {
 public:
  InstantsWriter(const Table& table, const Origin& origin, std::string_view form, TextSink& sink)
      : JsonWriter(table, origin, form, sink), driven_(driven_channels(table)) {}

  void instant(const InstantRows& instant) {
    begin_row(instant.time);
    text() += ", \"channels\": {";
    bool first = true;
    for (const ChannelId channel : driven_) {
      const Row* row = instant.shown(bench(), channel);
      if (row == nullptr) continue;
      text() += (first ? "" : ", ") + channel_texts_[static_cast<std::size_t>(channel)] + ": {";
      add_setpoints(*row);
      text() += '}';
      first = false;
    }
    text() += "}, \"lines\": {";
    first = true;
    for (std::size_t i = 0; i < instant.lines.size(); ++i) {
      if (!instant.lines[i]) continue;
      text() += (first ? "" : ", ") + line_texts_[i] + (*instant.lines[i] ? ": true" : ": false");
      first = false;
    }
    text() += "}}";
  }

 private:
  std::vector<ChannelId> driven_;
};

}  // namespace

void write_json(const Table& run, const Table* safe, const Origin& origin, RowForm form, TextSink& sink) {
  if (form == RowForm::Changes) {
    ChangesWriter writer(run, origin, "changes", sink);
    walk_segments(run, safe, writer);
    writer.finish();
  } else {
    InstantsWriter writer(run, origin, "instants", sink);
    InstantGatherer gatherer(run, writer);
    walk_segments(run, safe, gatherer);
    writer.finish();
  }
}

}  // namespace rampart
