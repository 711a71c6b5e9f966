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
  [[nodiscard]] bool next();

  [[nodiscard]] const std::vector<std::string_view>& fields() const { return fields_; }
  // The line as it stands, without its end; the part of a line that is too long. Valid until the next call, as fields.
  [[nodiscard]] std::string_view text() const { return line_; }
  // Of the line, from 1.
  [[nodiscard]] std::uint32_t number() const { return number_; }
  // Why the line is no record; empty if it is one.
  [[nodiscard]] std::string_view mistake() const { return mistake_; }
  // True if the stream gave up before its end.
  [[nodiscard]] bool failed() const { return std::ferror(stream_) != 0; }

 private:
  static constexpr std::size_t kPieceBytes = std::size_t{1} << 16;

  bool read_line();
  bool read_piece();
  void split();
  void split_quoted();

  std::FILE* stream_;
  char separator_;
  std::string piece_;  // its text is from begin_ to end_
  std::size_t begin_ = 0;
  std::size_t end_ = 0;
  std::string_view line_;
  std::vector<std::string_view> fields_;
  std::vector<std::string> unquoted_;  // what fields of a line with quotes come to
  std::string_view mistake_;
  std::uint32_t number_ = 0;
};

}  // namespace rampart
