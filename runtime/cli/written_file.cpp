#include "runtime/cli/written_file.h"

#include <cstdio>
#include <filesystem>
#include <system_error>

#include "runtime/cli/common.h"

namespace rampart::cli {

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
