#include "runtime/bench_run/run_log.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <charconv>
#include <cstring>
#include <system_error>

#include "compiler/export/decimal.h"
#include "compiler/export/sha256.h"

namespace rampart::bench_run {
namespace {

constexpr std::array<std::string_view, 3> kKinds{"reading", "command", "event"};

std::string seconds(Nanoseconds time) {
  std::string text;
  append_decimal(time.count(), 9, text);
  return text;
}

template <class Value, class Text>
std::string if_known(const std::optional<Value>& value, const Text& text) {
  return value ? text(*value) : std::string();
}

std::string measured(double value) {
  std::array<char, 32> text{};
  const auto [end, error] =
      std::to_chars(text.data(), text.data() + text.size(), value == 0 ? 0.0 : value, std::chars_format::fixed, 6);
  return error == std::errc() ? std::string(text.data(), end) : std::string();
}

std::string exact(const Rational& value) {
  return exact_decimal(value).value_or("");
}

// RFC 4180: in quotes where a comma, a quote or a line end stands in it.
std::string field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? "\"\"" : std::string(1, c);
  return quoted + "\"";
}

std::string words_of_error() {
  std::string text = std::strerror(errno);
  if (!text.empty() && text[0] >= 'A' && text[0] <= 'Z') text[0] = static_cast<char>(text[0] - 'A' + 'a');
  return text;
}

}  // namespace

std::string log_line(const LogRow& row) {
  const auto truth = [](bool value) { return std::string(value ? "1" : "0"); };
  std::string text = seconds(row.time) + "," + std::string(kKinds[static_cast<std::size_t>(row.kind)]) + ",";
  text += field(row.segment) + "," + field(row.channel) + ",";
  text += if_known(row.measured_V, measured) + "," + if_known(row.measured_A, measured) + ",";
  text += if_known(row.set_V, exact) + "," + if_known(row.set_A, exact) + ",";
  text += if_known(row.output, truth) + "," + row.mode + "," + row.quality + ",";
  text += if_known(row.planned, seconds) + "," + if_known(row.sent, seconds) + "," + if_known(row.acked, seconds) + ",";
  return text + field(row.text) + "\n";
}

RunLog::RunLog(const std::string& path, Mailbox& mailbox) : path_(path), mailbox_(mailbox) {
  constexpr mode_t kMode = 0666;
  descriptor_ = open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, kMode);
  if (descriptor_ < 0) {
    why_ = errno == EEXIST ? "already exists: a log is never replaced" : words_of_error();
    return;
  }
  if (!write(kLogHeader)) {
    remove();
    return;
  }
  try {
    thread_ = std::thread([this] { work(); });
  } catch (const std::system_error& failure) {
    why_ = "no thread can be started to write it: " + failure.code().message();
    remove();
  }
}

RunLog::~RunLog() {
  static_cast<void>(finish());
  if (descriptor_ >= 0) close(descriptor_);
}

void RunLog::add(const LogRow& row) {
  {
    const std::lock_guard lock(mutex_);
    if (has_failed_) return;
    if (waiting_.size() >= kMostWaiting) {
      waiting_.clear();
      fail("the disk cannot take the log");
      return;
    }
    waiting_.push_back(log_line(row));
  }
  changed_.notify_one();
}

// The caller has the mutex.
void RunLog::fail(const std::string& why) {
  if (has_failed_) return;
  has_failed_ = true;
  why_ = why;
  mailbox_.post(0, LogFailed{why});
}

bool RunLog::write(std::string_view text) {
  std::string_view rest = text;
  while (!rest.empty()) {
    const ssize_t written = ::write(descriptor_, rest.data(), rest.size());
    if (written < 0 && errno == EINTR) continue;
    if (written <= 0) {
      why_ = words_of_error();
      // Half a line would read as another value.
      if (ftruncate(descriptor_, whole_bytes_) != 0) why_ += ", and its last line may be incomplete";
      return false;
    }
    rest.remove_prefix(static_cast<std::size_t>(written));
  }
  whole_bytes_ += static_cast<std::int64_t>(text.size());
  return true;
}

void RunLog::work() {
  Sha256 digest;
  digest.add(kLogHeader);
  std::unique_lock lock(mutex_);
  while (true) {
    changed_.wait(lock, [this] { return is_over_ || !waiting_.empty(); });
    if (waiting_.empty()) break;
    const std::string line = std::move(waiting_.front());
    waiting_.pop_front();
    const bool is_lost = has_failed_;
    lock.unlock();
    const bool is_written = !is_lost && write(line);
    if (is_written) digest.add(line);
    lock.lock();
    if (!is_written && !is_lost) {
      waiting_.clear();
      fail(why_);
    }
  }
  digested_ = digest.finish();
}

std::string RunLog::finish() {
  if (thread_.joinable()) {
    {
      const std::lock_guard lock(mutex_);
      is_over_ = true;
    }
    changed_.notify_one();
    thread_.join();
    if (descriptor_ >= 0 && !has_failed_ && fsync(descriptor_) != 0) {
      has_failed_ = true;
      why_ = words_of_error();
    }
  }
  return has_failed_ ? std::string() : digested_;
}

void RunLog::remove() {
  static_cast<void>(finish());
  if (descriptor_ < 0) return;
  close(descriptor_);
  descriptor_ = -1;
  unlink(path_.c_str());
}

}  // namespace rampart::bench_run
