#include "runtime/support/csv_reader.h"

#include <cstring>

namespace rampart {

// The line lies whole in the piece, or its first part where it is too long.
bool CsvReader::next_line() {
  mistake_ = {};
  std::size_t searched = begin_;
  std::size_t kept = 0;  // of a line that is too long
  const char* line_end = nullptr;
  while (line_end == nullptr) {
    const std::size_t left = end_ - searched;
    line_end = static_cast<const char*>(std::memchr(piece_.data() + searched, '\n', left));
    if (line_end != nullptr) break;
    if (end_ - begin_ > kMaxCsvLineBytes) {
      kept = kMaxCsvLineBytes;
      end_ = begin_ + kept;
    }
    const std::size_t length = end_ - begin_;
    if (!read_piece()) break;
    searched = length;
  }
  const bool any = end_ > begin_;
  if (!any && line_end == nullptr) return false;
  const std::size_t after = line_end == nullptr ? end_ : static_cast<std::size_t>(line_end - piece_.data());
  if (after - begin_ > kMaxCsvLineBytes) kept = kMaxCsvLineBytes;
  line_ = std::string_view(piece_).substr(begin_, kept > 0 ? kept : after - begin_);
  if (kept > 0) mistake_ = "the line is longer than 4096 bytes";
  begin_ = line_end == nullptr ? end_ : after + 1;
  if (line_.ends_with('\r')) line_.remove_suffix(1);
  ++number_;
  if (has_nuls_ && line_.find('\0') != std::string_view::npos) mistake_ = "the line holds a NUL character";
  return true;
}

// Moves what has not been taken to the front and reads on behind it. False at the end of the text.
bool CsvReader::read_piece() {
  std::memmove(piece_.data(), piece_.data() + begin_, end_ - begin_);
  end_ -= begin_;
  begin_ = 0;
  const std::size_t got = std::fread(piece_.data() + end_, 1, piece_.size() - end_, stream_);
  end_ += got;
  has_nuls_ = holds('\0');
  has_quotes_ = holds('"');
  return got > 0;
}

bool CsvReader::holds(char c) const {
  return std::memchr(piece_.data() + begin_, c, end_ - begin_) != nullptr;
}

const std::vector<std::string_view>& CsvReader::split() {
  fields_.clear();
  if (!mistake_.empty()) return fields_;
  if (has_quotes()) {
    split_quoted();
    return fields_;
  }
  std::string_view rest = line_;
  for (std::size_t end = rest.find(separator_); end != std::string_view::npos; end = rest.find(separator_)) {
    fields_.push_back(rest.substr(0, end));
    rest.remove_prefix(end + 1);
  }
  fields_.push_back(rest);
  return fields_;
}

// A field is bare text without quotes, or text between quotes in which a doubled quote stands for one.
void CsvReader::split_quoted() {
  unquoted_.clear();
  std::string field;
  bool quoted = false;
  bool closed = false;
  for (std::size_t i = 0; i < line_.size(); ++i) {
    const char c = line_[i];
    if (quoted) {
      if (c != '"') {
        field += c;
      } else if (i + 1 < line_.size() && line_[i + 1] == '"') {
        field += '"';
        ++i;
      } else {
        quoted = false;
        closed = true;
      }
    } else if (c == separator_) {
      unquoted_.push_back(std::move(field));
      field.clear();
      closed = false;
    } else if (c == '"' && field.empty() && !closed) {
      quoted = true;
    } else if (c == '"' || closed) {
      mistake_ = "there is a quote inside a field";
      return;
    } else {
      field += c;
    }
  }
  if (quoted) {
    mistake_ = "a quote is not closed on its line";
    return;
  }
  unquoted_.push_back(std::move(field));
  fields_.assign(unquoted_.begin(), unquoted_.end());
}

}  // namespace rampart
