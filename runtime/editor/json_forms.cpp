#include "runtime/editor/json_forms.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "runtime/editor/inlay_hints.h"

namespace rampart::editor {
namespace {

Json place_json(const Place& place) {
  return {{"line", place.line}, {"character", place.column}};
}

Json range_json(const PlaceRange& range) {
  return {{"start", place_json(range.start)}, {"end", place_json(range.end)}};
}

// Numbers of LSP 3.17: DiagnosticSeverity.
int severity_number(Severity severity) {
  switch (severity) {
    case Severity::Error:
      return 1;
    case Severity::Warning:
      return 2;
    case Severity::Note:
      return 3;
  }
  return 3;
}

// CompletionItemKind.
int completion_number(CompletionKind kind) {
  switch (kind) {
    case CompletionKind::Word:
      return 14;  // Keyword
    case CompletionKind::Value:
      return 21;  // Constant
    case CompletionKind::Rail:
      return 6;  // Variable
    case CompletionKind::Line:
      return 23;  // Event
    case CompletionKind::Sequence:
    case CompletionKind::Function:
      return 3;  // Function
    case CompletionKind::Channel:
      return 5;  // Field
    case CompletionKind::Unit:
      return 11;  // Unit
    case CompletionKind::Operator:
      return 24;  // Operator
    case CompletionKind::Text:
      return 1;  // Text
    case CompletionKind::File:
      return 17;  // File
  }
  return 1;
}

// SymbolKind.
int outline_number(OutlineKind kind) {
  switch (kind) {
    case OutlineKind::Value:
      return 14;  // Constant
    case OutlineKind::Rail:
      return 13;  // Variable
    case OutlineKind::Line:
    case OutlineKind::Mark:
      return 24;  // Event
    case OutlineKind::Protection:
      return 7;  // Property
    case OutlineKind::Rule:
    case OutlineKind::Expectation:
      return 17;  // Boolean
    case OutlineKind::Sequence:
    case OutlineKind::Run:
      return 12;  // Function
    case OutlineKind::Supply:
      return 5;  // Class
    case OutlineKind::Channel:
      return 8;  // Field
    case OutlineKind::File:
      return 1;
  }
  return 13;
}

// The legend of semantic tokens: token types of LSP 3.17.
constexpr const char* kColours[] = {"keyword",   "number",   "string", "comment", "variable",
                                    "parameter", "property", "event",  "function"};

// The place in the legend.
int colour_number(WordKind kind) {
  switch (kind) {
    case WordKind::Keyword:
      return 0;
    case WordKind::Number:
      return 1;
    case WordKind::Text:
      return 2;
    case WordKind::Comment:
      return 3;
    case WordKind::Value:
    case WordKind::Rail:
      return 4;
    case WordKind::Parameter:
      return 5;
    case WordKind::Channel:
      return 6;
    case WordKind::Line:
    case WordKind::Mark:
      return 7;
    case WordKind::Sequence:
      return 8;
  }
  return 4;
}

constexpr int kDeclarationBit = 1;
constexpr int kReadonlyBit = 2;

bool is_constant(WordKind kind) {
  return kind == WordKind::Value || kind == WordKind::Parameter;
}

}  // namespace

Place place_of(const Json& json) {
  const auto number = [](const Json& value) {
    constexpr Json::number_unsigned_t kMost = 0x7FFFFFFFU;  // uinteger of LSP 3.17
    return static_cast<std::uint32_t>(std::min(kMost, value.get_ref<const Json::number_unsigned_t&>()));
  };
  return {number(json.at("line")), number(json.at("character"))};
}

PlaceRange range_of(const Json& json) {
  return {place_of(json.at("start")), place_of(json.at("end"))};
}

std::int64_t integer_of(const Json& json) {
  return json.is_number_integer() ? json.get<std::int64_t>() : json.get_ref<const Json::number_integer_t&>();
}

Json range_json(const SourceFile& text, const Span& span, Encoding encoding) {
  Places places(text, encoding);
  return range_json(places.range(span));
}

Json diagnostic_json(const Workspace& workspace, const PlacedFinding& placed, const ClientAbilities& abilities) {
  const auto& [finding, texts] = placed;
  Json json{{"range", range_json((*texts)[finding.span.file], finding.span, abilities.encoding)},
            {"severity", severity_number(finding.severity)},
            {"code", finding.name},
            {"source", "rampart"},
            {"message", finding.message + (finding.hint.empty() ? "" : "\n" + finding.hint)}};
  if (abilities.related_information && !finding.notes.empty()) {
    Json related = Json::array();
    for (const FindingNote& note : finding.notes) {
      const SourceFile& text = (*texts)[note.span.file];
      related.push_back(
          {{"location",
            {{"uri", workspace.uri_of(text.name())}, {"range", range_json(text, note.span, abilities.encoding)}}},
           {"message", note.message}});
    }
    json["relatedInformation"] = std::move(related);
  }
  return json;
}

Json completion_json(const View& view, const Completion& completion, Encoding encoding) {
  Json items = Json::array();
  const Json range = range_json(*view.text, completion.replaced, encoding);
  for (const CompletionItem& item : completion.items) {
    std::string order = std::to_string(items.size());
    order.insert(0, 4 - std::min<std::size_t>(4, order.size()), '0');
    Json json{{"label", item.label},
              {"kind", completion_number(item.kind)},
              {"sortText", order},
              {"textEdit", {{"range", range}, {"newText", item.text}}}};
    if (item.text != item.label) json["filterText"] = item.text;
    if (!item.detail.empty()) json["detail"] = item.detail;
    items.push_back(std::move(json));
  }
  return {{"isIncomplete", false}, {"items", std::move(items)}};
}

Json outline_json(const View& view, const std::vector<OutlineItem>& items, Encoding encoding) {
  Json list = Json::array();
  for (const OutlineItem& item : items) {
    Json json{{"name", item.name.empty() ? " " : item.name},
              {"kind", outline_number(item.kind)},
              {"range", range_json(*view.text, item.whole, encoding)},
              {"selectionRange", range_json(*view.text, item.name_span, encoding)}};
    if (!item.detail.empty()) json["detail"] = item.detail;
    if (!item.parts.empty()) json["children"] = outline_json(view, item.parts, encoding);
    list.push_back(std::move(json));
  }
  return list;
}

Json flat_outline_json(const std::string& uri, const View& view, const std::vector<OutlineItem>& items,
                       Encoding encoding) {
  Json list = Json::array();
  for (const OutlineItem& item : items) {
    list.push_back({{"name", item.name.empty() ? " " : item.name},
                    {"kind", outline_number(item.kind)},
                    {"location", {{"uri", uri}, {"range", range_json(*view.text, item.whole, encoding)}}}});
    for (Json& part : flat_outline_json(uri, view, item.parts, encoding)) list.push_back(std::move(part));
  }
  return list;
}

Json folds_json(const View& view, const std::vector<Fold>& folds) {
  Json list = Json::array();
  for (const Fold& fold : folds) {
    Json json{{"startLine", view.text->position(fold.span.begin).line - 1},
              {"endLine", view.text->position(fold.span.end).line - 1}};
    if (fold.is_comment) json["kind"] = "comment";
    list.push_back(std::move(json));
  }
  return list;
}

Json colours_json(const View& view, const std::vector<ColouredWord>& words, Encoding encoding) {
  Json data = Json::array();
  Places places(*view.text, encoding);
  Place last;
  for (const ColouredWord& word : words) {
    const Place at = places.at(word.span.begin);
    const std::uint32_t line = at.line - last.line;
    const std::uint32_t column = line == 0 ? at.column - last.column : at.column;
    const std::string_view text = view.text->text().substr(word.span.begin, word.span.end - word.span.begin);
    const int modifiers = (word.declares ? kDeclarationBit : 0) + (is_constant(word.kind) ? kReadonlyBit : 0);
    data.insert(data.end(), {line, column, places.length(text), colour_number(word.kind), modifiers});
    last = at;
  }
  return {{"data", std::move(data)}};
}

Json inlay_hints_json(const View& view, const PlaceRange& range, Encoding encoding) {
  Json list = Json::array();
  Places places(*view.text, encoding);
  const std::uint32_t begin = places.offset(range.start);
  const std::uint32_t end = places.offset(range.end);
  for (const InlayHint& hint : inlay_hints(view, begin, end)) {
    if (hint.offset < begin || hint.offset > end) continue;
    list.push_back({{"position", place_json(places.at(hint.offset))}, {"label", hint.text}, {"paddingLeft", true}});
  }
  return list;
}

Json edits_json(const SourceFile& text, const std::vector<TextEdit>& edits, Encoding encoding) {
  Json list = Json::array();
  for (const TextEdit& edit : edits) {
    list.push_back({{"range", range_json(text, edit.span, encoding)}, {"newText", edit.text}});
  }
  return list;
}

Json workspace_edit_json(const Workspace& workspace, const std::vector<FileEdits>& files, Encoding encoding) {
  Json changes = Json::object();
  for (const FileEdits& file : files) {
    changes[workspace.uri_of(file.text->name())] = edits_json(*file.text, file.edits, encoding);
  }
  return {{"changes", std::move(changes)}};
}

Json location_json(const Workspace& workspace, const PlaceInFile& place, Encoding encoding) {
  return {{"uri", workspace.uri_of(place.text->name())}, {"range", range_json(*place.text, place.span, encoding)}};
}

Json abilities_json(const ClientAbilities& client) {
  static constexpr const char* kEncodings[] = {"utf-8", "utf-16", "utf-32"};
  return {{"positionEncoding", kEncodings[static_cast<int>(client.encoding)]},
          {"textDocumentSync", {{"openClose", true}, {"change", 2}, {"save", {{"includeText", false}}}}},
          {"hoverProvider", true},
          {"completionProvider", {{"triggerCharacters", {".", "\"", "("}}}},
          {"definitionProvider", true},
          {"referencesProvider", true},
          {"documentHighlightProvider", true},
          {"documentSymbolProvider", true},
          {"foldingRangeProvider", true},
          {"documentFormattingProvider", true},
          {"inlayHintProvider", true},
          {"renameProvider", client.prepares_rename ? Json{{"prepareProvider", true}} : Json(true)},
          {"codeActionProvider", client.code_action_literals ? Json{{"codeActionKinds", {"quickfix"}}} : Json(true)},
          {"semanticTokensProvider",
           {{"legend", {{"tokenTypes", kColours}, {"tokenModifiers", {"declaration", "readonly"}}}}, {"full", true}}},
          {"workspace", {{"workspaceFolders", {{"supported", true}, {"changeNotifications", true}}}}}};
}

}  // namespace rampart::editor
