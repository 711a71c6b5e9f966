#include "compiler/export/csv.h"

#include <string>
#include <vector>

#include "compiler/export/quoted.h"
#include "compiler/export/row_text.h"
#include "compiler/export/segments.h"

namespace rampart {
namespace {

// Quotes around what holds a comma, a quote or a line end.
std::string csv_field(const std::string& text) {
  return text.find_first_of(",\"\r\n") == std::string::npos ? text : quoted_field(text);
}

// What stays the same about the rows of a channel.
struct ChannelColumns {
  std::string name;
  NumberField voltage;
  NumberField current;
};

// What both forms of rows have in common.
class CsvWriter {
 public:
  CsvWriter(const Table& table, bool segments, TextSink& sink)
      : lines_(line_names(table)), segments_(segments), buffer_(sink) {
    for (const ChannelScale& channel : channel_scales(table.bench())) {
      channels_.push_back(
          {channel.name, {channel.voltage, NumberField::Zeros::Kept}, {channel.current, NumberField::Zeros::Kept}});
    }
  }

  [[nodiscard]] bool keep_going() const { return buffer_.keep_going(); }
  void begin_segment(const std::string& name) {
    if (segments_) segment_ = name + ",";
  }
  void end_segment(const SegmentEnded&) {}

 protected:
  void add(std::string_view text) { buffer_.add(text); }
  void begin_header() { add(segments_ ? "segment,time_s" : "time_s"); }

  // Room for the time, `names` characters of names, and the setpoints of so many channels.
  [[nodiscard]] char* begin_row(Nanoseconds time, std::size_t names, std::size_t channels) {
    const std::size_t bytes = segment_.size() + names + (1 + 2 * channels) * kLongestDecimal + 8 * (1 + channels);
    return time_.write(time, put(segment_, buffer_.room(bytes)));
  }
  [[nodiscard]] static char* put(std::string_view text, char* at) { return at + text.copy(at, text.size()); }
  [[nodiscard]] char* put_setpoints(const Row& row, char* at) {
    ChannelColumns& channel = channels_[static_cast<std::size_t>(row.channel)];
    if (row.known.voltage) at = channel.voltage.write(row.voltage, at);
    *at++ = ',';
    if (row.known.limit) at = channel.current.write(row.current, at);
    *at++ = ',';
    if (row.known.output) *at++ = row.output ? '1' : '0';
    return at;
  }
  void end_row(char* at) {
    *at++ = '\n';
    buffer_.take(at);
  }

  std::vector<ChannelColumns> channels_;
  std::vector<std::string> lines_;

 private:
  bool segments_;
  std::string segment_;
  TimeField time_{NumberField::Zeros::Kept};
  PieceBuffer buffer_;
};

class CsvChanges : public CsvWriter {
 public:
  CsvChanges(const Table& table, bool segments, TextSink& sink) : CsvWriter(table, segments, sink) {
    for (ChannelColumns& channel : channels_) channel.name = "," + csv_field(channel.name) + ",";
    for (std::string& line : lines_) line = "," + csv_field(line) + ",,,";
    begin_header();
    add(",channel,voltage_V,current_A,output\n");
  }

  void row(const Row& row) {
    const std::string& name = channels_[static_cast<std::size_t>(row.channel)].name;
    end_row(put_setpoints(row, put(name, begin_row(row.time, name.size(), 1))));
  }

  void row(const LineRow& row) {
    const std::string& name = lines_[static_cast<std::size_t>(row.line)];
    end_row(put(row.high ? "1" : "0", put(name, begin_row(row.time, name.size(), 0))));
  }
};

class CsvInstants : public CsvWriter {
 public:
  CsvInstants(const Table& table, bool segments, TextSink& sink)
      : CsvWriter(table, segments, sink), bench_(table.bench()), driven_(driven_channels(table)) {
    begin_header();
    for (const ChannelId channel : driven_) {
      const std::string& name = bench_[channel].name;
      for (const char* column : {"_voltage_V", "_current_A", "_output"}) add("," + csv_field(name + column));
    }
    for (const std::string& line : lines_) add("," + csv_field(line + "_output"));
    add("\n");
  }

  void instant(const InstantRows& instant) {
    char* at = begin_row(instant.time, 2 * lines_.size(), driven_.size());
    for (const ChannelId channel : driven_) {
      *at++ = ',';
      const Row* row = instant.shown(bench_, channel);
      at = row != nullptr ? put_setpoints(*row, at) : put(",,", at);
    }
    for (const std::optional<bool>& line : instant.lines) at = put(!line ? "," : *line ? ",1" : ",0", at);
    end_row(at);
  }

 private:
  const Bench& bench_;
  std::vector<ChannelId> driven_;
};

}  // namespace

void write_csv(const Table& run, const Table* safe, RowForm form, TextSink& sink) {
  const bool segments = run.timeline().has_segments() || safe != nullptr;
  if (form == RowForm::Changes) {
    CsvChanges writer(run, segments, sink);
    walk_segments(run, safe, writer);
  } else {
    CsvInstants writer(run, segments, sink);
    InstantGatherer gatherer(run, writer);
    walk_segments(run, safe, gatherer);
  }
}

}  // namespace rampart
