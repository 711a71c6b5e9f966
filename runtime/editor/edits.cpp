#include "runtime/editor/edits.h"

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

#include "lang/syntax/format.h"
#include "lang/syntax/parse.h"
#include "lang/syntax/scanner.h"
#include "runtime/editor/text_change.h"

namespace rampart::editor {
namespace {

constexpr std::size_t kLongestName = 64;

// What a name of this kind may be written as; empty if it may.
std::string refuse_spelling(SymbolKind kind, const std::string& name) {
  if (kind == SymbolKind::Mark) {
    const bool plain = std::all_of(name.begin(), name.end(), [](char c) {
      return scan::is_word_part(c) || scan::is_wide(c) || c == ' ' || c == '.' || c == '-';
    });
    const bool fits =
        plain && !name.empty() && name.find(" - ") == std::string::npos && name.front() != ' ' && name.back() != ' ';
    return fits ? "" : "a mark has a name of letters, digits, blanks, `_`, `-` and `.`";
  }
  const std::string_view word = scan::word_at(name.data(), name.data() + name.size());
  if (word.empty() || word.size() != name.size() || name.size() > kLongestName) {
    return "a name has up to 64 letters a to z, digits and `_`, and no digit first";
  }
  if (scan::is_reserved(name)) return "`" + name + "` is a word of the language and cannot be a name";
  return "";
}

std::string edited(const FileEdits& file) {
  std::string text(file.text->text());
  for (auto edit = file.edits.rbegin(); edit != file.edits.rend(); ++edit) {
    text.replace(edit->span.begin, edit->span.end - edit->span.begin, edit->text);
  }
  return text;
}

// The first error that a profile has with the edits and not without them; empty if there is none.
std::string new_error(const Analysis& user, const std::vector<FileEdits>& edits, Files& files) {
  HeldTexts changed(files);
  for (const FileEdits& file : edits) changed.hold(file.text->name(), edited(file));
  const AnalysisPtr after = analyse(changed, user.path, {});
  if (after->findings.error_count() <= user.findings.error_count()) return {};
  std::multiset<std::string> known;
  for (const Finding& finding : user.findings.findings()) known.insert(finding.message);
  for (const Finding& finding : after->findings.findings()) {
    if (finding.severity == Severity::Error && !known.contains(finding.message)) return finding.message;
  }
  return "the profile would have more errors";
}

}  // namespace

std::vector<TextEdit> format_edits(const View& view) {
  if (view.kind != FileKind::Profile) return {};
  FindingSink findings;
  const FileId file = findings.texts().add(view.text);
  const ast::Profile tree = parse(findings.texts(), file, findings);
  if (findings.has_errors()) return {};
  const std::string formatted = format_profile(findings.texts(), file, tree);
  const TextChange change(view.text->text(), formatted);
  if (change.is_none() && formatted.size() == view.text->text().size()) return {};
  return {{{file, change.begin(), change.end_before()},
           formatted.substr(change.begin(), change.end_after() - change.begin())}};
}

std::vector<Repair> repairs(const std::vector<Finding>& findings, const Span& range) {
  std::vector<Repair> result;
  for (std::size_t i = 0; i < findings.size(); ++i) {
    const Finding& finding = findings[i];
    const bool touches =
        finding.span.file == range.file && finding.span.begin <= range.end && range.begin <= finding.span.end;
    if (!touches || !finding.instead) continue;
    const std::string title = finding.instead->empty() ? "Remove it" : "Write `" + *finding.instead + "`";
    result.push_back({title, i, {finding.span, *finding.instead}});
  }
  return result;
}

std::optional<DefinedName> defined_name(const SymbolIndex& index, SymbolId id, const SourceSet& texts,
                                        const Files& files) {
  const Symbol& symbol = index[id];
  const std::size_t place = texts.place_of(symbol.definition.file);
  if (symbol.definition.file == FileId{} || place == texts.texts().size()) return std::nullopt;
  return DefinedName{symbol.kind, files.canonical(texts.texts()[place]->name()), symbol.definition.begin};
}

std::vector<PlaceInFile> places_of(const DefinedName& name, const std::vector<AnalysisPtr>& users, const Files& files) {
  std::map<std::tuple<std::string, std::uint32_t, std::uint32_t>, PlaceInFile> places;
  for (const AnalysisPtr& user : users) {
    const auto& texts = user->texts().texts();
    std::map<FileId, std::string> paths;
    for (const TextPtr& text : texts) paths[text->id()] = files.canonical(text->name());
    for (const Occurrence& one : user->names.occurrences()) {
      const Symbol& symbol = user->names[one.symbol];
      const bool is_it = symbol.kind == name.kind && symbol.definition.begin == name.begin &&
                         paths[symbol.definition.file] == name.path;
      const std::size_t place = user->texts().place_of(one.span.file);
      if (!is_it || place == texts.size()) continue;
      places.try_emplace({paths[one.span.file], one.span.begin, one.span.end},
                         PlaceInFile{texts[place], one.span, one.defines});
    }
  }
  std::vector<PlaceInFile> result;
  for (auto& [key, place] : places) result.push_back(std::move(place));
  return result;
}

Renaming rename(const DefinedName& name, const std::vector<AnalysisPtr>& users, const std::string& spelling,
                Files& files) {
  Renaming result;
  result.refused = refuse_spelling(name.kind, spelling);
  if (!result.refused.empty()) return result;
  std::map<std::string, FileEdits> by_file;
  for (const PlaceInFile& place : places_of(name, users, files)) {
    FileEdits& file = by_file[files.canonical(place.text->name())];
    file.text = place.text;
    file.edits.push_back({place.span, spelling});
  }
  for (auto& [path, file] : by_file) result.edits.push_back(std::move(file));
  for (const AnalysisPtr& user : users) {
    const std::string error = new_error(*user, result.edits, files);
    if (!error.empty()) return {error, {}};
  }
  return result;
}

}  // namespace rampart::editor
