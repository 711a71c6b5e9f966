#include "compiler/export/spice.h"

#include <algorithm>
#include <cctype>
#include <optional>
#include <set>
#include <string>
#include <utility>

#include "compiler/export/decimal.h"
#include "compiler/export/rail_values.h"
#include "lang/text/version.h"

namespace rampart {
namespace {

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

// Circuit simulators do not tell upper from lower case, and take `gnd` for ground. A rail takes its name with each of
// these endings.
constexpr const char* kNodeEndings[] = {"", "_set", "_on", "_lim"};

std::vector<std::string> node_names(const Profile& profile) {
  std::set<std::string> taken{"gnd"};
  std::vector<std::string> names;
  for (const Rail& rail : profile.rails) {
    const auto is_taken = [&](const std::string& name) {
      return std::any_of(std::begin(kNodeEndings), std::end(kNodeEndings),
                         [&](const char* ending) { return taken.count(lower(name) + ending) != 0; });
    };
    std::string name = rail.name;
    for (int i = 2; is_taken(name); ++i) name = rail.name + "_" + std::to_string(i);
    for (const char* ending : kNodeEndings) taken.insert(lower(name) + ending);
    names.push_back(std::move(name));
  }
  return names;
}

enum class SourceSignal : std::uint8_t { Voltage, Limit, Output };

// Writes the points of one source.
class SourceWriter {
 public:
  SourceWriter(const Table& run, RailId rail, SourceSignal quantity, TextBuffer& buffer)
      : values_(run), rail_(rail), quantity_(quantity), buffer_(buffer) {}

  [[nodiscard]] bool keep_going() { return buffer_.keep_going(); }
  [[nodiscard]] bool took() { return std::exchange(took_, false); }
  void begin_segment(const std::string&) {}
  void instant(const InstantRows& instant) {
    for (const InstantRows::Cell& cell : instant.channels) {
      if (!cell.is_new) continue;
      values_.set(*cell.row);
      is_new_ = is_new_ || values_.rail_of(cell.row->channel) == rail_;
    }
    if (is_new_) add(time_.at(instant.time), value());
    is_new_ = false;
  }
  void end_segment(const SegmentEnded& end) {
    time_.end_segment(end);
    has_waited_ = true;
  }
  // After the last row.
  void finish() { jump(std::nullopt); }

 private:
  // From one value to the other at `time`.
  struct Jump {
    Nanoseconds time{0};
    std::string from;
    std::string to;
  };

  [[nodiscard]] std::string value() const {
    switch (quantity_) {
      case SourceSignal::Voltage:
        return values_.voltage_text(rail_);
      case SourceSignal::Limit:
        return values_.limit_text(rail_);
      case SourceSignal::Output:
        break;
    }
    return values_.output(rail_) ? "1" : "0";
  }
  [[nodiscard]] bool runs_straight() const { return quantity_ != SourceSignal::Output && values_.is_linear(rail_); }

  // The source stays at its last value until `time`, but for a supply that runs straight from row to row. That one
  // stays too while a wait lasts.
  void add(Nanoseconds time, const std::string& value) {
    const bool runs = runs_straight() && !has_waited_;
    has_waited_ = false;
    took_ = took_ || runs_straight() || value != last_;
    if (jump_ && jump_->time == time) {
      jump_->to = value;
    } else if (last_.empty() || runs || (runs_straight() && value == last_)) {
      jump(time);
      if (time > last_time_) point(time, value);
    } else if (value != last_) {
      jump(time);
      jump_ = Jump{time, last_, value};
    }
    last_ = value;
  }
  // Writes the jump that is waiting, now that the time of the next change is known; none: there is none.
  void jump(const std::optional<Nanoseconds>& next) {
    if (!jump_) return;
    const Jump one = *std::exchange(jump_, std::nullopt);
    if (one.time > last_time_) point(one.time, one.from);
    std::int64_t edge = kSpiceEdge.count() * kPicoseconds;
    // The picoseconds to a far change would not fit.
    if (next) edge = std::min(edge, std::min(*next - one.time, 2 * kSpiceEdge).count() * kPicoseconds / 2);
    write(one.time, edge, one.to);
  }
  void point(Nanoseconds time, const std::string& value) {
    write(time, 0, value);
    last_time_ = time;
  }
  // `picoseconds`: after `time`, a second or less.
  void write(Nanoseconds time, std::int64_t picoseconds, const std::string& value) {
    const Nanoseconds whole = time + Nanoseconds{picoseconds / kPicoseconds};
    const std::int64_t part = picoseconds % kPicoseconds;
    std::string& text = buffer_.text();
    text += "+ ";
    if (part == 0) {
      append_short_decimal(whole.count(), kTimeDecimals, text);
    } else {
      append_decimal(whole.count(), kTimeDecimals, text);
      append_part(part, text);
    }
    text += " " + value + "\n";
  }
  // Thousandths of a nanosecond, behind its decimals.
  static void append_part(std::int64_t part, std::string& text) {
    std::string digits = std::to_string(kPicoseconds + part).substr(1);
    digits.erase(digits.find_last_not_of('0') + 1);
    text += digits;
  }

  static constexpr std::int64_t kPicoseconds = 1000;  // in a nanosecond

  RailValues values_;
  RailId rail_;
  SourceSignal quantity_;
  TextBuffer& buffer_;
  AbsoluteTime time_;
  Nanoseconds last_time_{-1};
  std::string last_;
  std::optional<Jump> jump_;
  bool has_waited_ = false;
  bool is_new_ = false;
  bool took_ = false;
};

void write_source(const Table& run, RailId rail, SourceSignal quantity, const std::string& node,
                  const std::string& name, TextBuffer& buffer) {
  buffer.text() += "V_" + name + " " + node + " 0 PWL(\n";
  SourceWriter writer(run, rail, quantity, buffer);
  InstantGatherer gatherer(run, writer);
  walk_segments(run, nullptr, gatherer);
  writer.finish();
  buffer.text() += "+ )\n";
}

std::string channel_list(const Table& run, const RailSetup& setup) {
  std::string text;
  for (const ChannelId channel : setup.members) text += (text.empty() ? "" : " and ") + run.bench()[channel].name;
  return text;
}

}  // namespace

void write_spice(const Table& run, TextSink& sink) {
  const std::vector<std::string> names = node_names(run.profile());
  TextBuffer buffer(sink);
  buffer.text() += "* setpoints written by rampart " + std::string(version()) + "\n";
  buffer.text() += "* nodes are named after rails; 0 is their common return; an output that is off is open\n";
  buffer.text() +=
      "* ideal sources: the current limits are in V_..._lim, 1 V for 1 A, and bind nothing by themselves\n";
  buffer.text() += ".model rampart_output sw(vt=0.5 ron=1m roff=1g)\n";
  for (std::size_t i = 0; i < names.size(); ++i) {
    const RailSetup& setup = run.rails()[i];
    const std::string& name = names[i];
    buffer.text() += "* rail " + run.profile().rails[i].name + " on " + channel_list(run, setup) + "\n";
    write_source(run, setup.rail, SourceSignal::Voltage, name + "_set", name + "_set", buffer);
    write_source(run, setup.rail, SourceSignal::Output, name + "_on", name + "_on", buffer);
    write_source(run, setup.rail, SourceSignal::Limit, name + "_lim", name + "_lim", buffer);
    buffer.text().append("S_").append(name).append(" ").append(name).append("_set ").append(name);
    buffer.text().append(" ").append(name).append("_on 0 rampart_output\n");
  }
}

}  // namespace rampart
