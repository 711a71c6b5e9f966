#include "lang/text_check.h"

#include <cstdint>

#include <array>

namespace rampart {

namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

std::string code_point_text(std::uint32_t code) {
  constexpr std::string_view kDigits = "0123456789ABCDEF";
  std::string text = "U+";
  const int first_shift = code > 0xFFFFU ? 20 : 12;
  for (int shift = first_shift; shift >= 0; shift -= 4) text += kDigits[(code >> shift) & 0xFU];
  return text;
}

struct Decoded {
  std::size_t length = 0;  // 0: no well-formed sequence stands here
  std::uint32_t code = 0;
};

// Well-formed sequences only: no overlong forms, no surrogates, nothing above U+10FFFF.
Decoded decode(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) -> std::uint32_t {
    return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) : 0U;
  };
  const auto continues = [&](std::size_t i) { return (byte(i) & 0xC0U) == 0x80U; };
  const std::uint32_t lead = byte(0);
  if (lead >= 0xC2U && lead <= 0xDFU && continues(1)) return {2, (lead & 0x1FU) << 6U | (byte(1) & 0x3FU)};
  if (lead >= 0xE0U && lead <= 0xEFU && continues(1) && continues(2)) {
    const std::uint32_t code = (lead & 0x0FU) << 12U | (byte(1) & 0x3FU) << 6U | (byte(2) & 0x3FU);
    const bool surrogate = code >= 0xD800U && code <= 0xDFFFU;
    if (code >= 0x800U && !surrogate) return {3, code};
  }
  if (lead >= 0xF0U && lead <= 0xF4U && continues(1) && continues(2) && continues(3)) {
    const std::uint32_t code =
        (lead & 0x07U) << 18U | (byte(1) & 0x3FU) << 12U | (byte(2) & 0x3FU) << 6U | (byte(3) & 0x3FU);
    if (code >= 0x10000U && code <= 0x10FFFFU) return {4, code};
  }
  return {};
}

bool turns_direction(std::uint32_t code) {
  return (code >= 0x202AU && code <= 0x202EU) || (code >= 0x2066U && code <= 0x2069U);
}

TextFault control_fault(std::size_t at, std::size_t length, std::uint32_t code) {
  if (code == 0) {
    return {at, at + 1, "a NUL byte, as in a binary file", "a profile is a text file in UTF-8", false};
  }
  if (code == '\r') return {at, at + 1, "a carriage return without a newline", "end lines with LF or CR LF", false};
  return {at, at + length, "the control character " + code_point_text(code), "remove the character", false};
}

}  // namespace

std::optional<TextFault> find_text_fault(std::string_view text) {
  if (text.starts_with(kByteOrderMark)) {
    return TextFault{0, kByteOrderMark.size(), "a byte-order mark", "save the file as UTF-8 without byte-order mark",
                     true};
  }
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    return TextFault{0, 2, "the byte-order mark of UTF-16", "save the file as UTF-8", false};
  }
  if (const std::size_t at = text.find('\0'); at != std::string_view::npos) return control_fault(at, 1, 0);
  for (std::size_t at = 0; at < text.size();) {
    const auto c = static_cast<unsigned char>(text[at]);
    if (c >= 0x80U) {
      const Decoded character = decode(text, at);
      if (character.length == 0) {
        return TextFault{at, at + 1, "bytes that are no UTF-8", "save the file as UTF-8", false};
      }
      if (character.code < 0xA0U) return control_fault(at, character.length, character.code);
      if (turns_direction(character.code)) {
        return TextFault{at, at + character.length,
                         "the character " + code_point_text(character.code) + ", which turns the direction of writing",
                         "remove the character: it can hide what a line says", false};
      }
      at += character.length;
      continue;
    }
    const bool line_end = c == '\n' || (c == '\r' && at + 1 < text.size() && text[at + 1] == '\n');
    if ((c < 0x20U && c != '\t' && !line_end) || c == 0x7FU) return control_fault(at, 1, c);
    ++at;
  }
  return std::nullopt;
}

}  // namespace rampart
