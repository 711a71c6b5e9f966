#include "lang/files/files.h"

#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <system_error>

#include "lang/files/opened_files.h"

namespace rampart {
namespace {

// Null, and `why`, where it cannot all be read or is too large.
TextPtr read_stream(std::FILE* stream, const std::string& name, std::string& why) {
  std::string text;
  char buffer[1 << 16];
  std::size_t got = 0;
  while ((got = std::fread(buffer, 1, sizeof buffer, stream)) > 0) {
    if (text.size() + got > kMaxFileBytes) {
      why = "is larger than 64 MiB";
      return nullptr;
    }
    text.append(buffer, got);
  }
  if (std::ferror(stream) != 0) {
    why = std::strerror(errno);
    return nullptr;
  }
  return make_text(name, std::move(text));
}

}  // namespace

TextPtr Disk::read(const std::string& path, std::string& why) {
  if (path == "-") {
    note_opened(STDIN_FILENO, kStandardInput);
    return read_stream(stdin, kStandardInput, why);
  }
  const FileStream stream = open_file(path, why);
  return stream ? read_stream(stream.get(), path, why) : nullptr;
}

FileStream Disk::open(const std::string& path, std::string& why) {
  return open_file(path, why);
}

std::string Disk::canonical(const std::string& path) const {
  std::error_code failure;
  const std::filesystem::path real = std::filesystem::weakly_canonical(path, failure);
  return failure || path == "-" ? path : real.string();
}

void HeldTexts::hold(const std::string& path, std::string text) {
  held_[canonical(path)] = make_text(path, std::move(text));
}

void HeldTexts::release(const std::string& path) {
  held_.erase(canonical(path));
}

TextPtr HeldTexts::read(const std::string& path, std::string& why) {
  if (const auto held = held_.find(canonical(path)); held != held_.end()) return held->second;
  if (below_ != nullptr) return below_->read(path, why);
  why = "no such file";
  return nullptr;
}

FileStream HeldTexts::open(const std::string& path, std::string& why) {
  const auto held = held_.find(canonical(path));
  if (held == held_.end() && below_ != nullptr) return below_->open(path, why);
  if (held == held_.end()) {
    why = "no such file";
    return nullptr;
  }
  const std::string_view text = held->second->text();
  // It is only read.
  std::FILE* stream = fmemopen(const_cast<char*>(text.data()), text.size(), "rb");
  if (stream == nullptr) why = std::strerror(errno);
  return FileStream(stream, CloseStream{held->second});
}

std::string HeldTexts::canonical(const std::string& path) const {
  if (below_ != nullptr) return below_->canonical(path);
  return std::filesystem::path(path).lexically_normal().string();
}

}  // namespace rampart
