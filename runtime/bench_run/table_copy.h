#pragma once

#include <cstdio>
#include <memory>
#include <string>

namespace rampart::bench_run {

struct CloseStream {
  void operator()(std::FILE* stream) const { std::fclose(stream); }
};
using Stream = std::unique_ptr<std::FILE, CloseStream>;

// What is left of a stream, in a file without a name, so that nobody changes the table while it is played. `sha256`: of
// what was copied. Null if it could not be read or written.
[[nodiscard]] Stream private_copy(std::FILE* stream, std::string& sha256);

}  // namespace rampart::bench_run
