#include "runtime/starter/starter.h"

#include <algorithm>

#include "lang/text/text_check.h"
#include "runtime/starter/templates.h"

namespace rampart {
namespace {

constexpr std::string_view kPlaceholder = "@NAME@";

bool is_letter_or_digit(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
         static_cast<unsigned char>(c) >= 0x80U;
}

std::string filled_in(std::string_view text, std::string_view name) {
  std::string result;
  std::size_t at = 0;
  for (std::size_t next = text.find(kPlaceholder); next != std::string_view::npos; next = text.find(kPlaceholder, at)) {
    result += text.substr(at, next - at);
    result += name;
    at = next + kPlaceholder.size();
  }
  return result += text.substr(at);
}

}  // namespace

std::string job_name_fault(std::string_view name) {
  if (name.empty()) return "the name is empty";
  if (name.size() > kLongestJobName) {
    return "the name is longer than " + std::to_string(kLongestJobName) + " bytes";
  }
  if (name.front() == '-' || name.front() == '.') return "a name cannot begin with `-` or `.`";
  const bool has_blank = name.find_first_of(" \t") != std::string_view::npos;
  if (has_blank) return "a name has no blanks: put `-` between words";
  const bool is_plain = std::all_of(name.begin(), name.end(),
                                    [](char c) { return is_letter_or_digit(c) || c == '-' || c == '_' || c == '.'; });
  if (!is_plain || find_text_fault(name)) return "a name consists of letters, digits, `-`, `_` and `.`";
  return {};
}

std::vector<StarterFile> starter_files(std::string_view name) {
  const std::string base(name);
  return {{base + ".ramp", filled_in(starter::profile_template(), name)},
          {base + ".bench.yaml", filled_in(starter::bench_template(), name)},
          {base + ".load.yaml", filled_in(starter::load_template(), name)}};
}

}  // namespace rampart
