#include "runtime/cli/commands/written_file.h"

#include <sys/stat.h>
#include <unistd.h>

#include <cstdio>
#include <optional>
#include <utility>

#include "runtime/cli/json/json.h"
#include "runtime/cli/json/sarif.h"

namespace rampart::cli {
namespace {

// Two names or descriptors of one file have the same.
using FileIdentity = std::pair<dev_t, ino_t>;

std::optional<FileIdentity> identity_of_file(int failed, const struct stat& status) {
  if (failed != 0 || !S_ISREG(status.st_mode)) return std::nullopt;
  return FileIdentity{status.st_dev, status.st_ino};
}

std::optional<FileIdentity> identity_of(const std::string& path) {
  struct stat status {};
  return identity_of_file(stat(path.c_str(), &status), status);
}

std::optional<FileIdentity> identity_of(int descriptor) {
  struct stat status {};
  return identity_of_file(fstat(descriptor, &status), status);
}

}  // namespace

bool print_check(const Answers& answers, const CommonOptions& options, const std::string& output) {
  if (options.format == Format::Text) {
    print_findings(answers, options.strict);
    return true;
  }
  const std::string document =
      options.format == Format::Json ? check_document(answers, options.strict) : sarif_document(answers);
  if (output != "-") return print(document);
  return std::fwrite(document.data(), 1, document.size(), stderr) == document.size();
}

int could_not_write(const std::string& path, const std::string& failure) {
  say_failure(path, failure);
  return kCouldNotRun;
}

bool may_be_written(const SourceSet& texts, const std::string& path) {
  const std::optional<FileIdentity> output = path == "-" ? identity_of(STDOUT_FILENO) : identity_of(path);
  if (!output) return true;
  for (const TextPtr& text : texts.texts()) {
    const std::string& input = text->name();
    if (identity_of(input) != output && !(input == kStandardInput && identity_of(STDIN_FILENO) == output)) continue;
    could_not_write(path, "would replace `" + input + "`, which it is made from");
    return false;
  }
  return true;
}

}  // namespace rampart::cli
