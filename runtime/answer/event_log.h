#pragma once

#include <cstdint>
#include <utility>
#include <vector>

#include "runtime/answer/simulation.h"

namespace rampart {

// The events of a run, as many as are kept.
class EventLog {
 public:
  void add(Event event);
  // Counts events that are known to come but not gone through.
  void leave_out(std::int64_t count) { left_out_ += count; }
  [[nodiscard]] std::int64_t count() const { return static_cast<std::int64_t>(events_.size()) + left_out_; }
  [[nodiscard]] std::vector<Event> take() { return std::move(events_); }
  [[nodiscard]] std::int64_t left_out() const { return left_out_; }

 private:
  std::vector<Event> events_;
  std::int64_t left_out_ = 0;
};

}  // namespace rampart
