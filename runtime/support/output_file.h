#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "runtime/support/disk_thread.h"

namespace rampart {

// A file that appears whole or not at all: text goes to a file beside `path`, which takes its place at commit().
// Without a commit nothing is left behind and an older file at `path` stays as it was. Path "-" is standard output.
// A symbolic link stays; what it leads to is replaced.
class OutputFile {
 public:
  explicit OutputFile(std::string path);
  ~OutputFile();
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;

  // Adds text. After a failure further text is ignored.
  void write(std::string_view text);
  // Makes sure that all of the text is on the disk, beside the place it will take. False if not.
  [[nodiscard]] bool flush();
  // Puts the file in its place. True when all of it is there.
  [[nodiscard]] bool commit();
  // False for standard output, devices and pipes, which are written to and not replaced.
  [[nodiscard]] bool is_replaced() const { return !aside_.empty(); }
  // Why opening, writing or placing failed ("no space left on device"); empty while all is well.
  [[nodiscard]] const std::string& failure() const { return failure_; }

  friend bool commit_together(OutputFile& first, OutputFile& second);

 private:
  void fail(int error_number);
  void to_disk(std::size_t written);
  void end_disk_thread();
  bool place();
  bool place_keeping_old();
  void take_back();
  void discard();

  std::string path_;
  std::string aside_;
  std::string failure_;
  int descriptor_ = -1;
  bool keeps_old_ = false;                          // after place_keeping_old(), the older file stands aside
  bool is_first_ = false;                           // and there was none
  std::size_t short_left_ = std::size_t{2} << 20U;  // so much is written before a thread is worth its start
  std::optional<DiskThread> disk_;
};

// Puts both in their places, and no signal ends the program in between. No other program that does so with files of the
// same folder comes between, so two that write the same pair at once leave both files of one. False if one failed: then
// both older files are where they were, and failure() of the two says why.
[[nodiscard]] bool commit_together(OutputFile& first, OutputFile& second);

// From now on, a signal that ends the program (Ctrl-C, a kill, a closed terminal, a limit on processor time) takes
// unfinished files along, and a limit on the size of files is a failure to write.
void remove_unfinished_on_signals();

}  // namespace rampart
