#include "runtime/answer/event_log.h"

namespace rampart {

void EventLog::add(Event event) {
  if (events_.size() < kMaxEvents) {
    events_.push_back(std::move(event));
  } else {
    ++left_out_;
  }
}

}  // namespace rampart
