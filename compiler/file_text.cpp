#include "compiler/file_text.h"
#include "lang/findings/files.h"

#include <algorithm>

namespace rampart {
namespace {

// How many bytes the well-formed UTF-8 sequence at the start of `text` has; 0 if there is none (Unicode 15, table 3-7).
std::size_t utf8_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
  const auto continues = [&](std::size_t i) { return byte(i) >= 0x80U && byte(i) <= 0xBFU; };
  const unsigned first = byte(0);
  if (first < 0x80U) return 1;
  if (first >= 0xC2U && first <= 0xDFU) return continues(1) ? 2 : 0;
  if (first >= 0xE0U && first <= 0xEFU) {
    const bool overlong = first == 0xE0U && byte(1) < 0xA0U;
    const bool surrogate = first == 0xEDU && byte(1) > 0x9FU;
    return continues(1) && continues(2) && !overlong && !surrogate ? 3 : 0;
  }
  if (first >= 0xF0U && first <= 0xF4U) {
    const bool overlong = first == 0xF0U && byte(1) < 0x90U;
    const bool beyond = first == 0xF4U && byte(1) > 0x8FU;
    return continues(1) && continues(2) && continues(3) && !overlong && !beyond ? 4 : 0;
  }
  return 0;
}

bool is_control(char c) {
  return (static_cast<unsigned char>(c) < 0x20U && c != '\t' && c != '\n' && c != '\r') || c == '\x7F';
}

}  // namespace

bool check_file_text(std::string_view text, FileId file, FindingSink& findings) {
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = utf8_length(text.substr(i));
    const Span place{file, static_cast<std::uint32_t>(i),
                     static_cast<std::uint32_t>(i + std::max<std::size_t>(length, 1))};
    if (length == 0) {
      findings.report(finding::FileNotUtf8, place).hint("save the file as UTF-8");
      return false;
    }
    if (is_control(text[i])) {
      findings.report(finding::FileControlCharacter, place).hint("remove it");
      return false;
    }
    i += length;
  }
  return true;
}

std::string shown_text(std::string_view text) {
  constexpr std::size_t kShownBytes = 60;
  std::string shown;
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = std::max<std::size_t>(1, utf8_length(text.substr(i)));
    if (shown.size() + length > kShownBytes) return shown + "…";
    const bool blank = is_control(text[i]) || text[i] == '\t' || text[i] == '\n' || text[i] == '\r';
    shown += blank ? std::string_view(" ") : text.substr(i, length);
    i += length;
  }
  return shown;
}

}  // namespace rampart
