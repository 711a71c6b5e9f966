#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"

// Lists of names in a bench file.
namespace rampart {

// Reads a list of texts; `each` gets every text with its place. False if the value is no such list.
template <class Each>
bool read_texts(const Field& field, std::size_t limit, std::string_view what, FindingSink& findings, Each each) {
  const std::vector<YamlNode>* items = read_list(field, limit, findings);
  if (items == nullptr) return false;
  for (const YamlNode& item : *items) {
    if (item.kind == YamlKind::Text) {
      each(item);
    } else {
      findings.report(finding::ValueUnreadable, item.span, "this part", what);
    }
  }
  return true;
}

// Reads a list of channels out of `choice`, none of them twice. `prefix` is what their names have in front of what the
// file writes; `user` is what the list belongs to, for messages.
[[nodiscard]] std::vector<ChannelId> read_members(const Field& field, const std::string& prefix,
                                                  const std::vector<ChannelId>& choice, std::string_view user,
                                                  const Bench& bench, FindingSink& findings);

}  // namespace rampart
