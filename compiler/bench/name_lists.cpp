#include "compiler/bench/name_lists.h"

#include <algorithm>

namespace rampart {
namespace {

constexpr std::size_t kMaxMembers = 64;

}  // namespace

std::vector<ChannelId> read_members(const Field& field, const std::string& prefix, const std::vector<ChannelId>& choice,
                                    std::string_view user, const Bench& bench, FindingSink& findings) {
  std::vector<std::string> names;
  for (const ChannelId id : choice) names.push_back(bench[id].name.substr(prefix.size()));
  std::vector<ChannelId> members;
  std::vector<Span> places;
  // Without channels there is another finding already, and every name would be unknown.
  if (choice.empty()) return members;
  read_texts(field, kMaxMembers, "the name of a channel", findings, [&](const YamlNode& item) {
    const auto found = std::find(names.begin(), names.end(), item.text);
    if (found == names.end()) {
      report_unknown_name("channel", item.text, item.span, names, findings);
      return;
    }
    const ChannelId id = choice[static_cast<std::size_t>(found - names.begin())];
    const auto first = std::find(members.begin(), members.end(), id);
    if (first != members.end()) {
      findings.report(finding::ChannelUsedTwice, item.span, item.text, user)
          .note(finding::FirstUsedHere, places[static_cast<std::size_t>(first - members.begin())])
          .hint("name each channel once");
      return;
    }
    members.push_back(id);
    places.push_back(item.span);
  });
  return members;
}

}  // namespace rampart
