#pragma once

#include <condition_variable>
#include <cstdint>
#include <mutex>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "runtime/bench_run/output_state.h"
#include "runtime/bench_run/play_table.h"
#include "runtime/link/transport.h"

// What the threads of a run tell the one that conducts it.
namespace rampart::bench_run {

using link::Clock;

// A group of messages was acknowledged. `rows`: what of the table was news to the supply.
struct Acked {
  std::vector<TableRow> rows;
  Clock::time_point due;
  std::optional<Nanoseconds> planned;  // in the segment; none: it is no row of the table
  Clock::time_point sent;
};
// One round of readings of a channel.
struct Reading {
  std::size_t channel = 0;
  std::optional<bool> output;   // none: it was told something since it was asked
  std::optional<double> volts;  // none: the supply gave no value
  std::optional<double> amps;
  std::string mode;               // "CV" or "CC"; empty: the supply does not say
  std::string quality;            // empty: good
  Clock::time_point begun;        // when the voltage was asked for
  std::optional<Rational> set_V;  // while it was measured
  std::optional<Rational> set_A;
};
struct Tripped {
  std::size_t channel = 0;
  std::string cause;  // "overvoltage"; "unknown" if the supply does not say
};
// Whether an output that a link should have switched off was off when the run came to ask.
struct LinkSeen {
  std::size_t channel = 0;
  bool is_off = false;
};
// Something that the run did not do: a setting or an output was changed at the supply.
struct Changed {
  std::string what;
};
// Bits of the standard event status register, which reading has cleared.
struct Events {
  int bits = 0;
};
struct LineLevel {
  std::size_t line = 0;
  bool high = false;
  Clock::time_point asked;
};
// The connection failed, or what came over it makes no sense.
struct Trouble {
  std::string why;
};
// What is known of the outputs of the supply, after all were switched off or only asked.
struct Outputs {
  std::vector<OutputState> states;
  std::optional<Clock::time_point> told_off;  // when; none: they were only asked
};
struct SignalCame {
  int number = 0;
};
struct LogFailed {
  std::string why;
};

struct Mail {
  Clock::time_point at;
  std::size_t supply = 0;  // where it comes from one
  std::variant<Acked, Reading, Tripped, LinkSeen, Changed, Events, LineLevel, Trouble, Outputs, SignalCame, LogFailed>
      what;
};

class Mailbox {
 public:
  template <class What>
  void post(std::size_t supply, What what) {
    {
      const std::lock_guard lock(mutex_);
      waiting_.push_back({Clock::now(), supply, std::move(what)});
    }
    came_.notify_one();
  }
  // All that came, at `until` at the latest; nothing if nothing did.
  [[nodiscard]] std::vector<Mail> take(Clock::time_point until) {
    std::unique_lock lock(mutex_);
    came_.wait_until(lock, until, [this] { return !waiting_.empty(); });
    return std::exchange(waiting_, {});
  }

 private:
  std::mutex mutex_;
  std::condition_variable came_;
  std::vector<Mail> waiting_;
};

}  // namespace rampart::bench_run
