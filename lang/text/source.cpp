#include "lang/text/source.h"

#include <algorithm>
#include <atomic>

namespace rampart {

Span join(const Span& first, const Span& last) {
  return {first.file, first.begin, last.end};
}

namespace {

constexpr std::uint32_t kBlock = 256;

FileId next_id() {
  static std::atomic<std::uint32_t> last = 0;
  return FileId{++last};
}

std::uint32_t code_points_of(const char* text, std::size_t length) {
  std::uint32_t count = 0;
  for (std::size_t i = 0; i < length; ++i) count += (static_cast<unsigned char>(text[i]) & 0xC0U) != 0x80U ? 1 : 0;
  return count;
}

}  // namespace

SourceFile::SourceFile(std::string name, std::string text, std::uint32_t first_line)
    : id_(next_id()), name_(std::move(name)), text_(std::move(text)), first_line_(first_line) {
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

TextPtr make_text(std::string name, std::string text, std::uint32_t first_line) {
  return std::make_shared<const SourceFile>(std::move(name), std::move(text), first_line);
}

FileId SourceSet::add(TextPtr text) {
  const FileId id = text->id();
  const auto place = std::lower_bound(places_.begin(), places_.end(), std::pair(id, std::size_t{0}));
  if (place != places_.end() && place->first == id) return id;
  places_.insert(place, {id, texts_.size()});
  texts_.push_back(std::move(text));
  return id;
}

FileId SourceSet::add(std::string name, std::string text, std::uint32_t first_line) {
  return add(make_text(std::move(name), std::move(text), first_line));
}

void SourceSet::add_all(const SourceSet& others) {
  for (const TextPtr& text : others.texts_) add(text);
}

std::size_t SourceSet::place_of(FileId file) const {
  if (file == FileId{}) return 0;
  const auto place = std::lower_bound(places_.begin(), places_.end(), std::pair(file, std::size_t{0}));
  return place != places_.end() && place->first == file ? place->second : texts_.size();
}

const SourceFile& SourceSet::operator[](FileId file) const {
  return *texts_.at(place_of(file));
}

std::string_view SourceSet::text(const Span& span) const {
  return (*this)[span.file].text().substr(span.begin, span.end - span.begin);
}

}  // namespace rampart
