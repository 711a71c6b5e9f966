#include "compiler/bench/readback.h"

#include "compiler/bench/bench_keys.h"
#include "compiler/yaml/file_values.h"

namespace rampart {
namespace {

// The channel's own key, or that of the channel that it is like.
const YamlEntry* find_readback(const YamlNode& channels, const YamlNode& channel) {
  const YamlNode* node = &channel;
  // A chain is no longer than there are channels.
  for (std::size_t i = 0; i <= channels.entries.size(); ++i) {
    if (const YamlEntry* entry = node->find("readback")) return entry;
    const YamlEntry* like = node->find("like");
    if (like == nullptr) return nullptr;
    const YamlEntry* next = channels.find(like->value.text);
    if (next == nullptr) return nullptr;
    node = &next->value;
  }
  return nullptr;
}

}  // namespace

std::optional<Meter> read_readback(const Field& field, FindingSink& findings) {
  return read_meter(Section(field, "`readback`", bench_keys::of("readback"), findings), findings);
}

std::vector<std::optional<Meter>> read_readbacks(const SourceSet& sources, const Bench& bench) {
  std::vector<std::optional<Meter>> meters(bench.channels.size());
  FindingSink known;
  const std::optional<YamlNode> root = read_yaml(sources, bench.file, known);
  const YamlEntry* supplies = root ? root->find("supplies") : nullptr;
  if (supplies == nullptr) return meters;
  for (const YamlEntry& supply : supplies->value.entries) {
    const YamlEntry* channels = supply.value.find("channels");
    if (channels == nullptr) continue;
    for (const YamlEntry& channel : channels->value.entries) {
      const std::optional<ChannelId> id = bench.find_channel(supply.key + "." + channel.key);
      const YamlEntry* readback = find_readback(channels->value, channel.value);
      if (id && readback != nullptr) meters[static_cast<std::size_t>(*id)] = read_readback(field_of(*readback), known);
    }
  }
  return meters;
}

}  // namespace rampart
