#include "runtime/cli/commands/written_file.h"

#include <cstdio>
#include <optional>

#include "lang/files/opened_files.h"
#include "runtime/cli/json/json.h"
#include "runtime/cli/json/sarif.h"

namespace rampart::cli {

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

bool may_be_written(const std::string& path) {
  const std::optional<std::string> input = opened_as(path);
  if (input) could_not_write(path, "would replace `" + *input + "`, which it is made from");
  return !input;
}

}  // namespace rampart::cli
