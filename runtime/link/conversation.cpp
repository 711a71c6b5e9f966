#include "runtime/link/conversation.h"

#include <algorithm>

namespace rampart::link {

Conversation::Conversation(std::unique_ptr<Transport> transport, Nanoseconds timeout)
    : transport_(std::move(transport)), timeout_(timeout) {}

std::string Conversation::open() {
  buffer_.clear();
  return transport_->open(deadline());
}

std::string Conversation::send(const std::string& messages) {
  return transport_->write(messages, deadline());
}

std::string Conversation::receive(std::string& answer) {
  const Deadline until = deadline();
  std::size_t end = 0;
  while ((end = buffer_.find('\n')) == std::string::npos) {
    if (buffer_.size() > kMostAnswerBytes) return "an answer of more than 4096 bytes";
    if (std::string why = transport_->read(buffer_, until); !why.empty()) return why;
  }
  answer = buffer_.substr(0, end);
  buffer_.erase(0, end + 1);
  if (answer.ends_with('\r')) answer.pop_back();
  const bool is_text = std::all_of(answer.begin(), answer.end(), [](char c) { return c >= ' ' && c <= '~'; });
  return is_text ? std::string() : "an answer that is not text";
}

}  // namespace rampart::link
