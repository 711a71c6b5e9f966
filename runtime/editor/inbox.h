#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <mutex>
#include <optional>
#include <set>
#include <stop_token>
#include <string>
#include <variant>

#include "runtime/editor/analysis.h"

namespace rampart::editor {

// A message, as it came.
struct Received {
  std::string text;
};
struct BrokenFrame {
  std::string why;
};
struct EndOfInput {};
// All that was asked of the predictor up to a number of calls has been told, or was given up.
struct PredictionsTold {
  std::uint64_t asked = 0;
};
using Event = std::variant<Received, BrokenFrame, EndOfInput, PredictionPtr, PredictionsTold>;

// Events for the one thread that answers, from those that read and predict. Messages wait in a bounded number.
class Inbox {
 public:
  using Clock = std::chrono::steady_clock;

  void put(Event event);
  // The next event; none where none comes until then.
  [[nodiscard]] std::optional<Event> take(std::optional<Clock::time_point> until);
  [[nodiscard]] bool is_empty() const;

  // Work that a change of a text makes worthless is stopped as soon as the change has arrived.
  [[nodiscard]] std::stop_token begin_work();
  void end_work();
  // Requests that are not to be answered any more, by their ids as JSON.
  void cancel(const std::string& id);
  [[nodiscard]] bool take_cancelled(const std::string& id);

 private:
  static constexpr std::size_t kMaxWaiting = 1000;
  static constexpr std::size_t kMaxWaitingBytes = std::size_t{128} << 20;
  static constexpr std::size_t kMaxCancelled = 1000;

  mutable std::mutex mutex_;
  std::condition_variable arrived_;
  std::condition_variable has_room_;
  std::deque<Event> events_;
  std::size_t bytes_ = 0;
  std::stop_source work_;
  std::set<std::string> cancelled_;
};

}  // namespace rampart::editor
