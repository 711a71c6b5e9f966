#include "runtime/editor/outline.h"

#include <algorithm>

#include "lang/syntax/bodies.h"
#include "lang/text/overloaded.h"

namespace rampart::editor {
namespace {

// From the start of the word to its end, for what has no name of its own.
Span first_word(const Span& whole, std::size_t length) {
  const auto end = std::min<std::size_t>(whole.end, whole.begin + length);
  return {whole.file, whole.begin, static_cast<std::uint32_t>(end)};
}

void add_marks(const ast::Block& block, std::vector<OutlineItem>& into) {
  for (const ast::Statement& statement : block.statements) {
    if (const auto* mark = std::get_if<ast::Boxed<ast::Mark>>(&statement.what)) {
      const ast::Text& name = (**mark).name.text;
      into.push_back({name.value, "mark", OutlineKind::Mark, statement.span, name.span, {}});
    }
    if (const ast::Block* body = ast::body_of(statement)) add_marks(*body, into);
  }
}

std::string parameters_text(const ast::Sequence& sequence) {
  std::string text;
  for (const ast::Name& name : sequence.parameters) text += (text.empty() ? "" : ", ") + std::string(name.text);
  return text.empty() ? "" : "(" + text + ")";
}

void add_declaration(const SourceSet& sources, const ast::Declaration& declaration, std::vector<OutlineItem>& into) {
  const Span& whole = declaration.span;
  const auto named = [&](const ast::Name& name, std::string detail, OutlineKind kind) {
    into.push_back({std::string(name.text), std::move(detail), kind, whole, name.span, {}});
  };
  const auto block = [&](const char* word, OutlineKind kind) {
    into.push_back({word, "", kind, whole, first_word(whole, std::string_view(word).size()), {}});
    add_marks(*ast::body_of(declaration), into.back().parts);
  };
  std::visit(
      Overloaded{
          [&](const ast::Parameter& one) {
            named(one.name, std::string(sources.text(one.value.span())), OutlineKind::Value);
          },
          [&](const ast::Let& one) {
            named(one.name, std::string(sources.text(one.value.span())), OutlineKind::Value);
          },
          [&](const ast::Rail& one) { named(one.name, "on " + std::string(one.channel.text), OutlineKind::Rail); },
          [&](const ast::Line& one) { named(one.name, "on " + std::string(one.channel.text), OutlineKind::Line); },
          [&](const ast::Protect& one) {
            into.push_back(
                {"protect " + std::string(one.rail.text), "", OutlineKind::Protection, whole, one.rail.span, {}});
          },
          [&](const ast::Rule& one) {
            into.push_back({one.name.text.value, "rule", OutlineKind::Rule, whole, one.name.text.span, {}});
          },
          [&](const ast::Sequence& one) {
            named(one.name, parameters_text(one), OutlineKind::Sequence);
            add_marks(one.body, into.back().parts);
          },
          [&](const ast::Run&) { block("run", OutlineKind::Run); },
          [&](const ast::Safe&) { block("safe", OutlineKind::Run); },
          [&](const ast::Expect&) {
            into.push_back(
                {std::string(sources.text(whole)), "", OutlineKind::Expectation, whole, first_word(whole, 6), {}});
          },
          [](const auto&) {}},
      declaration.what);
}

OutlineKind outline_kind(SymbolKind kind) {
  switch (kind) {
    case SymbolKind::Supply:
      return OutlineKind::Supply;
    case SymbolKind::Channel:
    case SymbolKind::Output:
      return OutlineKind::Channel;
    case SymbolKind::TriggerLine:
      return OutlineKind::Line;
    case SymbolKind::Rail:
      return OutlineKind::Rail;
    default:
      return OutlineKind::Value;
  }
}

// The names that a bench or load file gives, one after another.
std::vector<OutlineItem> file_outline(const View& view) {
  std::vector<OutlineItem> items;
  const SymbolIndex* index = view.now != nullptr ? &view.now->names : view.alone;
  if (index == nullptr) return items;
  for (const Occurrence& one : index->occurrences()) {
    if (!one.defines || one.span.file != view.text->id()) continue;
    const Symbol& symbol = (*index)[one.symbol];
    items.push_back(
        {symbol.name, std::string(symbol_kind_name(symbol.kind)), outline_kind(symbol.kind), one.span, one.span, {}});
  }
  return items;
}

void add_folds(const ast::Block& block, std::vector<Fold>& into) {
  for (const ast::Statement& statement : block.statements) {
    const ast::Block* body = ast::body_of(statement);
    if (body == nullptr) continue;
    into.push_back({statement.span, false});
    add_folds(*body, into);
  }
}

// Comments that fill lines one below the other fold together.
void add_comments(const SourceFile& text, const std::vector<ast::Comment>& comments, std::vector<Fold>& into) {
  std::optional<Fold> open;
  std::uint32_t last_line = 0;
  for (const ast::Comment& comment : comments) {
    const Position at = text.position(comment.span.begin);
    const std::string_view line = text.line(at.line);
    const bool is_alone = line.find_first_not_of(" \t") == line.find('#');
    if (open && is_alone && at.line == last_line + 1) {
      open->span.end = comment.span.end;
    } else {
      if (open) into.push_back(*open);
      open = is_alone ? std::optional(Fold{comment.span, true}) : std::nullopt;
    }
    last_line = at.line;
  }
  if (open) into.push_back(*open);
}

// By indentation: a line and the deeper ones below it.
std::vector<Fold> file_folds(const SourceFile& text) {
  std::vector<Fold> result;
  std::vector<std::pair<std::size_t, Span>> open;  // by their indentation
  const auto close = [&](std::size_t indentation) {
    while (!open.empty() && open.back().first >= indentation) {
      result.push_back({open.back().second, false});
      open.pop_back();
    }
  };
  for (std::uint32_t number = 1; number <= text.line_count(); ++number) {
    const std::string_view line = text.line(number);
    const std::size_t indentation = line.find_first_not_of(' ');
    if (indentation == std::string_view::npos || line[indentation] == '#') continue;
    close(indentation);
    const auto begin = static_cast<std::uint32_t>(line.data() - text.text().data());
    const auto end = begin + static_cast<std::uint32_t>(line.size());
    for (auto& [depth, span] : open) span.end = end;
    open.emplace_back(indentation, Span{text.id(), begin, end});
  }
  close(0);
  return result;
}

}  // namespace

std::vector<OutlineItem> outline(const View& view) {
  if (view.kind != FileKind::Profile || view.now == nullptr) return file_outline(view);
  std::vector<OutlineItem> items;
  const ast::Profile* tree = view.now->compiled.tree(view.text->id());
  if (tree == nullptr) return items;
  for (const ast::Declaration& one : tree->declarations) add_declaration(view.now->texts(), one, items);
  return items;
}

std::vector<Fold> folds(const View& view) {
  std::vector<Fold> all;
  if (view.kind != FileKind::Profile) {
    all = file_folds(*view.text);
  } else if (const ast::Profile* tree = view.now != nullptr ? view.now->compiled.tree(view.text->id()) : nullptr) {
    for (const ast::Declaration& declaration : tree->declarations) {
      all.push_back({declaration.span, false});
      if (const ast::Block* body = ast::body_of(declaration)) add_folds(*body, all);
    }
    add_comments(*view.text, tree->comments, all);
  }
  std::erase_if(all, [&](const Fold& fold) {
    return view.text->position(fold.span.begin).line == view.text->position(fold.span.end).line;
  });
  return all;
}

}  // namespace rampart::editor
