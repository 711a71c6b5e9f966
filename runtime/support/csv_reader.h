#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <string>
#include <string_view>
#include <vector>

namespace rampart {

// Longer lines are no rows of a setpoint table or a log.
inline constexpr std::size_t kMaxCsvLineBytes = 4096;

// Reads a table record by record, after RFC 4180, fields apart by any separator; LF and CRLF both end a line. Takes the
// memory of one piece of it.
class CsvReader {
 public:
  explicit CsvReader(std::FILE* stream, char separator = ',')
      : stream_(stream), separator_(separator), piece_(kPieceBytes, '\0') {}

  // The next record into fields(). False at the end of the text.
  [[nodiscard]] bool next() {
    if (!next_line()) return false;
    split();
    return true;
  }
  // Goes to the next line without looking at its fields; split() does. False at the end of the text.
  [[nodiscard]] bool next_line();
  // Those of the line, as split() found them. Valid until the next line.
  [[nodiscard]] const std::vector<std::string_view>& fields() const { return fields_; }
  const std::vector<std::string_view>& split();

  // The line as it stands, without its end; the part of a line that is too long. Valid until the next call.
  [[nodiscard]] std::string_view text() const { return line_; }
  // Whether the line is a record whose fields are as they stand in it, without quotes.
  [[nodiscard]] bool is_plain() const { return mistake_.empty() && !has_quotes(); }
  // Of the line, from 1.
  [[nodiscard]] std::uint32_t number() const { return number_; }
  // Why the line is no record, as far as it was looked at; empty if it is one.
  [[nodiscard]] std::string_view mistake() const { return mistake_; }
  // True if the stream gave up before its end.
  [[nodiscard]] bool failed() const { return std::ferror(stream_) != 0; }

 private:
  static constexpr std::size_t kPieceBytes = std::size_t{1} << 16;

  bool read_piece();
  [[nodiscard]] bool holds(char c) const;
  [[nodiscard]] bool has_quotes() const { return has_quotes_ && line_.find('"') != std::string_view::npos; }
  void split_quoted();

  std::FILE* stream_;
  char separator_;
  std::string piece_;  // its text is from begin_ to end_
  std::size_t begin_ = 0;
  std::size_t end_ = 0;
  bool has_nuls_ = false;  // that text
  bool has_quotes_ = false;
  std::string_view line_;
  std::vector<std::string_view> fields_;
  std::vector<std::string> unquoted_;  // what fields of a line with quotes come to
  std::string_view mistake_;
  std::uint32_t number_ = 0;
};

}  // namespace rampart
