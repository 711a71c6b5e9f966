#include "runtime/editor/message_reader.h"

#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <cerrno>
#include <charconv>
#include <optional>
#include <string_view>

namespace rampart::editor {
namespace {

constexpr std::size_t kChunk = std::size_t{64} << 10;

bool same_letters(std::string_view a, std::string_view b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](char x, char y) {
    return std::tolower(static_cast<unsigned char>(x)) == std::tolower(static_cast<unsigned char>(y));
  });
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

std::optional<std::size_t> whole_number(std::string_view text) {
  std::size_t number = 0;
  const auto [stop, failure] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (text.empty() || failure != std::errc() || stop != text.data() + text.size()) return std::nullopt;
  return number;
}

}  // namespace

bool MessageReader::fill() {
  if (next_ > 0) buffer_.erase(0, next_);
  next_ = 0;
  const std::size_t before = buffer_.size();
  buffer_.resize(before + kChunk);
  ssize_t got = -1;
  do {
    got = read(descriptor_, buffer_.data() + before, kChunk);
  } while (got < 0 && errno == EINTR);
  buffer_.resize(before + static_cast<std::size_t>(std::max<ssize_t>(got, 0)));
  return got > 0;
}

MessageReader::Line MessageReader::read_line(std::string& line) {
  line.clear();
  bool is_long = false;
  while (true) {
    const std::size_t end = buffer_.find('\n', next_);
    if (end != std::string::npos) {
      if (!is_long) line = buffer_.substr(next_, end - next_);
      next_ = end + 1;
      if (line.ends_with('\r')) line.pop_back();
      return is_long || line.size() > kMaxHeaderBytes ? Line::TooLong : Line::Read;
    }
    if (buffer_.size() - next_ > kMaxHeaderBytes) {
      is_long = true;
      next_ = buffer_.size();
    }
    if (!fill()) return Line::End;
  }
}

bool MessageReader::skip(std::size_t bytes) {
  while (buffer_.size() - next_ < bytes) {
    bytes -= buffer_.size() - next_;
    next_ = buffer_.size();
    if (!fill()) return false;
  }
  next_ += bytes;
  return true;
}

bool MessageReader::take(std::size_t bytes, std::string& text) {
  while (buffer_.size() - next_ < bytes) {
    if (!fill()) return false;
  }
  text = buffer_.substr(next_, bytes);
  next_ += bytes;
  // What one long message took is given back.
  if (buffer_.capacity() > 16 * kChunk) {
    buffer_ = buffer_.substr(next_);
    buffer_.shrink_to_fit();
    next_ = 0;
  }
  return true;
}

MessageReader::Got MessageReader::next(std::string& text) {
  std::optional<std::size_t> length;
  std::string broken;
  std::size_t header = 0;
  for (std::string line;;) {
    const Line got = read_line(line);
    if (got == Line::End) return Got::End;
    header += line.size();
    if (got == Line::TooLong || header > kMaxHeaderBytes) {
      broken = "a header longer than 4 KiB";
      if (got == Line::TooLong) break;
    }
    if (got == Line::Read && line.empty()) break;
    const std::string_view field = line;
    const std::size_t colon = field.find(':');
    if (colon == std::string_view::npos) {
      // What stands outside of frames is gone through line by line.
      broken = "a header line without a colon";
      break;
    }
    if (!same_letters(trimmed(field.substr(0, colon)), "Content-Length")) continue;
    length = whole_number(trimmed(field.substr(colon + 1)));
    if (!length) broken = "a Content-Length that is not a number";
  }
  if (broken.empty() && !length) broken = "a header without Content-Length";
  if (broken.empty() && *length > kMaxMessageBytes) {
    broken = "a message longer than 64 MiB";
    if (!skip(*length)) return Got::End;
  }
  if (!broken.empty()) {
    text = broken;
    return Got::Broken;
  }
  return take(*length, text) ? Got::Message : Got::End;
}

bool write_message(int descriptor, const std::string& text) {
  const std::string whole = "Content-Length: " + std::to_string(text.size()) + "\r\n\r\n" + text;
  for (std::size_t at = 0; at < whole.size();) {
    const ssize_t written = write(descriptor, whole.data() + at, whole.size() - at);
    if (written < 0 && errno == EINTR) continue;
    if (written <= 0) return false;
    at += static_cast<std::size_t>(written);
  }
  return true;
}

}  // namespace rampart::editor
