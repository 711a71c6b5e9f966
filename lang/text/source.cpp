#include "lang/text/source.h"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>

#include "lang/text/file_stream.h"

namespace rampart {

Span join(const Span& first, const Span& last) {
  return {first.file, first.begin, last.end};
}

namespace {

constexpr std::uint32_t kBlock = 256;

std::uint32_t code_points_of(const char* text, std::size_t length) {
  std::uint32_t count = 0;
  for (std::size_t i = 0; i < length; ++i) count += (static_cast<unsigned char>(text[i]) & 0xC0U) != 0x80U ? 1 : 0;
  return count;
}

}  // namespace

SourceFile::SourceFile(std::string name, std::string text, std::uint32_t first_line)
    : name_(std::move(name)), text_(std::move(text)), first_line_(first_line) {
  line_starts_.push_back(0);
  for (std::size_t at = text_.find('\n'); at != std::string::npos; at = text_.find('\n', at + 1)) {
    line_starts_.push_back(static_cast<std::uint32_t>(at + 1));
  }
  code_points_.reserve(1 + text_.size() / kBlock);
  code_points_.push_back(0);
  for (std::size_t at = 0; at + kBlock <= text_.size(); at += kBlock) {
    code_points_.push_back(code_points_.back() + code_points_of(text_.data() + at, kBlock));
  }
}

Position SourceFile::position(std::uint32_t offset) const {
  offset = std::min(offset, static_cast<std::uint32_t>(text_.size()));
  const auto after = std::upper_bound(line_starts_.begin(), line_starts_.end(), offset);
  const auto line = static_cast<std::uint32_t>(after - line_starts_.begin());
  return {first_line_ + line - 1, 1 + code_points_before(offset) - code_points_before(line_starts_[line - 1])};
}

std::uint32_t SourceFile::code_points_before(std::uint32_t offset) const {
  const std::uint32_t block = offset / kBlock;
  return code_points_[block] + code_points_of(text_.data() + std::size_t{block} * kBlock, offset % kBlock);
}

std::string_view SourceFile::line(std::uint32_t number) const {
  if (number < first_line_ || number - first_line_ >= line_count()) return {};
  number -= first_line_ - 1;
  const std::size_t begin = line_starts_[number - 1];
  std::size_t end = number < line_count() ? line_starts_[number] - 1 : text_.size();
  if (end > begin && text_[end - 1] == '\r') --end;
  return std::string_view(text_).substr(begin, end - begin);
}

FileId SourceSet::add(std::string name, std::string text, std::uint32_t first_line) {
  files_.push_back(std::make_unique<SourceFile>(std::move(name), std::move(text), first_line));
  return FileId{static_cast<std::uint32_t>(files_.size() - 1)};
}

const SourceFile& SourceSet::operator[](FileId file) const {
  return *files_.at(static_cast<std::size_t>(file));
}

std::string_view SourceSet::text(const Span& span) const {
  return (*this)[span.file].text().substr(span.begin, span.end - span.begin);
}

namespace {

FileText failed(std::string why) {
  return {{}, std::move(why)};
}

FileText read_stream(std::FILE* stream) {
  FileText result;
  char buffer[1 << 16];
  std::size_t got = 0;
  while ((got = std::fread(buffer, 1, sizeof buffer, stream)) > 0) {
    if (result.text.size() + got > kMaxFileBytes) return failed("is larger than 64 MiB");
    result.text.append(buffer, got);
  }
  if (std::ferror(stream) != 0) return failed(std::strerror(errno));
  return result;
}

}  // namespace

FileText read_file(const std::string& path) {
  if (path == "-") return read_stream(stdin);
  std::string why;
  const FileStream stream = open_file(path, why);
  return stream ? read_stream(stream.get()) : failed(std::move(why));
}

}  // namespace rampart
