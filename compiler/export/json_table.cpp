#include "compiler/export/json_table.h"

#include <optional>
#include <string>
#include <utility>

#include "compiler/export/condition_json.h"
#include "compiler/export/decimal.h"
#include "compiler/export/row_text.h"
#include "compiler/export/segments.h"
#include "compiler/export/setup_json.h"
#include "compiler/table/mark_cursor.h"
#include "compiler/table/setup.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// The member that says which statement of the profile something comes from; kept, since it often stays the same.
class PlaceMember {
 public:
  explicit PlaceMember(const SourceSet& texts) : texts_(&texts) {}
  // Valid until the next call.
  [[nodiscard]] std::string_view of(const Span& statement) {
    if (text_.empty() || statement != statement_) set(statement);
    return text_;
  }

 private:
  void set(const Span& statement) {
    statement_ = statement;
    text_ = ", \"place\": null";
    if (statement.file == FileId{}) return;
    const SourceFile& file = (*texts_)[statement.file];
    const Position place = file.position(statement.begin);
    text_ = ", \"place\": {\"file\": " + json_text(file.name()) + ", \"line\": " + std::to_string(place.line) +
            ", \"column\": " + std::to_string(place.column) + "}";
  }

  const SourceSet* texts_;
  Span statement_;
  std::string text_;
};

// What stays the same about the rows of a channel.
struct ChannelMembers {
  std::string name;
  NumberField voltage;
  NumberField current;
  PlaceMember place;
};

// What both forms of rows have in common.
class JsonWriter {
 public:
  JsonWriter(const Table& table, const Table* safe, const Origin& origin, const SourceSet& texts, std::string_view form,
             DigestSink& sink)
      : table_(&table), safe_(safe), place_(texts), marks_(table), measurements_(table), sink_(sink), buffer_(sink) {
    for (const ChannelScale& channel : channel_scales(table.bench())) {
      channels_.push_back({json_text(channel.name),
                           {channel.voltage, NumberField::Zeros::LeftOut},
                           {channel.current, NumberField::Zeros::LeftOut},
                           PlaceMember(texts)});
    }
    for (const std::string& line : line_names(table)) line_texts_.push_back(json_text(line));
    add("{\n" + setup_members(table, origin) + ",\n  \"rows\": \"");
    add(form);
    add("\",\n  \"segments\": [");
  }

  [[nodiscard]] bool keep_going() const { return buffer_.keep_going(); }

  void begin_segment(const std::string& name) {
    if (name == kSafeSegment) marks_ = MarkCursor(*safe_);
    if (name == kSafeSegment) measurements_ = MarkCursor(*safe_);
    add(first_segment_ ? "\n    {\"segment\": " : ",\n    {\"segment\": ");
    add(json_text(name) + ", \"marks\": [");
    add_instants<MarkReached>(marks_);
    add("], \"measurements\": [");
    add_instants<MeasurementDue>(measurements_);
    add("], \"rows\": [");
    first_segment_ = false;
    first_row_ = true;
  }

  void end_segment(const SegmentEnded& end) {
    std::string text = "\n    ], \"duration_s\": ";
    append_short_decimal(end.time.count(), kTimeDecimals, text);
    add(text + ", \"then\": " + wait_text(end) + "}");
  }

  // The digest covers every line above its own.
  void finish() {
    add("\n  ],\n");
    buffer_.flush();
    add("  \"above_sha256\": \"" + sink_.sha256() + "\"\n}\n");
  }

 protected:
  [[nodiscard]] const Bench& bench() const { return table_->bench(); }
  void add(std::string_view text) { buffer_.add(text); }

  // Room for the time, `names` characters of names and places, and the setpoints of so many channels.
  [[nodiscard]] char* begin_row(Nanoseconds time, std::size_t names, std::size_t channels) {
    constexpr std::size_t kWordsOfRow = 64;
    constexpr std::size_t kWordsOfChannel = 64;
    const std::size_t bytes = names + kWordsOfRow + channels * kWordsOfChannel + (1 + 2 * channels) * kLongestDecimal;
    char* const at = put(first_row_ ? "\n      {\"time_s\": " : ",\n      {\"time_s\": ", buffer_.room(bytes));
    first_row_ = false;
    return time_.write(time, at);
  }
  [[nodiscard]] static char* put(std::string_view text, char* at) { return at + text.copy(at, text.size()); }
  // The place of a row's statement, which the channel keeps until its next row.
  [[nodiscard]] std::string_view place_of(const Row& row) {
    return channels_[static_cast<std::size_t>(row.channel)].place.of(row.statement);
  }
  [[nodiscard]] std::string_view place_of(const LineRow& row) { return place_.of(row.statement); }
  [[nodiscard]] char* put_setpoints(const Row& row, char* at) {
    ChannelMembers& channel = channels_[static_cast<std::size_t>(row.channel)];
    at = put("\"voltage_V\": ", at);
    at = row.known.voltage ? channel.voltage.write(row.voltage, at) : put("null", at);
    at = put(", \"current_A\": ", at);
    at = row.known.limit ? channel.current.write(row.current, at) : put("null", at);
    at = put(!row.known.output ? ", \"output\": null" : row.output ? ", \"output\": true" : ", \"output\": false", at);
    return put(channel.place.of(row.statement), at);
  }
  void end_row(std::string_view brackets, char* at) { buffer_.take(put(brackets, at)); }

  std::vector<ChannelMembers> channels_;
  std::vector<std::string> line_texts_;

 private:
  // Marks or measurements of the segment that begins; the next call goes on with the one after it.
  template <class Kind>
  void add_instants(MarkCursor& cursor) {
    bool first = true;
    while (const std::optional<MarkCursor::Item> item = cursor.next()) {
      const auto* instant = std::get_if<Kind>(&*item);
      if (instant == nullptr) continue;
      std::string text = first ? "\n      {\"time_s\": " : ",\n      {\"time_s\": ";
      append_short_decimal(instant->time.count(), kTimeDecimals, text);
      append_name(*instant, text);
      text += ", \"passes\": [";
      bool first_pass = true;
      for (const std::int64_t pass : cursor.passes()) {
        text += (std::exchange(first_pass, false) ? "" : ", ") + std::to_string(pass);
      }
      text += "]";
      add(text.append(place_.of(instant->statement)) + "}");
      first = false;
    }
    if (!first) add("\n    ");
  }

  static void append_name(const MarkReached& mark, std::string& text) {
    text += ", \"name\": " + json_text(std::string(mark.name));
  }
  static void append_name(const MeasurementDue& due, std::string& text) {
    text += ", \"name\": " + json_text(due.measurement->name) + ", \"over_s\": ";
    append_short_decimal(due.measurement->over.count(), kTimeDecimals, text);
  }

  [[nodiscard]] std::string wait_text(const SegmentEnded& end) {
    const Await* await = end.await;
    if (await == nullptr) return "null";
    std::string text = "{\"await\": ";
    text += std::visit(
        Overloaded{[this](const AwaitLine& what) {
                     return "\"line\", \"line\": " + line_texts_[static_cast<std::size_t>(what.line)] +
                            (what.high ? ", \"high\": true" : ", \"high\": false");
                   },
                   [this](const AwaitCondition& what) {
                     const Profile& profile = table_->profile();
                     const Condition& condition = profile.conditions[what.condition];
                     return "\"condition\", \"condition\": " + json_text(condition_text(profile, condition)) +
                            ", \"steps\": " + condition_steps(profile, condition);
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
    return text.append(place_.of(end.statement)) + "}";
  }

  const Table* table_;
  const Table* safe_;
  PlaceMember place_;
  MarkCursor marks_;
  MarkCursor measurements_;
  bool first_segment_ = true;
  bool first_row_ = true;
  TimeField time_{NumberField::Zeros::LeftOut};
  DigestSink& sink_;
  PieceBuffer buffer_;
};

class JsonChanges : public JsonWriter {
 public:
  JsonChanges(const Table& run, const Table* safe, const Origin& origin, const SourceSet& texts, DigestSink& sink)
      : JsonWriter(run, safe, origin, texts, "changes", sink) {
    for (ChannelMembers& channel : channels_) channel.name = ", \"channel\": " + channel.name + ", ";
    for (const std::string& line : line_texts_) {
      line_members_.push_back(", \"channel\": " + line + ", \"voltage_V\": null, \"current_A\": null, \"output\": ");
    }
  }

  void row(const Row& row) {
    const std::string& name = channels_[static_cast<std::size_t>(row.channel)].name;
    const std::size_t names = name.size() + place_of(row).size();
    end_row("}", put_setpoints(row, put(name, begin_row(row.time, names, 1))));
  }

  void row(const LineRow& row) {
    const std::string& members = line_members_[static_cast<std::size_t>(row.line)];
    const std::string_view place = place_of(row);
    char* const at = put(members, begin_row(row.time, members.size() + place.size(), 0));
    end_row("}", put(place, put(row.high ? "true" : "false", at)));
  }

 private:
  std::vector<std::string> line_members_;
};

class JsonInstants : public JsonWriter {
 public:
  JsonInstants(const Table& run, const Table* safe, const Origin& origin, const SourceSet& texts, DigestSink& sink)
      : JsonWriter(run, safe, origin, texts, "instants", sink), driven_(driven_channels(run)) {
    constexpr std::size_t kAround = 16;
    for (const ChannelId channel : driven_)
      names_ += channels_[static_cast<std::size_t>(channel)].name.size() + kAround;
    for (const std::string& line : line_texts_) names_ += line.size() + kAround;
  }

  void instant(const InstantRows& instant) {
    std::size_t names = names_;
    for (const ChannelId channel : driven_) {
      if (const Row* row = instant.shown(bench(), channel)) names += place_of(*row).size();
    }
    char* at = put(", \"channels\": {", begin_row(instant.time, names, driven_.size()));
    bool first = true;
    for (const ChannelId channel : driven_) {
      const Row* row = instant.shown(bench(), channel);
      if (row == nullptr) continue;
      at = put(first ? "" : ", ", at);
      at = put(": {", put(channels_[static_cast<std::size_t>(channel)].name, at));
      at = put("}", put_setpoints(*row, at));
      first = false;
    }
    at = put("}, \"lines\": {", at);
    first = true;
    for (std::size_t i = 0; i < instant.lines.size(); ++i) {
      if (!instant.lines[i]) continue;
      at = put(line_texts_[i], put(first ? "" : ", ", at));
      at = put(*instant.lines[i] ? ": true" : ": false", at);
      first = false;
    }
    end_row("}}", at);
  }

 private:
  std::vector<ChannelId> driven_;
  std::size_t names_ = 0;  // room for all names and what stands around them
};

}  // namespace

void write_json(const Table& run, const Table* safe, const Origin& origin, const SourceSet& texts, RowForm form,
                DigestSink& sink) {
  if (form == RowForm::Changes) {
    JsonChanges writer(run, safe, origin, texts, sink);
    walk_segments(run, safe, writer);
    writer.finish();
  } else {
    JsonInstants writer(run, safe, origin, texts, sink);
    InstantGatherer gatherer(run, writer);
    walk_segments(run, safe, gatherer);
    writer.finish();
  }
}

}  // namespace rampart
