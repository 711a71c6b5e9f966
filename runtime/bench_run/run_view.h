#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/output_state.h"
#include "runtime/bench_run/plan.h"

// What a run shows and records. Nothing here waits for a terminal or a disk.
namespace rampart::bench_run {

enum class LogKind : std::uint8_t { Reading, Command, Event };

// One line of the log; see docs/run.md. Times from the start of the first segment.
struct LogRow {
  Nanoseconds time{0};
  LogKind kind = LogKind::Event;
  std::string segment;
  std::string channel;
  std::optional<double> measured_V;
  std::optional<double> measured_A;
  std::optional<Rational> set_V;
  std::optional<Rational> set_A;
  std::optional<bool> output;
  std::string mode;  // "CV" or "CC"; empty: not known
  std::string quality;
  std::optional<Nanoseconds> planned;
  std::optional<Nanoseconds> sent;
  std::optional<Nanoseconds> acked;
  std::string text;
};

// One rail as a person at the bench wants to see it.
struct RailStatus {
  std::string rail;
  bool is_on = false;
  std::optional<double> set_V;
  std::optional<double> measured_V;
  std::optional<double> measured_A;
  std::string mode;  // "CV" or "CC"; empty: not known
};

struct RunStatus {
  std::string segment;
  Nanoseconds time{0};              // since the start of the run
  std::optional<Nanoseconds> left;  // of the rows of the run, waits not counted; none while `safe` is played
  std::string next;                 // what comes next, and when
  std::vector<RailStatus> rails;
};

class RunView {
 public:
  virtual ~RunView() = default;
  // A line of the start: what was found, what is done.
  virtual void note(const std::string& line) = 0;
  virtual void log(const LogRow& row) = 0;
  virtual void status(const RunStatus& status) = 0;
};

// The person at the bench.
class Person {
 public:
  virtual ~Person() = default;
  // Whether someone can be asked at all.
  [[nodiscard]] virtual bool is_there() const = 0;
  // Shows a question that takes a yes.
  virtual void ask(const std::string& question) = 0;
  // What was answered since; nothing yet. True: `yes`. Does not wait.
  [[nodiscard]] virtual std::optional<bool> answer() = 0;
};

}  // namespace rampart::bench_run
