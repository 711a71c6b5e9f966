#include "runtime/load/fault_instant.h"

namespace rampart {

std::optional<MarkPart> mark_part(std::string_view text) {
  constexpr std::string_view kMark = "mark ";
  if (!text.starts_with(kMark)) return std::nullopt;
  MarkPart part;
  std::string_view name = text.substr(kMark.size());
  const std::size_t quote = name.starts_with('"') ? name.find('"', 1) : std::string_view::npos;
  const std::size_t from = quote == std::string_view::npos ? 0 : quote + 1;
  const std::size_t plus = name.find('+', from);
  const std::size_t minus = plus == std::string_view::npos ? name.find(" - ", from) : std::string_view::npos;
  if (const std::size_t sign = plus != std::string_view::npos ? plus : minus; sign != std::string_view::npos) {
    part.is_before = sign == minus;
    part.time = kMark.size() + sign + (part.is_before ? 2 : 1);
    name = name.substr(0, sign);
  }
  while (name.ends_with(' ')) name.remove_suffix(1);
  while (name.starts_with(' ')) name.remove_prefix(1);
  if (name.size() > 1 && name.front() == '"' && name.back() == '"') name = name.substr(1, name.size() - 2);
  if (name.empty()) return std::nullopt;
  part.name = name;
  part.begin = static_cast<std::size_t>(name.data() - text.data());
  return part;
}

}  // namespace rampart
