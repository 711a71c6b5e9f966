#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <iterator>
#include <string>

#include "compiler/export/sha256.h"

namespace rampart::audit {

// The bytes of a stream, with what was read last kept for findings. Takes the memory of one row.
class JsonSource {
 public:
  explicit JsonSource(std::FILE* stream) : stream_(stream) {}

  // What the JSON library reads from: one byte after another.
  class Iterator {
   public:
    // NOLINTBEGIN(readability-identifier-naming): names of the standard library
    using iterator_category = std::input_iterator_tag;
    using value_type = char;
    using difference_type = std::ptrdiff_t;
    using pointer = const char*;
    using reference = char;
    // NOLINTEND(readability-identifier-naming)

    explicit Iterator(JsonSource* source) : source_(source) {}
    char operator*() const { return static_cast<char>(source_->peek()); }
    Iterator& operator++() {
      source_->advance();
      return *this;
    }
    // Every iterator is at the one place of the source; only the end differs.
    friend bool operator==(const Iterator& a, const Iterator& b) { return a.at_end() == b.at_end(); }

   private:
    [[nodiscard]] bool at_end() const { return source_ == nullptr || source_->peek() == EOF; }
    JsonSource* source_;
  };
  [[nodiscard]] Iterator begin() { return Iterator(this); }
  [[nodiscard]] static Iterator end() { return Iterator(nullptr); }

  // Of the byte read last, from 1.
  [[nodiscard]] std::uint32_t line() const { return line_; }
  // What was read since start_text(), as far as it is kept.
  [[nodiscard]] const std::string& text() const { return text_; }
  void start_text(std::string begin) {
    text_ = std::move(begin);
    text_line_ = line_;
  }
  [[nodiscard]] std::uint32_t text_line() const { return text_line_; }
  // The line of the byte read last, as far as it is kept; the one before while it has no text.
  [[nodiscard]] const std::string& line_text() const { return line_text_.empty() ? line_before_ : line_text_; }
  [[nodiscard]] std::uint32_t line_text_number() const { return line_text_.empty() && line_ > 1 ? line_ - 1 : line_; }
  // The digest of all lines above that of the byte read last.
  [[nodiscard]] std::string sha256_above() const {
    Sha256 above = above_;
    return above.finish();
  }
  // The same, if the line of the byte read last begins with this key; else empty, since what shares its line is not
  // covered.
  [[nodiscard]] std::string sha256_above(const std::string& key) const {
    const std::string& line = line_text();
    const bool is_alone = line.find_first_not_of(" \t") == line.find("\"" + key + "\"");
    return is_alone ? sha256_above() : std::string();
  }
  // True if the stream gave up before its end.
  [[nodiscard]] bool failed() const { return std::ferror(stream_) != 0; }

 private:
  static constexpr int kNothing = -2;
  static constexpr std::size_t kLongestText = 4096;
  static constexpr std::size_t kPieceBytes = std::size_t{1} << 16;

  int peek() {
    if (next_ == kNothing) next_ = std::getc(stream_);
    return next_;
  }
  void advance() {
    const int byte = peek();
    next_ = kNothing;
    if (byte == EOF) return;
    const bool ends_line = byte == '\n';
    undigested_ += static_cast<char>(byte);
    if (ends_line || undigested_.size() >= kPieceBytes) {
      digest_.add(undigested_);
      undigested_.clear();
    }
    if (ends_line) {
      ++line_;
      above_ = digest_;
      std::swap(line_before_, line_text_);
      line_text_.clear();
    } else if (line_text_.size() < kLongestText && byte != '\r') {
      line_text_ += static_cast<char>(byte);
    }
    if (text_.size() < kLongestText) text_ += ends_line || byte == '\r' ? ' ' : static_cast<char>(byte);
  }

  std::FILE* stream_;
  int next_ = kNothing;
  std::uint32_t line_ = 1;
  std::uint32_t text_line_ = 1;
  std::string text_;
  std::string line_text_;
  std::string line_before_;
  std::string undigested_;
  Sha256 digest_;  // of all but `undigested_`
  Sha256 above_;
};

}  // namespace rampart::audit
