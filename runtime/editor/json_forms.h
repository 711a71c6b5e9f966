#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "runtime/editor/completion.h"
#include "runtime/editor/edits.h"
#include "runtime/editor/outline.h"
#include "runtime/editor/places.h"
#include "runtime/editor/workspace.h"

// Answers in the forms of LSP 3.17.
namespace rampart::editor {

using Json = nlohmann::json;

// What a client says it can take.
struct ClientAbilities {
  Encoding encoding = Encoding::Utf16;
  bool hierarchical_outline = false;
  bool code_action_literals = false;
  bool related_information = false;
  bool diagnostic_versions = false;
  bool prepares_rename = false;
  bool markdown_hover = false;
  bool shows_progress = false;
  bool watches_files = false;  // it lets a server say which
};

// What a client sends. Throw Json::exception for what is no such value.
[[nodiscard]] Place place_of(const Json& json);
[[nodiscard]] PlaceRange range_of(const Json& json);
[[nodiscard]] std::int64_t integer_of(const Json& json);

[[nodiscard]] Json range_json(const SourceFile& text, const Span& span, Encoding encoding);
[[nodiscard]] Json diagnostic_json(const Workspace& workspace, const PlacedFinding& placed,
                                   const ClientAbilities& abilities);
[[nodiscard]] Json completion_json(const View& view, const Completion& completion, Encoding encoding);
[[nodiscard]] Json outline_json(const View& view, const std::vector<OutlineItem>& items, Encoding encoding);
// The same as a flat list, for clients that know no tree.
[[nodiscard]] Json flat_outline_json(const std::string& uri, const View& view, const std::vector<OutlineItem>& items,
                                     Encoding encoding);
[[nodiscard]] Json folds_json(const View& view, const std::vector<Fold>& folds);
[[nodiscard]] Json colours_json(const View& view, const std::vector<ColouredWord>& words, Encoding encoding);
[[nodiscard]] Json inlay_hints_json(const View& view, const PlaceRange& range, Encoding encoding);
[[nodiscard]] Json edits_json(const SourceFile& text, const std::vector<TextEdit>& edits, Encoding encoding);
[[nodiscard]] Json workspace_edit_json(const Workspace& workspace, const std::vector<FileEdits>& files,
                                       Encoding encoding);
[[nodiscard]] Json location_json(const Workspace& workspace, const PlaceInFile& place, Encoding encoding);
// What the server can do, as `initialize` answers it.
[[nodiscard]] Json abilities_json(const ClientAbilities& client);

}  // namespace rampart::editor
