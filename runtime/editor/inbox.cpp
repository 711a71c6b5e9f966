#include "runtime/editor/inbox.h"

#include <utility>

namespace rampart::editor {
namespace {

std::size_t bytes_of(const Event& event) {
  const auto* message = std::get_if<Received>(&event);
  return message != nullptr ? message->text.size() : 0;
}

}  // namespace

void Inbox::put(Event event) {
  std::unique_lock lock(mutex_);
  const bool waits = std::holds_alternative<Received>(event) || std::holds_alternative<BrokenFrame>(event);
  if (waits) has_room_.wait(lock, [&] { return events_.size() < kMaxWaiting && bytes_ < kMaxWaitingBytes; });
  bytes_ += bytes_of(event);
  const auto* message = std::get_if<Received>(&event);
  // Whatever else the text holds: to stop in vain does no more than to begin anew.
  const bool changes = message != nullptr && message->text.find("textDocument/didChange") != std::string::npos;
  if (changes) work_.request_stop();
  events_.push_back(std::move(event));
  arrived_.notify_one();
}

std::optional<Event> Inbox::take(std::optional<Clock::time_point> until) {
  std::unique_lock lock(mutex_);
  const auto is_there = [this] { return !events_.empty(); };
  if (!until) {
    arrived_.wait(lock, is_there);
  } else if (!arrived_.wait_until(lock, *until, is_there)) {
    return std::nullopt;
  }
  Event event = std::move(events_.front());
  events_.pop_front();
  bytes_ -= bytes_of(event);
  has_room_.notify_one();
  return event;
}

bool Inbox::is_empty() const {
  const std::scoped_lock lock(mutex_);
  return events_.empty();
}

std::stop_token Inbox::begin_work() {
  const std::scoped_lock lock(mutex_);
  work_ = std::stop_source();
  return work_.get_token();
}

void Inbox::end_work() {
  const std::scoped_lock lock(mutex_);
  work_ = std::stop_source();
}

void Inbox::cancel(const std::string& id) {
  const std::scoped_lock lock(mutex_);
  if (cancelled_.size() < kMaxCancelled) cancelled_.insert(id);
}

bool Inbox::take_cancelled(const std::string& id) {
  const std::scoped_lock lock(mutex_);
  return cancelled_.erase(id) > 0;
}

}  // namespace rampart::editor
