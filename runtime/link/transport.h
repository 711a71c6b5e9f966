#pragma once

#include <chrono>
#include <memory>
#include <string>
#include <string_view>

#include "runtime/link/link.h"

namespace rampart::link {

using Clock = std::chrono::steady_clock;
using Deadline = Clock::time_point;

// The bytes to and from one instrument. All calls come from one thread, except interrupt(). A call that fails gives the
// reason in words; an empty text is success.
class Transport {
 public:
  virtual ~Transport() = default;

  [[nodiscard]] virtual std::string open(Deadline deadline) = 0;
  virtual void close() = 0;
  // All of the bytes, or the reason.
  [[nodiscard]] virtual std::string write(std::string_view bytes, Deadline deadline) = 0;
  // Appends at least one byte that came, or gives the reason.
  [[nodiscard]] virtual std::string read(std::string& into, Deadline deadline) = 0;
  // From any thread: the call in progress fails at once, and so does every later one until resume(). A read from a
  // usbtmc device ends at its own time-out.
  virtual void interrupt() = 0;
  virtual void resume() = 0;
};

inline constexpr std::string_view kTimedOut = "no answer in time";
inline constexpr std::string_view kInterrupted = "interrupted";

[[nodiscard]] std::unique_ptr<Transport> make_transport(const Place& place);

// An address that stands for itself, version 4 or 6.
[[nodiscard]] bool is_ip_address(const std::string& text);

}  // namespace rampart::link
