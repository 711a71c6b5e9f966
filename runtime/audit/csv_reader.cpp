#include "runtime/audit/csv_reader.h"

namespace rampart::audit {

bool CsvReader::next() {
  fields_.clear();
  mistake_ = {};
  if (!read_line()) return false;
  if (mistake_.empty()) split();
  return true;
}

bool CsvReader::read_line() {
  line_.clear();
  int c = 0;
  bool any = false;
  while ((c = std::getc(stream_)) != EOF) {
    any = true;
    if (c == '\n') break;
    if (line_.size() < kMaxLineBytes) {
      line_ += static_cast<char>(c);
    } else {
      mistake_ = "the line is longer than 4096 bytes";
    }
  }
  if (!any) return false;
  if (!line_.empty() && line_.back() == '\r') line_.pop_back();
  ++number_;
  if (line_.find('\0') != std::string::npos) mistake_ = "the line holds a NUL character";
  return true;
}

// A field is bare text without quotes, or text between quotes in which a doubled quote stands for one.
void CsvReader::split() {
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
    } else if (c == ',') {
      fields_.push_back(std::move(field));
      field.clear();
      closed = false;
    } else if (c == '"' && field.empty() && !closed) {
      quoted = true;
    } else if (c == '"' || closed) {
      mistake_ = "a quote stands inside a field";
      return;
    } else {
      field += c;
    }
  }
  if (quoted) {
    mistake_ = "a quote is not closed on its line";
    return;
  }
  fields_.push_back(std::move(field));
}

}  // namespace rampart::audit
