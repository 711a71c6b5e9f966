#include <algorithm>

#include "lang/syntax/expected.h"
#include "lang/syntax/scanner.h"
#include "runtime/editor/outline.h"

namespace rampart::editor {
namespace {

WordKind word_kind(SymbolKind kind) {
  switch (kind) {
    case SymbolKind::Rail:
      return WordKind::Rail;
    case SymbolKind::Line:
    case SymbolKind::TriggerLine:
      return WordKind::Line;
    case SymbolKind::Sequence:
      return WordKind::Sequence;
    case SymbolKind::Supply:
    case SymbolKind::Channel:
    case SymbolKind::Output:
      return WordKind::Channel;
    case SymbolKind::Parameter:
    case SymbolKind::Argument:
      return WordKind::Parameter;
    case SymbolKind::Mark:
    case SymbolKind::Fault:
      return WordKind::Mark;
    default:
      return WordKind::Value;
  }
}

class Colouring {
 public:
  explicit Colouring(const View& view) : view_(view), words_(keywords_of(view.text->text())) {}

  std::vector<ColouredWord> run() {
    const std::string_view text = view_.text->text();
    const char* const end = text.data() + text.size();
    for (scan::Token token = scan::token_at(text.data(), end); token.kind != scan::TokenKind::End;
         token = scan::token_at(token.text.data() + token.text.size(), end)) {
      const auto begin = static_cast<std::uint32_t>(token.text.data() - text.data());
      add({view_.text->id(), begin, begin + static_cast<std::uint32_t>(token.text.size())}, token.kind);
    }
    return std::move(result_);
  }

 private:
  void add(const Span& span, scan::TokenKind kind) {
    switch (kind) {
      case scan::TokenKind::Comment:
        return result_.push_back({span, WordKind::Comment});
      case scan::TokenKind::Number:
        return result_.push_back({span, WordKind::Number});
      case scan::TokenKind::Text:
        return result_.push_back({span, WordKind::Text});
      case scan::TokenKind::Word:
        return add_word(span);
      default:
        return;
    }
  }

  void add_word(const Span& span) {
    const SymbolIndex* index = view_.now != nullptr ? &view_.now->names : view_.alone;
    const Occurrence* found = index != nullptr ? index->at(span.file, span.begin) : nullptr;
    if (found != nullptr && found->span == span) {
      result_.push_back({span, word_kind((*index)[found->symbol].kind), found->defines});
    } else if (std::binary_search(words_.begin(), words_.end(), std::pair(span.begin, span.end))) {
      result_.push_back({span, WordKind::Keyword});
    }
  }

  const View& view_;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> words_;
  std::vector<ColouredWord> result_;
};

}  // namespace

std::vector<ColouredWord> coloured_words(const View& view) {
  return view.kind == FileKind::Profile ? Colouring(view).run() : std::vector<ColouredWord>{};
}

}  // namespace rampart::editor
