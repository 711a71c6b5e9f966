#pragma once

#include <cstddef>
#include <string>

namespace rampart::editor {

// A message may be so long; one that says it is longer is skipped.
inline constexpr std::size_t kMaxMessageBytes = std::size_t{64} << 20;
// One line of a header, and all lines of it.
inline constexpr std::size_t kMaxHeaderBytes = 4096;

// The messages of a byte stream as LSP 3.17 frames them: header lines that end in CR LF, among them Content-Length, an
// empty line, and so many bytes.
class MessageReader {
 public:
  enum class Got { Message, Broken, End };

  // Reads a file descriptor.
  explicit MessageReader(int descriptor) : descriptor_(descriptor) {}

  // The next message in `text`; Broken, with what is wrong in `text`, where the frame makes no sense: it is skipped,
  // and reading goes on behind it. End where the stream ends.
  [[nodiscard]] Got next(std::string& text);

 private:
  enum class Line { Read, TooLong, End };

  // A header line without its end.
  Line read_line(std::string& line);
  bool fill();
  bool skip(std::size_t bytes);
  bool take(std::size_t bytes, std::string& text);

  int descriptor_;
  std::string buffer_;
  std::size_t next_ = 0;
};

// Writes a message with its header. False where it cannot be written.
[[nodiscard]] bool write_message(int descriptor, const std::string& text);

}  // namespace rampart::editor
