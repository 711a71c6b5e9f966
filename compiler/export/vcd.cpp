#include "compiler/export/vcd.h"

#include <numeric>
#include <string>
#include <utility>

#include "compiler/export/rail_values.h"
#include "lang/text/version.h"

namespace rampart {
namespace {

// The coarsest of 1, 10 or 100 s, ms, us or ns that every instant is a multiple of.
struct Timescale {
  std::int64_t nanoseconds = 1;
  std::string text = "1 ns";
};

class TimesVisitor {
 public:
  // Nothing is finer than 1 ns.
  [[nodiscard]] bool keep_going() const { return divisor_ != 1; }
  [[nodiscard]] bool took() { return std::exchange(took_, false); }
  void begin_segment(const std::string&) {}
  void row(const Row& row) { add(time_.at(row.time)); }
  void row(const LineRow& row) { add(time_.at(row.time)); }
  void end_segment(const SegmentEnded& end) {
    add(time_.at(end.time));
    time_.end_segment(end);
    add(time_.start());
  }
  [[nodiscard]] std::int64_t divisor() const { return divisor_; }

 private:
  void add(Nanoseconds time) {
    const std::int64_t divisor = std::gcd(divisor_, time.count());
    took_ = took_ || divisor != divisor_;
    divisor_ = divisor;
  }
  AbsoluteTime time_;
  std::int64_t divisor_ = 0;
  bool took_ = false;
};

Timescale find_timescale(const Table& run) {
  TimesVisitor times;
  walk_segments(run, nullptr, times);
  constexpr int kLargestPower = 9;
  Timescale scale;
  int power = 0;
  for (; power < kLargestPower && times.divisor() % (scale.nanoseconds * 10) == 0; ++power) scale.nanoseconds *= 10;
  static constexpr const char* kUnits[] = {"ns", "us", "ms", "s"};
  static constexpr const char* kNumbers[] = {"1 ", "10 ", "100 "};
  scale.text = std::string(kNumbers[power % 3]) + kUnits[power / 3];
  return scale;
}

// The shortest codes are printable characters from ! to ~.
std::string code_of(std::size_t number) {
  constexpr std::size_t kCharacters = 94;
  std::string code;
  do {
    code += static_cast<char>('!' + number % kCharacters);
    number /= kCharacters;
  } while (number-- != 0);
  return code;
}

class VcdWriter {
 public:
  VcdWriter(const Table& run, Timescale scale, TextSink& sink)
      : run_(run), scale_(std::move(scale)), values_(run), shown_(run.rails().size()), buffer_(sink) {
    lines_.resize(run.profile().lines.size());
    write_header();
  }

  [[nodiscard]] bool keep_going() { return buffer_.keep_going(); }
  void begin_segment(const std::string&) {}
  void instant(const InstantRows& instant) {
    for (const InstantRows::Cell& cell : instant.channels) {
      if (cell.is_new) values_.set(*cell.row);
    }
    time_shown_ = false;
    for (std::size_t i = 0; i < shown_.size(); ++i) write_rail(i, time_.at(instant.time));
    for (std::size_t i = 0; i < lines_.size(); ++i) {
      if (!instant.lines[i] || instant.lines[i] == lines_[i]) continue;
      lines_[i] = instant.lines[i];
      begin(time_.at(instant.time));
      text() += (*lines_[i] ? "1" : "0") + code_of(kSignals * shown_.size() + i) + "\n";
    }
    end_dump();
  }
  void end_segment(const SegmentEnded& end) {
    end_ = time_.at(end.time);
    time_.end_segment(end);
  }
  // The end of the last segment is a time without changes.
  void finish() {
    if (end_ != last_time_) text() += "#" + std::to_string(end_.count() / scale_.nanoseconds) + "\n";
  }

 private:
  static constexpr std::size_t kSignals = 3;  // of a rail
  struct Shown {
    std::string voltage;
    std::string limit;
    std::string output;
  };
  [[nodiscard]] std::string& text() { return buffer_.text(); }

  void write_header() {
    text() += "$version rampart " + std::string(version()) + " $end\n";
    text() += "$timescale " + scale_.text + " $end\n";
    for (std::size_t i = 0; i < shown_.size(); ++i) {
      text() += "$scope module " + run_.profile().rails[i].name + " $end\n";
      text() += "$var real 64 " + code_of(kSignals * i) + " setpoint_V $end\n";
      text() += "$var real 64 " + code_of(kSignals * i + 1) + " limit_A $end\n";
      text() += "$var wire 1 " + code_of(kSignals * i + 2) + " output $end\n";
      text() += "$upscope $end\n";
    }
    for (std::size_t i = 0; i < lines_.size(); ++i) {
      text() += "$var wire 1 " + code_of(kSignals * shown_.size() + i) + " " + run_.profile().lines[i].name + " $end\n";
    }
    text() += "$enddefinitions $end\n";
  }

  void begin(Nanoseconds time) {
    if (time_shown_) return;
    time_shown_ = true;
    // A wait that takes no time ends a segment and begins the next at one instant.
    if (time != last_time_) text() += "#" + std::to_string(time.count() / scale_.nanoseconds) + "\n";
    last_time_ = time;
    if (first_) text() += "$dumpvars\n";
  }

  // What is known of lines before they are first set: nothing.
  void end_dump() {
    if (!first_ || !time_shown_) return;
    for (std::size_t i = 0; i < lines_.size(); ++i) {
      if (!lines_[i]) text() += "x" + code_of(kSignals * shown_.size() + i) + "\n";
    }
    text() += "$end\n";
    first_ = false;
  }

  void write_rail(std::size_t i, Nanoseconds time) {
    const RailId rail = run_.rails()[i].rail;
    Shown now{"r" + values_.voltage_text(rail) + " ", "r" + values_.limit_text(rail) + " ",
              values_.output(rail) ? "1" : "0"};
    const auto write = [&](std::string Shown::*part, std::size_t signal) {
      if (now.*part == shown_[i].*part) return;
      begin(time);
      text() += now.*part + code_of(kSignals * i + signal) + "\n";
    };
    write(&Shown::voltage, 0);
    write(&Shown::limit, 1);
    write(&Shown::output, 2);
    shown_[i] = std::move(now);
  }

  const Table& run_;
  Timescale scale_;
  RailValues values_;
  std::vector<Shown> shown_;
  std::vector<std::optional<bool>> lines_;
  AbsoluteTime time_;
  Nanoseconds end_{0};
  Nanoseconds last_time_{-1};
  bool time_shown_ = false;
  bool first_ = true;
  TextBuffer buffer_;
};

}  // namespace

void write_vcd(const Table& run, TextSink& sink) {
  VcdWriter writer(run, find_timescale(run), sink);
  InstantGatherer gatherer(run, writer);
  walk_segments(run, nullptr, gatherer);
  writer.finish();
}

}  // namespace rampart
