#include "compiler/export/csv.h"

#include <algorithm>
#include <string>
#include <vector>

#include "compiler/export/decimal.h"
#include "lang/overloaded.h"

namespace rampart {
namespace {

constexpr std::size_t kChunkBytes = std::size_t{1} << 16;
constexpr int kTimeDecimals = 9;

// RFC 4180 rules 5 to 7: quotes around what holds a comma, a quote or a line end, and inner quotes doubled.
std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

struct ChannelColumns {
  std::string name;
  DecimalScale voltage;
  DecimalScale current;
};

class CsvWriter {
 public:
  CsvWriter(const Table& table, bool segments, TextSink& sink) : sink_(sink), segments_(segments) {
    for (const Channel& channel : table.bench().channels) {
      channels_.push_back({csv_field(channel.name), decimal_scale(channel.limits.voltage_resolution.si),
                           decimal_scale(channel.limits.current_resolution.si)});
    }
    for (const Line& line : table.profile().lines) {
      lines_.push_back(csv_field(table.bench()[line.supply].name + "." + line.terminal));
    }
    text_.reserve(2 * kChunkBytes);
  }

  void write_header() {
    text_ += segments_ ? "segment,time_s,channel,voltage_V,current_A,output\n"
                       : "time_s,channel,voltage_V,current_A,output\n";
  }

  // `name`: of every segment of the table; empty: they are counted.
  void write_rows(const Table& table, const std::string& name) {
    RowCursor cursor = table.rows();
    std::int64_t number = 1;
    segment_ = name.empty() ? "1" : name;
    while (const std::optional<TableItem> item = cursor.next()) {
      std::visit(Overloaded{[this](const Row& row) { write(row); }, [this](const LineRow& row) { write(row); },
                            [&](const SegmentEnded&) { segment_ = name.empty() ? std::to_string(++number) : name; },
                            [](const auto&) {}},
                 *item);
      if (text_.size() >= kChunkBytes) flush();
      if (sink_.failed()) return;
    }
  }

  void flush() {
    sink_.write(text_);
    text_.clear();
  }

 private:
  void begin(Nanoseconds time, const std::string& channel) {
    if (segments_) text_ += segment_ + ",";
    append_decimal(time.count(), kTimeDecimals, text_);
    text_ += ',';
    text_ += channel;
    text_ += ',';
  }

  void write(const Row& row) {
    const ChannelColumns& channel = channels_[static_cast<std::size_t>(row.channel)];
    begin(row.time, channel.name);
    if (row.known.voltage) append_decimal(row.voltage * channel.voltage.factor, channel.voltage.decimals, text_);
    text_ += ',';
    if (row.known.limit) append_decimal(row.current * channel.current.factor, channel.current.decimals, text_);
    text_ += !row.known.output ? ",\n" : row.output ? ",1\n" : ",0\n";
  }

  void write(const LineRow& row) {
    begin(row.time, lines_[static_cast<std::size_t>(row.line)]);
    text_ += row.high ? ",,1\n" : ",,0\n";
  }

  TextSink& sink_;
  bool segments_;
  std::string segment_;
  std::vector<ChannelColumns> channels_;
  std::vector<std::string> lines_;
  std::string text_;
};

}  // namespace

void write_csv(const Table& run, const Table* safe, TextSink& sink) {
  CsvWriter writer(run, run.timeline().has_segments() || safe != nullptr, sink);
  writer.write_header();
  writer.write_rows(run, "");
  if (safe != nullptr) writer.write_rows(*safe, "safe");
  writer.flush();
}

}  // namespace rampart
