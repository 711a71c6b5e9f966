#include "compiler/yaml/file_text.h"

#include "lang/findings/files.h"
#include "lang/text/character.h"

namespace rampart {
namespace {

bool lays_out(std::uint32_t code) {
  return code == '\t' || code == '\n' || code == '\r';
}

}  // namespace

bool check_file_text(std::string_view text, FileId file, FindingSink& findings) {
  for (std::size_t i = 0; i < text.size();) {
    const auto [length, code, valid] = character_at(text, i);
    const Span place{file, static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(i + length)};
    if (!valid) {
      findings.report(finding::FileNotUtf8, place).hint("save the file as UTF-8");
      return false;
    }
    const bool is_mark = code == 0xFEFFU && i == 0;
    if (is_hidden(code) && !lays_out(code) && !is_mark) {
      findings.report(finding::FileControlCharacter, place).hint("remove it");
      return false;
    }
    i += length;
  }
  return true;
}

bool has_hidden(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto [length, code, valid] = character_at(text, i);
    if (!valid || (is_hidden(code) && !lays_out(code))) return true;
    i += length;
  }
  return false;
}

std::string shown_text(std::string_view text) {
  constexpr std::size_t kShownBytes = 60;
  std::string shown;
  for (std::size_t i = 0; i < text.size();) {
    const auto [length, code, valid] = character_at(text, i);
    if (shown.size() + length > kShownBytes) return shown + "…";
    shown += is_hidden(code) ? std::string_view(" ") : text.substr(i, length);
    i += length;
  }
  return shown;
}

}  // namespace rampart
