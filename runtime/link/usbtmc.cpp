#include "runtime/link/usbtmc.h"

#include <fcntl.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cstdint>
#include <cstring>

namespace rampart::link {
namespace {

// Of the kernel's usbtmc driver (linux/usb/tmc.h): the time in ms after which a read or write gives up.
constexpr unsigned long kSetTimeout = _IOW(91, 10, std::uint32_t);
constexpr std::uint32_t kLeastTimeoutMs = 100;

std::string error_words() {
  return errno == ETIMEDOUT ? std::string(kTimedOut) : std::string(std::strerror(errno));
}

class UsbtmcTransport : public Transport {
 public:
  explicit UsbtmcTransport(UsbtmcPlace place) : place_(std::move(place)) {}
  ~UsbtmcTransport() override { close(); }
  UsbtmcTransport(const UsbtmcTransport&) = delete;
  UsbtmcTransport& operator=(const UsbtmcTransport&) = delete;

  std::string open(Deadline) override {
    close();
    descriptor_ = ::open(place_.device.c_str(), O_RDWR | O_CLOEXEC | O_NOCTTY);
    if (descriptor_ < 0) return error_words();
    struct stat status {};
    if (fstat(descriptor_, &status) != 0 || !S_ISCHR(status.st_mode)) {
      close();
      return "is not a device";
    }
    return {};
  }

  void close() override {
    if (descriptor_ >= 0) ::close(descriptor_);
    descriptor_ = -1;
  }

  std::string write(std::string_view bytes, Deadline deadline) override {
    while (!bytes.empty()) {
      if (std::string why = ready(POLLOUT, deadline); !why.empty()) return why;
      const ssize_t written = ::write(descriptor_, bytes.data(), bytes.size());
      if (written < 0 && errno != EINTR) return error_words();
      if (written > 0) bytes.remove_prefix(static_cast<std::size_t>(written));
    }
    return {};
  }

  std::string read(std::string& into, Deadline deadline) override {
    if (std::string why = ready(POLLIN, deadline); !why.empty()) return why;
    char piece[4096];
    const ssize_t got = ::read(descriptor_, piece, sizeof piece);
    if (is_interrupted_) return std::string(kInterrupted);
    if (got < 0) return error_words();
    if (got == 0) return "the device gave nothing";
    into.append(piece, static_cast<std::size_t>(got));
    // An answer ends with the transfer, with a line feed or without one.
    if (into.back() != '\n' && static_cast<std::size_t>(got) < sizeof piece) into += '\n';
    return {};
  }

  void interrupt() override { is_interrupted_ = true; }
  void resume() override { is_interrupted_ = false; }

 private:
  // The driver bounds each transfer itself. One without that call is asked first whether it is ready.
  std::string ready(short what, Deadline deadline) {
    if (is_interrupted_) return std::string(kInterrupted);
    if (descriptor_ < 0) return "not open";
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(deadline - Clock::now()).count();
    if (left <= 0) return std::string(kTimedOut);
    std::uint32_t timeout = std::max(kLeastTimeoutMs, static_cast<std::uint32_t>(left));
    if (ioctl(descriptor_, kSetTimeout, &timeout) == 0) return {};
    constexpr int kSliceMs = 20;
    while (Clock::now() < deadline) {
      pollfd one{descriptor_, what, 0};
      const int found = poll(&one, 1, kSliceMs);
      if (is_interrupted_) return std::string(kInterrupted);
      if (found > 0) return {};
      if (found < 0 && errno != EINTR) return error_words();
    }
    return std::string(kTimedOut);
  }

  UsbtmcPlace place_;
  int descriptor_ = -1;
  std::atomic<bool> is_interrupted_ = false;
};

}  // namespace

std::unique_ptr<Transport> make_usbtmc(const UsbtmcPlace& place) {
  return std::make_unique<UsbtmcTransport>(place);
}

}  // namespace rampart::link
