#include "compiler/bench/bench_symbols.h"

#include "compiler/yaml/yaml_document.h"

namespace rampart {
namespace {

Span text_span(const YamlNode& node) {
  return node.part(0, node.text.size());
}

class BenchSymbols {
 public:
  explicit BenchSymbols(SymbolIndex& index) : index_(index) {}

  void add(const YamlNode& root) {
    if (const YamlEntry* supplies = root.find("supplies")) {
      for (const YamlEntry& supply : supplies->value.entries) add_supply(supply);
    }
    if (const YamlEntry* links = root.find("links")) {
      for (const YamlEntry& link : links->value.entries) use_supplies(link.value);
    }
    const YamlEntry* outputs = root.find("outputs");
    if (outputs == nullptr) return;
    for (const YamlEntry& output : outputs->value.entries) {
      index_.define({.kind = SymbolKind::Output, .name = output.key, .definition = output.key_span});
      use_channels(output.value);
    }
  }

 private:
  void add_supply(const YamlEntry& supply) {
    index_.define({.kind = SymbolKind::Supply, .name = supply.key, .definition = supply.key_span});
    const std::string prefix = supply.key + ".";
    if (const YamlEntry* channels = supply.value.find("channels")) {
      for (const YamlEntry& channel : channels->value.entries) {
        index_.define({.kind = SymbolKind::Channel,
                       .name = channel.key,
                       .path = prefix + channel.key,
                       .definition = channel.key_span});
      }
      for (const YamlEntry& channel : channels->value.entries) {
        if (const YamlEntry* like = channel.value.find("like")) use_channel(prefix, like->value);
      }
    }
    if (const YamlEntry* lines = supply.value.find("lines")) {
      for (const YamlNode& line : lines->value.items) {
        if (line.kind != YamlKind::Text) continue;
        index_.define({.kind = SymbolKind::TriggerLine,
                       .name = line.text,
                       .path = prefix + line.text,
                       .definition = text_span(line)});
      }
    }
    const YamlEntry* table = supply.value.find("table");
    const YamlEntry* played = table != nullptr ? table->value.find("channels") : nullptr;
    if (played == nullptr) return;
    for (const YamlNode& channel : played->value.items) use_channel(prefix, channel);
  }

  void use_supplies(const YamlNode& link) {
    for (const std::string_view by : {"internal", "wired"}) {
      const YamlEntry* supplies = link.find(by);
      if (supplies == nullptr) continue;
      for (const YamlNode& supply : supplies->value.items) {
        const auto id = index_.find(SymbolKind::Supply, supply.text);
        if (id && supply.kind == YamlKind::Text) index_.use(*id, text_span(supply));
      }
    }
  }

  // A channel by its bare name.
  void use_channel(const std::string& prefix, const YamlNode& node) {
    const auto id = index_.find(SymbolKind::Channel, prefix + node.text);
    if (id && node.kind == YamlKind::Text) index_.use(*id, text_span(node));
  }

  // Names of channels with their supplies, at any depth that an output has.
  void use_channels(const YamlNode& node) {
    if (node.kind == YamlKind::Text) use_output(node.text, text_span(node), SymbolKind::Channel, index_);
    for (const YamlNode& item : node.items) use_channels(item);
    for (const YamlEntry& entry : node.entries) use_channels(entry.value);
  }

  SymbolIndex& index_;
};

}  // namespace

void add_bench_symbols(const SourceSet& sources, FileId file, SymbolIndex& index) {
  FindingSink unheard;
  if (const std::optional<YamlNode> root = read_yaml(sources, file, unheard)) BenchSymbols(index).add(*root);
}

void use_output(std::string_view name, const Span& span, SymbolKind part, SymbolIndex& index) {
  const std::size_t point = name.find('.');
  const bool has_place = span.end - span.begin == name.size();
  if (point == std::string_view::npos) {
    const auto output = index.find(SymbolKind::Output, name);
    if (output && part == SymbolKind::Channel && has_place) index.use(*output, span);
    return;
  }
  if (!has_place) return;
  const auto supply = index.find(SymbolKind::Supply, name.substr(0, point));
  const auto at = static_cast<std::uint32_t>(point);
  if (supply) index.use(*supply, {span.file, span.begin, span.begin + at});
  if (const auto id = index.find(part, name)) index.use(*id, {span.file, span.begin + at + 1, span.end});
}

}  // namespace rampart
