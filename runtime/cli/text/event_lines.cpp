#include "runtime/cli/text/event_lines.h"

#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <utility>

namespace rampart::cli {
namespace {

class Teller {
 public:
  void tell(const Event& event) {
    const SpellPart spell = row_of(event.kind).spell;
    if (event.rail && spell == SpellPart::Begins) {
      enter(groups_[{*event.rail, event.part}], event);
    } else if (event.rail && spell == SpellPart::Ends) {
      leave(groups_[{*event.rail, event.part}], event);
    } else {
      if (event.rail) {
        std::erase_if(groups_, [&event](const auto& group) { return group.first.first == *event.rail; });
      } else if (!event.line) {
        groups_.clear();
      }
      add(event);
    }
  }

  std::vector<EventLine> lines() && {
    std::erase_if(lines_, [](const EventLine& line) { return line.first == nullptr; });
    return std::move(lines_);
  }

 private:
  // Indices of the lines of the spells of a rail, or of a part of its load.
  struct Group {
    std::optional<std::size_t> entered;  // of a spell that has not ended
    std::optional<std::size_t> first;    // of the spells that have
    std::optional<std::size_t> left;     // of the end of a single one
  };

  std::size_t add(const Event& event) {
    lines_.push_back({&event});
    return lines_.size() - 1;
  }

  void enter(Group& group, const Event& event) {
    // A spell that is left and entered at one instant, as where a segment begins, goes on.
    if (group.left && lines_[*group.left].first->time_s == event.time_s) {
      lines_[*group.left].first = nullptr;
      group = {group.first, std::nullopt, std::nullopt};
      return;
    }
    const bool goes_on = group.first && lines_[*group.first].first->statement == event.statement;
    if (!goes_on) group = {};
    group.entered = add(event);
  }

  // The line of a spell that has just ended goes into that of the first one.
  void leave(Group& group, const Event& event) {
    if (!group.entered || !group.first) {
      const std::size_t line = add(event);
      if (group.entered) group = {std::nullopt, group.entered, line};
      return;
    }
    EventLine& first = lines_[*group.first];
    first.spells = std::max<std::int64_t>(first.spells, 1) + 1;
    first.until_s = event.time_s;
    lines_[*group.entered].first = nullptr;
    group.entered.reset();
    if (group.left) lines_[*group.left].first = nullptr;
    group.left.reset();
  }

  std::vector<EventLine> lines_;
  std::map<std::pair<RailId, std::string>, Group> groups_;  // the part is empty for the rail's own
};

}  // namespace

std::vector<EventLine> event_lines(const std::vector<Event>& events) {
  Teller teller;
  for (const Event& event : events) {
    if (row_of(event.kind).is_listed) teller.tell(event);
  }
  return std::move(teller).lines();
}

}  // namespace rampart::cli
