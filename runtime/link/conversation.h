#pragma once

#include <memory>
#include <string>

#include "runtime/link/transport.h"

namespace rampart::link {

// Messages to an instrument and its answers, line by line. One query at a time: no message is sent while an answer is
// outstanding. An empty text is success, any other says what went wrong.
class Conversation {
 public:
  // The longest answer that is read.
  static constexpr std::size_t kMostAnswerBytes = 4096;

  Conversation(std::unique_ptr<Transport> transport, Nanoseconds timeout);

  [[nodiscard]] std::string open();
  // `messages`: whole lines.
  [[nodiscard]] std::string send(const std::string& messages);
  // The next line that comes, without its end.
  [[nodiscard]] std::string receive(std::string& answer);
  // Forgets what has come and was not read.
  void forget() { buffer_.clear(); }
  // True if something came that nobody asked for.
  [[nodiscard]] bool has_more() const { return !buffer_.empty(); }
  [[nodiscard]] Transport& transport() { return *transport_; }

 private:
  [[nodiscard]] Deadline deadline() const { return Clock::now() + timeout_; }

  std::unique_ptr<Transport> transport_;
  Nanoseconds timeout_;
  std::string buffer_;
};

}  // namespace rampart::link
