#pragma once

#include <cstdio>
#include <memory>
#include <string>

#include "lang/text/source.h"

namespace rampart {

struct CloseStream {
  TextPtr text{};  // that the stream reads, where it is none of the disk
  void operator()(std::FILE* stream) const { std::fclose(stream); }
};
using FileStream = std::unique_ptr<std::FILE, CloseStream>;

// Opens a file to read. Nothing, and `why`, where there is none or it cannot be opened ("no such file"), and at once
// for what is no file: a folder ("is a folder"), or a pipe, device or socket, which could keep the program waiting for
// ever.
[[nodiscard]] FileStream open_file(const std::string& path, std::string& why);

}  // namespace rampart
