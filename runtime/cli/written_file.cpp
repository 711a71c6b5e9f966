#include "runtime/cli/written_file.h"

#include <cstdio>
#include <filesystem>
#include <system_error>

#include "runtime/cli/json.h"
#include "runtime/cli/sarif.h"

namespace rampart::cli {

bool print_check(const Compilations& compilations, const CommonOptions& options, const std::string& output) {
  if (options.format == Format::Text) {
    print_findings(compilations, options.strict);
    return true;
  }
  const std::string document =
      options.format == Format::Json ? check_document(compilations) : sarif_document(compilations);
  if (output != "-") return print(document);
  return std::fwrite(document.data(), 1, document.size(), stderr) == document.size();
}

int could_not_write(const std::string& path, const std::string& failure) {
  const std::string name = path == "-" ? "standard output" : path;
  std::fprintf(stderr, "rampart: %s: %s\n", name.c_str(), failure.c_str());
  return kCouldNotRun;
}

bool may_be_written(const Compilation& compilation, const std::string& path) {
  for (std::size_t i = 0; i < compilation.sources.size(); ++i) {
    const std::string& input = compilation.sources[FileId{static_cast<std::uint32_t>(i)}].name();
    std::error_code unknown;
    if (!std::filesystem::equivalent(input, path, unknown)) continue;
    could_not_write(path, "would replace `" + input + "`, which it is made from");
    return false;
  }
  return true;
}

}  // namespace rampart::cli
