#include "runtime/editor/file_completion.h"

#include <algorithm>
#include <string>

#include "compiler/bench/bench_keys.h"
#include "compiler/yaml/yaml_document.h"
#include "lang/syntax/scanner.h"
#include "runtime/load/elements/element_kinds.h"
#include "runtime/load/load_keys.h"

namespace rampart::editor {
namespace {

// Stands in the text for what is being written.
constexpr std::string_view kHere = "zz_written_here_zz";

// Where it was found: the keys on the way, and the map or value that it is in.
struct Spot {
  std::vector<std::string> keys;
  const YamlNode* map = nullptr;  // where it is a key
  bool is_key = false;
};

bool find_spot(const YamlNode& node, Spot& spot) {
  if (node.kind == YamlKind::Text) return node.text.find(kHere) != std::string::npos;
  for (const YamlNode& item : node.items) {
    if (find_spot(item, spot)) {
      if (item.kind == YamlKind::Map && spot.is_key && spot.map == nullptr) spot.map = &item;
      return true;
    }
  }
  for (const YamlEntry& entry : node.entries) {
    if (entry.key == kHere) {
      spot.is_key = true;
      spot.map = &node;
      return true;
    }
    spot.keys.push_back(entry.key);
    if (find_spot(entry.value, spot)) return true;
    spot.keys.pop_back();
  }
  return false;
}

class FileCompleter {
 public:
  FileCompleter(const View& view, std::uint32_t offset) : view_(view) {
    const std::string_view text = view.text->text();
    begin_ = end_ = offset;
    while (begin_ > 0 && is_part(text[begin_ - 1])) --begin_;
    while (end_ < text.size() && is_part(text[end_])) ++end_;
  }

  Completion run() {
    result_.replaced = {view_.text->id(), begin_, end_};
    for (const std::string_view rest : {"", ": 0"}) {
      const std::string_view text = view_.text->text();
      const std::string written =
          std::string(text.substr(0, begin_)) + std::string(kHere) + std::string(rest) + std::string(text.substr(end_));
      SourceSet sources;
      const FileId file = sources.add("written", written);
      FindingSink unheard;
      const std::optional<YamlNode> root = read_yaml(sources, file, unheard);
      Spot spot;
      if (!root || !find_spot(*root, spot)) continue;
      if (spot.is_key) {
        add_keys(spot);
      } else {
        add_values(spot);
      }
      break;
    }
    return std::move(result_);
  }

 private:
  static bool is_part(char c) { return scan::is_word_part(c) || c == '.'; }

  void add_keys(const Spot& spot) {
    const std::string parent = spot.keys.size() > 1 ? spot.keys[spot.keys.size() - 2] : "";
    const std::string last = spot.keys.empty() ? "" : spot.keys.back();
    if (view_.kind == FileKind::Load && (last == "elements" || last == "becomes")) return add_element_keys(*spot.map);
    if (view_.kind == FileKind::Load && last == "rails") return add_symbols(SymbolKind::Rail, ":");
    const std::string what = table_of(spot.keys.empty(), parent, last);
    const auto add_from = [&](std::span<const KeyTable> tables) {
      for (const KeyTable& table : tables) {
        if (table.what != what) continue;
        for (const std::string_view key : table.keys) add_key(*spot.map, key);
      }
    };
    if (view_.kind == FileKind::Load) {
      add_from(load_keys::kTables);
    } else {
      add_from(bench_keys::kTables);
    }
  }

  // The name of the table of keys that the map has.
  [[nodiscard]] std::string table_of(bool is_top, const std::string& parent, const std::string& last) const {
    if (is_top) return view_.kind == FileKind::Load ? "load" : "bench";
    if (parent == "supplies") return "supply";
    if (parent == "channels") return "channel";
    if (parent == "outputs") return "combination";
    if (parent == "rails") return "rail";
    if (parent == "faults") return "fault";
    return last == "voltage" || last == "current" ? last + "_setting" : last;
  }

  void add_element_keys(const YamlNode& element) {
    const YamlEntry* kind = element.find("kind");
    add_key(element, "kind");
    add_key(element, "name");
    for_each_kind([&](const auto& one) {
      if (kind == nullptr || kind->value.text != one.name) return;
      for (const auto& field : one.fields) add_key(element, field.key);
    });
  }

  void add_values(const Spot& spot) {
    const std::string key = spot.keys.empty() ? "" : spot.keys.back();
    if (key == "kind") {
      for_each_kind([&](const auto& one) { add(std::string(one.name), CompletionKind::Word); });
    } else if (key == "interpolation") {
      for (const char* word : {"hold", "linear"}) add(word, CompletionKind::Word);
    } else if (key == "fuse_by") {
      for (const char* word : {"current_limit", "own_current"}) add(word, CompletionKind::Word);
    } else if (key == "rail") {
      add_symbols(SymbolKind::Rail, "");
    } else if (key == "series" || key == "parallel") {
      add_symbols(SymbolKind::Channel, "");
    } else if (key == "like" || key == "channels") {
      add_bare_channels(spot.keys);
    } else if (key == "at") {
      add_symbols(SymbolKind::Mark, "");
    }
  }

  void add_bare_channels(const std::vector<std::string>& keys) {
    const SymbolIndex* names = names_of(view_);
    if (names == nullptr || keys.size() < 2) return;
    for (const Symbol& symbol : names->symbols()) {
      const bool is_of_supply = symbol.kind == SymbolKind::Channel && symbol.path == keys[1] + "." + symbol.name;
      if (is_of_supply) add(symbol.name, CompletionKind::Channel);
    }
  }

  void add_symbols(SymbolKind kind, const std::string& behind) {
    const SymbolIndex* names = names_of(view_);
    if (names == nullptr) return;
    for (const Symbol& symbol : names->symbols()) {
      const std::string text = kind == SymbolKind::Mark ? "mark " + symbol.path : symbol.path + behind;
      if (symbol.kind == kind) result_.items.push_back({symbol.path, CompletionKind::Rail, "", text});
    }
  }

  void add_key(const YamlNode& map, std::string_view key) {
    if (map.find(key) == nullptr) {
      result_.items.push_back({std::string(key), CompletionKind::Word, "", std::string(key) + ": "});
    }
  }

  void add(const std::string& text, CompletionKind kind) { result_.items.push_back({text, kind, "", text}); }

  const View& view_;
  std::uint32_t begin_ = 0;
  std::uint32_t end_ = 0;
  Completion result_;
};

}  // namespace

Completion complete_file(const View& view, std::uint32_t offset) {
  return FileCompleter(view, offset).run();
}

}  // namespace rampart::editor
