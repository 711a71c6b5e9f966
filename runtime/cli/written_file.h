#pragma once

#include <string>
#include <string_view>

#include "compiler/export/sha256.h"
#include "compiler/export/text_sink.h"
#include "runtime/cli/common.h"
#include "runtime/cli/progress.h"
#include "runtime/compilation.h"
#include "runtime/output_file.h"

namespace rampart::cli {

// Hands text to a file and takes its digest on the way.
class FileSink : public TextSink {
 public:
  explicit FileSink(OutputFile& file) : file_(file), written_(file.is_replaced()) {}
  void write(std::string_view text) override {
    file_.write(text);
    digest_.add(text);
    written_.add(text.size());
  }
  [[nodiscard]] bool failed() const override { return !file_.failure().empty(); }
  [[nodiscard]] std::string sha256() { return digest_.finish(); }

 private:
  OutputFile& file_;
  Sha256 digest_;
  ByteCount written_;
};

// What `check` says of the profiles, before a file is made of them, in the format that is asked for. Where the file
// goes to standard output, this goes to standard error. False, after a message, if it could not be written.
[[nodiscard]] bool print_check(const Compilations& compilations, const CommonOptions& options,
                               const std::string& output);

// Says on standard error why a file could not be written. Gives the exit code for it.
int could_not_write(const std::string& path, const std::string& failure);

// False, after a message, for a file that the compilation was made from.
[[nodiscard]] bool may_be_written(const Compilation& compilation, const std::string& path);

}  // namespace rampart::cli
