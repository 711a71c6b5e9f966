#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/editor/conversation.h"
#include "runtime/editor/hover.h"

namespace rampart::editor {
namespace {

constexpr const char* kNotKnown = "the text is not open";

std::string uri_in(const Json& params) {
  return params.at("textDocument").at("uri").get<std::string>();
}

// A value deep inside an object; null where a part of the way is missing.
Json value_at(const Json& json, std::initializer_list<const char*> way) {
  const Json* at = &json;
  for (const char* key : way) {
    if (!at->is_object() || !at->contains(key)) return nullptr;
    at = &(*at)[key];
  }
  return *at;
}

bool is_set(const Json& json, std::initializer_list<const char*> way) {
  const Json value = value_at(json, way);
  return value.is_boolean() && value.get<bool>();
}

std::uint32_t offset_in(const View& view, const Json& params, Encoding encoding) {
  return Places(*view.text, encoding).offset(place_of(params.at("position")));
}

}  // namespace

const std::map<std::string, Conversation::Handler, std::less<>>& Conversation::requests() {
  static const std::map<std::string, Handler, std::less<>> kRequests{
      {"initialize", &Conversation::initialize},
      {"shutdown", &Conversation::shutdown},
      {"textDocument/hover", &Conversation::hover},
      {"textDocument/completion", &Conversation::completion},
      {"textDocument/definition", &Conversation::definition},
      {"textDocument/references", &Conversation::references},
      {"textDocument/documentHighlight", &Conversation::highlights},
      {"textDocument/prepareRename", &Conversation::prepare_rename},
      {"textDocument/rename", &Conversation::rename},
      {"textDocument/documentSymbol", &Conversation::outline},
      {"textDocument/foldingRange", &Conversation::folds},
      {"textDocument/formatting", &Conversation::formatting},
      {"textDocument/semanticTokens/full", &Conversation::colours},
      {"textDocument/inlayHint", &Conversation::inlay_hints},
      {"textDocument/codeAction", &Conversation::code_actions}};
  return kRequests;
}

Json Conversation::initialize(const Json& params) {
  const Json& client = params.at("capabilities");
  const Json encodings = value_at(client, {"general", "positionEncodings"});
  const bool takes_bytes =
      encodings.is_array() && std::find(encodings.begin(), encodings.end(), Json("utf-8")) != encodings.end();
  client_.encoding = takes_bytes ? Encoding::Utf8 : Encoding::Utf16;
  client_.hierarchical_outline =
      is_set(client, {"textDocument", "documentSymbol", "hierarchicalDocumentSymbolSupport"});
  client_.code_action_literals =
      value_at(client, {"textDocument", "codeAction", "codeActionLiteralSupport"}).is_object();
  client_.related_information = is_set(client, {"textDocument", "publishDiagnostics", "relatedInformation"});
  client_.diagnostic_versions = is_set(client, {"textDocument", "publishDiagnostics", "versionSupport"});
  client_.prepares_rename = is_set(client, {"textDocument", "rename", "prepareSupport"});
  const Json formats = value_at(client, {"textDocument", "hover", "contentFormat"});
  client_.markdown_hover =
      formats.is_array() && std::find(formats.begin(), formats.end(), Json("markdown")) != formats.end();
  client_.shows_progress = is_set(client, {"window", "workDoneProgress"});
  client_.watches_files = is_set(client, {"workspace", "didChangeWatchedFiles", "dynamicRegistration"});
  const Json folders = value_at(params, {"workspaceFolders"});
  if (folders.is_array()) {
    for (const Json& folder : folders) {
      workspace_.add_folder(Workspace::path_of(folder.at("uri").get<std::string>()));
    }
  } else if (const Json root = value_at(params, {"rootUri"}); root.is_string()) {
    workspace_.add_folder(Workspace::path_of(root.get<std::string>()));
  }
  const Json corners = value_at(params, {"initializationOptions", "corners"});
  corners_ = !corners.is_boolean() || corners.get<bool>();
  predictor_.emplace(
      corners_, [this](PredictionPtr prediction) { inbox_.put(std::move(prediction)); },
      [this](std::uint64_t calls) { inbox_.put(PredictionsTold{calls}); });
  state_ = State::Ready;
  return {{"capabilities", abilities_json(client_)}, {"serverInfo", {{"name", "rampart"}, {"version", version()}}}};
}

Json Conversation::shutdown(const Json&) {
  predictor_.reset();
  state_ = State::ShutDown;
  analyse_at_.reset();
  predict_at_.reset();
  return nullptr;
}

View Conversation::fresh_view(const Json& params) {
  const std::string uri = uri_in(params);
  if (workspace_.document(uri) == nullptr) throw RequestError{ErrorCode::InvalidParams, kNotKnown};
  refresh();
  std::optional<View> view = workspace_.view(uri);
  if (!view) throw RequestError{ErrorCode::InvalidParams, kNotKnown};
  return *std::move(view);
}

Json Conversation::hover(const Json& params) {
  const View view = fresh_view(params);
  const std::optional<Hover> found = editor::hover(view, offset_in(view, params, client_.encoding));
  if (!found) return nullptr;
  std::string text = found->text;
  if (!client_.markdown_hover) std::erase_if(text, [](char c) { return c == '`' || c == '*'; });
  return {{"contents", {{"kind", client_.markdown_hover ? "markdown" : "plaintext"}, {"value", text}}},
          {"range", range_json(*view.text, found->span, client_.encoding)}};
}

Json Conversation::completion(const Json& params) {
  const View view = fresh_view(params);
  const std::uint32_t offset = offset_in(view, params, client_.encoding);
  const std::string folder = std::filesystem::path(view.path).parent_path().string();
  return completion_json(view, complete(view, offset, folder), client_.encoding);
}

std::vector<PlaceInFile> Conversation::places_of_name(const View& view, const NameAt& name) {
  const SourceSet* texts = view.now != nullptr ? &view.now->texts() : nullptr;
  if (name.is_old) texts = &view.whole->texts();
  if (texts == nullptr) return {};
  const std::optional<DefinedName> defined = defined_name(*name.index, name.symbol, *texts, workspace_.files());
  if (!defined) return {};
  std::vector<AnalysisPtr> users = workspace_.users_of(defined->path, {});
  if (name.is_old) users = {view.whole};
  return places_of(*defined, users, workspace_.files());
}

Json Conversation::definition(const Json& params) {
  const View view = fresh_view(params);
  const std::optional<NameAt> name = name_at(view, offset_in(view, params, client_.encoding));
  Json list = Json::array();
  if (!name) return list;
  const Span& definition = (*name->index)[name->symbol].definition;
  for (const PlaceInFile& place : places_of_name(view, *name)) {
    const bool is_it = place.defines && place.span.begin == definition.begin;
    if (is_it) list.push_back(location_json(workspace_, place, client_.encoding));
  }
  return list;
}

Json Conversation::references(const Json& params) {
  const View view = fresh_view(params);
  const std::optional<NameAt> name = name_at(view, offset_in(view, params, client_.encoding));
  const bool with_definition = is_set(params, {"context", "includeDeclaration"});
  Json list = Json::array();
  if (!name) return list;
  for (const PlaceInFile& place : places_of_name(view, *name)) {
    if (with_definition || !place.defines) list.push_back(location_json(workspace_, place, client_.encoding));
  }
  return list;
}

Json Conversation::highlights(const Json& params) {
  const View view = fresh_view(params);
  const std::optional<NameAt> name = name_at(view, offset_in(view, params, client_.encoding));
  Json list = Json::array();
  if (!name || name->is_old) return list;
  for (const Occurrence& one : name->index->occurrences()) {
    if (one.symbol != name->symbol || one.span.file != view.text->id()) continue;
    list.push_back({{"range", range_json(*view.text, one.span, client_.encoding)}, {"kind", one.defines ? 3 : 2}});
  }
  return list;
}

Json Conversation::prepare_rename(const Json& params) {
  const View view = fresh_view(params);
  const std::optional<NameAt> name = name_at(view, offset_in(view, params, client_.encoding));
  if (!name || name->is_old) return nullptr;
  return {{"range", range_json(*view.text, name->span, client_.encoding)},
          {"placeholder", (*name->index)[name->symbol].name}};
}

Json Conversation::rename(const Json& params) {
  const std::string spelling = params.at("newName").get<std::string>();
  const View view = fresh_view(params);
  const std::optional<NameAt> name = name_at(view, offset_in(view, params, client_.encoding));
  if (!name) throw RequestError{ErrorCode::RequestFailed, "there is no name here"};
  if (name->is_old || view.now == nullptr) {
    throw RequestError{ErrorCode::RequestFailed,
                       "mend the mistakes of the profile first: what uses this name is not known"};
  }
  const auto defined = defined_name(*name->index, name->symbol, view.now->texts(), workspace_.files());
  if (!defined) throw RequestError{ErrorCode::RequestFailed, "the definition of this name is not known"};
  const std::vector<AnalysisPtr> users = workspace_.users_of(defined->path, {});
  const Renaming renaming = editor::rename(*defined, users, spelling, workspace_.files());
  if (!renaming.refused.empty()) throw RequestError{ErrorCode::RequestFailed, renaming.refused};
  return workspace_edit_json(workspace_, renaming.edits, client_.encoding);
}

Json Conversation::outline(const Json& params) {
  const View view = fresh_view(params);
  const std::vector<OutlineItem> items = editor::outline(view);
  return client_.hierarchical_outline ? outline_json(view, items, client_.encoding)
                                      : flat_outline_json(uri_in(params), view, items, client_.encoding);
}

Json Conversation::folds(const Json& params) {
  const View view = fresh_view(params);
  return folds_json(view, editor::folds(view));
}

Json Conversation::formatting(const Json& params) {
  const View view = fresh_view(params);
  return edits_json(*view.text, format_edits(view), client_.encoding);
}

Json Conversation::colours(const Json& params) {
  const View view = fresh_view(params);
  return colours_json(view, coloured_words(view), client_.encoding);
}

Json Conversation::inlay_hints(const Json& params) {
  const PlaceRange range = range_of(params.at("range"));
  const View view = fresh_view(params);
  return inlay_hints_json(view, range, client_.encoding);
}

Json Conversation::code_actions(const Json& params) {
  const PlaceRange range = range_of(params.at("range"));
  const View view = fresh_view(params);
  Json list = Json::array();
  if (!client_.code_action_literals) return list;
  const Json only = value_at(params, {"context", "only"});
  const auto takes_repairs = [](const Json& kind) { return kind == "quickfix" || kind == Json(""); };
  if (only.is_array() && std::none_of(only.begin(), only.end(), takes_repairs)) return list;
  const auto all = workspace_.findings();
  const auto here = all.find(view.path);
  if (here == all.end()) return list;
  const Places places(*view.text, client_.encoding);
  const Span asked{view.text->id(), places.offset(range.start), places.offset(range.end)};
  std::vector<Finding> findings;
  for (const PlacedFinding& placed : here->second) findings.push_back(placed.finding);
  for (const Repair& repair : repairs(findings, asked)) {
    list.push_back({{"title", repair.title},
                    {"kind", "quickfix"},
                    {"isPreferred", true},
                    {"diagnostics", {diagnostic_json(workspace_, here->second[repair.finding], client_)}},
                    {"edit", workspace_edit_json(workspace_, {{view.text, {repair.edit}}}, client_.encoding)}});
  }
  return list;
}

}  // namespace rampart::editor
