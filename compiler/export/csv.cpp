#include "compiler/export/csv.h"

#include <string>
#include <vector>

#include "compiler/export/quoted.h"
#include "compiler/export/segments.h"

namespace rampart {
namespace {

constexpr int kTimeDecimals = 9;

// Quotes around what holds a comma, a quote or a line end.
std::string csv_field(const std::string& text) {
  return text.find_first_of(",\"\r\n") == std::string::npos ? text : quoted_field(text);
}

// What both forms of rows have in common.
class CsvWriter {
 public:
  CsvWriter(const Table& table, bool segments, TextSink& sink)
      : channels_(channel_scales(table.bench())), lines_(line_names(table)), segments_(segments), buffer_(sink) {}

  [[nodiscard]] bool keep_going() { return buffer_.keep_going(); }
  void begin_segment(const std::string& name) { segment_ = name; }
  void end_segment(const SegmentEnded&) {}

 protected:
  [[nodiscard]] std::string& text() { return buffer_.text(); }
  void begin_header() { text() += segments_ ? "segment,time_s" : "time_s"; }
  void begin_row(Nanoseconds time) {
    if (segments_) text() += segment_ + ",";
    append_decimal(time.count(), kTimeDecimals, text());
  }
  void add_setpoints(const Row& row) {
    const ChannelScale& channel = channels_[static_cast<std::size_t>(row.channel)];
    if (row.known.voltage) append_decimal(row.voltage * channel.voltage.factor, channel.voltage.decimals, text());
    text() += ',';
    if (row.known.limit) append_decimal(row.current * channel.current.factor, channel.current.decimals, text());
    text() += !row.known.output ? "," : row.output ? ",1" : ",0";
  }

  std::vector<ChannelScale> channels_;
  std::vector<std::string> lines_;

 private:
  bool segments_;
  std::string segment_;
  TextBuffer buffer_;
};

class ChangesWriter : public CsvWriter {
 public:
  ChangesWriter(const Table& table, bool segments, TextSink& sink) : CsvWriter(table, segments, sink) {
    for (ChannelScale& channel : channels_) channel.name = csv_field(channel.name);
    for (std::string& line : lines_) line = csv_field(line);
    begin_header();
    text() += ",channel,voltage_V,current_A,output\n";
  }

  void row(const Row& row) {
    begin_row(row.time);
    text() += ',' + channels_[static_cast<std::size_t>(row.channel)].name + ',';
    add_setpoints(row);
    text() += '\n';
  }

  void row(const LineRow& row) {
    begin_row(row.time);
    text() += ',' + lines_[static_cast<std::size_t>(row.line)] + (row.high ? ",,,1\n" : ",,,0\n");
  }
};

class InstantsWriter : public CsvWriter {
 public:
  InstantsWriter(const Table& table, bool segments, TextSink& sink)
      : CsvWriter(table, segments, sink), bench_(table.bench()), driven_(driven_channels(table)) {
    begin_header();
    for (const ChannelId channel : driven_) {
      const std::string& name = bench_[channel].name;
      for (const char* column : {"_voltage_V", "_current_A", "_output"}) text() += ',' + csv_field(name + column);
    }
    for (const std::string& line : lines_) text() += ',' + csv_field(line + "_output");
    text() += '\n';
  }

  void instant(const InstantRows& instant) {
    begin_row(instant.time);
    for (const ChannelId channel : driven_) {
      text() += ',';
      if (const Row* row = instant.shown(bench_, channel)) {
        add_setpoints(*row);
      } else {
        text() += ",,";
      }
    }
    for (const std::optional<bool>& line : instant.lines) text() += !line ? "," : *line ? ",1" : ",0";
    text() += '\n';
  }

 private:
  const Bench& bench_;
  std::vector<ChannelId> driven_;
};

}  // namespace

void write_csv(const Table& run, const Table* safe, RowForm form, TextSink& sink) {
  const bool segments = run.timeline().has_segments() || safe != nullptr;
  if (form == RowForm::Changes) {
    ChangesWriter writer(run, segments, sink);
    walk_segments(run, safe, writer);
  } else {
    InstantsWriter writer(run, segments, sink);
    InstantGatherer gatherer(run, writer);
    walk_segments(run, safe, gatherer);
  }
}

}  // namespace rampart
