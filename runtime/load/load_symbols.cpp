#include "runtime/load/load_symbols.h"

#include <utility>

#include "compiler/yaml/yaml_document.h"
#include "runtime/load/fault_instant.h"

namespace rampart {
namespace {

class LoadSymbols {
 public:
  LoadSymbols(const std::vector<NamedFault>& used, SymbolIndex& index) : used_(used), index_(index) {}

  void add(const YamlNode& root) {
    if (const YamlEntry* rails = root.find("rails")) {
      for (const YamlEntry& rail : rails->value.entries) {
        use(SymbolKind::Rail, rail.key, rail.key_span);
        if (const YamlEntry* elements = rail.value.find("elements")) add_elements(rail.key, elements->value);
      }
    }
    const YamlEntry* faults = root.find("faults");
    if (faults == nullptr) return;
    for (const YamlEntry& fault : faults->value.entries) add_fault(fault);
  }

 private:
  void add_elements(const std::string& rail, const YamlNode& elements) {
    for (const YamlNode& element : elements.items) {
      const YamlEntry* name = element.find("name");
      if (name == nullptr || name->value.kind != YamlKind::Text) continue;
      const std::string& text = name->value.text;
      std::string path = rail;
      path.append(".").append(text);
      index_.define({.kind = SymbolKind::Element,
                     .name = text,
                     .path = std::move(path),
                     .definition = name->value.part(0, text.size())});
    }
  }

  void add_fault(const YamlEntry& fault) {
    const SymbolId id = index_.define({.kind = SymbolKind::Fault, .name = fault.key, .definition = fault.key_span});
    for (const NamedFault& named : used_) {
      if (named.name == fault.key) index_.use(id, named.place);
    }
    if (const YamlEntry* rail = fault.value.find("rail")) {
      use(SymbolKind::Rail, rail->value.text, rail->value.part(0, rail->value.text.size()));
    }
    const YamlEntry* at = fault.value.find("at");
    const std::optional<MarkPart> mark = at != nullptr ? mark_part(at->value.text) : std::nullopt;
    if (mark) use(SymbolKind::Mark, mark->name, at->value.part(mark->begin, mark->name.size()));
  }

  void use(SymbolKind kind, std::string_view name, const Span& place) {
    const auto id = index_.find(kind, name);
    if (id && place.end - place.begin == name.size()) index_.use(*id, place);
  }

  const std::vector<NamedFault>& used_;
  SymbolIndex& index_;
};

}  // namespace

void add_load_symbols(const SourceSet& sources, FileId file, const std::vector<NamedFault>& used, SymbolIndex& index) {
  FindingSink unheard;
  if (const std::optional<YamlNode> root = read_yaml(sources, file, unheard)) LoadSymbols(used, index).add(*root);
}

}  // namespace rampart
