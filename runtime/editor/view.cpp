#include "runtime/editor/view.h"

#include "runtime/editor/text_change.h"

namespace rampart::editor {

std::optional<NameAt> name_at(const View& view, std::uint32_t offset) {
  const SymbolIndex* index = view.now != nullptr ? &view.now->names : view.alone;
  if (index == nullptr) return std::nullopt;
  if (const Occurrence* found = index->at(view.text->id(), offset)) return NameAt{index, found->symbol, found->span};
  if (view.whole == nullptr || view.whole_text == nullptr || view.whole == view.now) return std::nullopt;
  const TextChange change(view.whole_text->text(), view.text->text());
  const std::optional<std::uint32_t> before = change.before(offset);
  if (!before) return std::nullopt;
  const Occurrence* old = view.whole->names.at(view.whole_text->id(), *before);
  const std::optional<Span> span = old != nullptr ? change.after(old->span, view.text->id()) : std::nullopt;
  if (!span) return std::nullopt;
  return NameAt{&view.whole->names, old->symbol, *span, true};
}

const SymbolIndex* names_of(const View& view) {
  if (view.now == nullptr) return view.alone;
  const bool knows_more =
      view.whole != nullptr && view.whole->names.symbols().size() > view.now->names.symbols().size();
  return knows_more ? &view.whole->names : &view.now->names;
}

std::optional<Span> whole_span(const View& view, const Span& now) {
  if (view.whole == nullptr || view.whole_text == nullptr) return std::nullopt;
  const TextChange change(view.text->text(), view.whole_text->text());
  return change.after(now, view.whole_text->id());
}

}  // namespace rampart::editor
