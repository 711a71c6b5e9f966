#include "runtime/editor/inlay_hints.h"

#include <algorithm>

#include "runtime/editor/hover.h"
#include "runtime/editor/text_change.h"

namespace rampart::editor {
namespace {

std::string hint_text(const StatementTime& time) {
  std::string text = instant_text(time.begin);
  if (time.is_least) return text + ", many times";
  return time.times > 1 ? text + ", " + std::to_string(time.times) + " times" : text;
}

}  // namespace

std::vector<InlayHint> inlay_hints(const View& view, std::uint32_t begin, std::uint32_t end) {
  std::vector<InlayHint> hints;
  if (view.now == nullptr || view.kind != FileKind::Profile) return hints;
  const bool is_whole = view.now->compiled.run_timeline() != nullptr;
  const Analysis* analysis = is_whole ? view.now.get() : view.whole.get();
  const TextPtr& text = is_whole ? view.text : view.whole_text;
  if (analysis == nullptr || text == nullptr) return hints;
  const TextChange change(text->text(), view.text->text());
  for (const auto& [key, time] : analysis->times.all()) {
    const auto& [file, offsets] = key;
    if (file != text->id()) continue;
    const auto span = change.after(Span{file, offsets.first, offsets.second}, view.text->id());
    if (!span || span->end < begin || span->begin > end) continue;
    // A block says its time where its line ends.
    const std::size_t newline = view.text->text().find('\n', span->begin);
    const auto line_end = static_cast<std::uint32_t>(std::min<std::size_t>(newline, view.text->text().size()));
    hints.push_back({std::min(span->end, line_end), hint_text(time)});
  }
  std::stable_sort(hints.begin(), hints.end(), [](const auto& a, const auto& b) { return a.offset < b.offset; });
  return hints;
}

}  // namespace rampart::editor
