#include "lang/text/text_check.h"

#include <algorithm>
#include <array>
#include <cstdint>

#include "lang/text/character.h"

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

// The keys that a bench or a load begins with, or may: none is followed by a colon in a profile.
struct YamlKey {
  std::string_view key;
  std::string_view what;
  std::string_view hint;
};
constexpr std::string_view kNameBench = "name it in a profile, `bench \"FILE\"`, or give it with --bench FILE";
constexpr std::string_view kNameLoad = "name it in a profile, `load \"FILE\"`, or give it with --load FILE";
constexpr YamlKey kYamlKeys[] = {{"bench:", "a bench instead of a profile", kNameBench},
                                 {"supplies:", "a bench instead of a profile", kNameBench},
                                 {"load:", "a load instead of a profile", kNameLoad},
                                 {"rails:", "a load instead of a profile", kNameLoad},
                                 {"faults:", "a load instead of a profile", kNameLoad}};

// Of the first line that says something.
std::optional<TextFault> yaml_fault(std::string_view text) {
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    const std::string_view line = text.substr(at, end - at);
    const bool says_nothing = line.find_first_not_of(" \t\r") == std::string_view::npos;
    if (!says_nothing && !line.starts_with('#') && !line.starts_with("---")) break;
    at = end + 1;
  }
  if (at >= text.size()) return std::nullopt;
  for (const YamlKey& known : kYamlKeys) {
    if (!text.substr(at).starts_with(known.key)) continue;
    return TextFault{at, at + known.key.size(), std::string(known.what), std::string(known.hint), false};
  }
  return std::nullopt;
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
  const auto is_plain = [](char c) { return (c >= ' ' && c <= '~') || c == '\n'; };
  for (std::size_t at = 0; at < text.size();) {
    if (is_plain(text[at])) {
      ++at;
      continue;
    }
    const auto c = static_cast<unsigned char>(text[at]);
    if (c >= 0x80U) {
      const Character character = character_at(text, at);
      if (!character.valid) {
        return TextFault{at, at + 1, "bytes that are not valid UTF-8", "save the file as UTF-8", false};
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
  return yaml_fault(text);
}

}  // namespace rampart
