#include "runtime/answer/loop_text.h"

#include "lang/values/quantity.h"

namespace rampart {

std::string added_passes_text(const FoldedLoop& loop) {
  std::string text;
  const auto add = [&](std::int64_t count, const char* one, const char* many) {
    if (count == 0) return;
    if (!text.empty()) text += "; ";
    text += count == 1 ? std::string("1 more ") + one : std::to_string(count) + " more " + many;
  };
  add(loop.added - loop.drifting, "is identical and was added in one step", "are identical and were added in one step");
  add(loop.drifting, "drifts slowly and was added as well", "drift slowly and were added by powers of a pass");
  if (loop.drifting > 0) text += ", right to " + to_text(100 * loop.error, "%") + " of the largest values";
  return text;
}

}  // namespace rampart
