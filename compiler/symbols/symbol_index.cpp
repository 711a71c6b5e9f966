#include "compiler/symbols/symbol_index.h"

#include <algorithm>
#include <tuple>

namespace rampart {

std::string_view symbol_kind_name(SymbolKind kind) {
  switch (kind) {
    case SymbolKind::Parameter:
      return "parameter";
    case SymbolKind::Value:
      return "value";
    case SymbolKind::Rail:
      return "rail";
    case SymbolKind::Line:
      return "line";
    case SymbolKind::Sequence:
      return "sequence";
    case SymbolKind::Argument:
      return "argument";
    case SymbolKind::Variable:
      return "variable";
    case SymbolKind::Mark:
      return "mark";
    case SymbolKind::Supply:
      return "supply";
    case SymbolKind::Channel:
      return "channel";
    case SymbolKind::Output:
      return "output";
    case SymbolKind::TriggerLine:
      return "trigger line";
    case SymbolKind::Element:
      return "element";
    case SymbolKind::Fault:
      return "fault";
  }
  return "";
}

SymbolId SymbolIndex::define(Symbol symbol) {
  const auto id = SymbolId{static_cast<std::uint32_t>(symbols_.size())};
  if (symbol.path.empty()) symbol.path = symbol.name;
  by_path_.try_emplace({symbol.kind, symbol.path}, id);
  use(id, symbol.definition, true);
  symbols_.push_back(std::move(symbol));
  return id;
}

void SymbolIndex::use(SymbolId symbol, const Span& span, bool defines) {
  in_order_ = false;
  occurrences_.push_back({span, symbol, defines});
}

void SymbolIndex::add_value(SymbolId symbol, std::string text) {
  Symbol& one = symbols_[static_cast<std::size_t>(symbol)];
  if (std::find(one.values.begin(), one.values.end(), text) != one.values.end()) return;
  one.has_more_values = one.values.size() == kMaxSymbolValues;
  if (!one.has_more_values) one.values.push_back(std::move(text));
}

std::optional<SymbolId> SymbolIndex::find(SymbolKind kind, std::string_view path) const {
  const auto found = by_path_.find(std::pair(kind, std::string(path)));
  return found == by_path_.end() ? std::nullopt : std::optional(found->second);
}

const std::vector<Occurrence>& SymbolIndex::occurrences() const {
  const auto key = [](const Occurrence& one) { return std::tuple(one.span.file, one.span.begin, one.span.end); };
  if (!in_order_) {
    std::stable_sort(occurrences_.begin(), occurrences_.end(),
                     [&](const Occurrence& a, const Occurrence& b) { return key(a) < key(b); });
    occurrences_.erase(std::unique(occurrences_.begin(), occurrences_.end(),
                                   [](const Occurrence& a, const Occurrence& b) { return a.span == b.span; }),
                       occurrences_.end());
  }
  in_order_ = true;
  return occurrences_;
}

const Occurrence* SymbolIndex::at(FileId file, std::uint32_t offset) const {
  const std::vector<Occurrence>& all = occurrences();
  const auto after = std::upper_bound(all.begin(), all.end(), std::pair(file, offset),
                                      [](const std::pair<FileId, std::uint32_t>& place, const Occurrence& one) {
                                        return place < std::pair(one.span.file, one.span.begin);
                                      });
  if (after == all.begin()) return nullptr;
  const Occurrence& before = *std::prev(after);
  return before.span.file == file && offset <= before.span.end ? &before : nullptr;
}

const CalculatedValue* SymbolIndex::calculated_at(FileId file, std::uint32_t offset) const {
  const CalculatedValue* innermost = nullptr;
  for (const CalculatedValue& one : calculated_) {
    if (one.span.file != file || offset < one.span.begin || offset > one.span.end) continue;
    const bool is_inner =
        innermost == nullptr || one.span.end - one.span.begin < innermost->span.end - innermost->span.begin;
    if (is_inner) innermost = &one;
  }
  return innermost;
}

}  // namespace rampart
