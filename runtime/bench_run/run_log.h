#pragma once

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>

#include "runtime/bench_run/mailbox.h"
#include "runtime/bench_run/run_view.h"

namespace rampart::bench_run {

// The log of a run as CSV, line by line, written by a thread of its own. After a failure the file ends with the last
// whole line, and LogFailed is posted once.
class RunLog {
 public:
  // Makes a new file: an older one at `path` is never replaced. why() says what failed.
  RunLog(const std::string& path, Mailbox& mailbox);
  ~RunLog();
  RunLog(const RunLog&) = delete;
  RunLog& operator=(const RunLog&) = delete;

  [[nodiscard]] bool is_open() const { return descriptor_ >= 0; }
  // Read it before the first row or after finish().
  [[nodiscard]] const std::string& why() const { return why_; }
  void add(const LogRow& row);
  // Waits until all is written. The SHA-256 digest of the file; empty, and why(), if something was lost.
  [[nodiscard]] std::string finish();
  // Before the first row: takes the file away again.
  void remove();

 private:
  // What a disk that stands still may hold up: some minutes of a busy run.
  static constexpr std::size_t kMostWaiting = 200'000;

  void work();
  [[nodiscard]] bool write(std::string_view text);
  void fail(const std::string& why);

  std::string path_;
  Mailbox& mailbox_;
  int descriptor_ = -1;
  std::string why_;
  std::int64_t whole_bytes_ = 0;
  std::string digested_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::string> waiting_;
  bool is_over_ = false;
  bool has_failed_ = false;
  std::thread thread_;
};

// One line, with its line feed.
[[nodiscard]] std::string log_line(const LogRow& row);
inline constexpr std::string_view kLogHeader =
    "time_s,kind,segment,channel,measured_V,measured_A,set_V,set_A,output,mode,quality,planned_s,sent_s,acked_s,text\n";

}  // namespace rampart::bench_run
