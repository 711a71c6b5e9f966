#pragma once

#include <map>
#include <tuple>
#include <utility>
#include <vector>

#include "compiler/checks/context.h"
#include "compiler/table/folded_walk.h"

namespace rampart::checks {

// One move of the timeline with what the checks ask about it.
struct MoveView {
  const Move& move;
  const RailState& before;              // of the move's rail
  const std::vector<RailState>& rails;  // all of them, before the move
  Nanoseconds start;                    // from the start of the segment
  std::size_t segment;                  // counted from 0 as they are walked
  std::int64_t pass;                    // of the innermost loop; 0 outside
};

// Calls visit(view) for each move, folded loops made as often as they bring anything new. `rails` is where they stand
// at the beginning.
template <class Visit>
void walk_moves_from(std::vector<RailState> rails, const Timeline& timeline, Visit&& visit) {
  std::size_t segment = 0;
  walk_folded(timeline, [&](const TimelineItem& item, const TimelineCursor& cursor) {
    if (std::holds_alternative<TimelineSegmentEnded>(item)) ++segment;
    const auto* const* block = std::get_if<const Block*>(&item);
    if (block == nullptr) return;
    for (const Move& move : (*block)->moves) {
      RailState& state = rails[static_cast<std::size_t>(move.rail)];
      const std::int64_t pass = cursor.passes().empty() ? 0 : cursor.passes().back();
      visit(MoveView{move, state, rails, (*block)->start + move.start, segment, pass});
      if (move.kind == MoveKind::Voltage) state.voltage = move.to;
      if (move.kind == MoveKind::Limit) state.limit = move.to;
      if (move.kind == MoveKind::Output) state.on = move.to.sign() > 0;
    }
    for (const Move& move : (*block)->moves) {
      const auto rail = static_cast<std::size_t>(move.rail);
      const bool on = rails[rail].on;
      rails[rail] = cursor.rails()[rail];
      if (!rails[rail].known.output) rails[rail].on = on;
    }
  });
}

template <class Visit>
void walk_moves(const Timeline& timeline, Visit&& visit) {
  walk_moves_from(timeline.initial(), timeline, std::forward<Visit>(visit));
}

// What the statement says of the rail; null where the rail only follows another, or switches.
[[nodiscard]] const Motion* motion_of(const Statement& statement, RailId rail);

// The value the move leads to, as written; the whole statement where it follows another rail.
[[nodiscard]] Span place_of(const Move& move);

// What each rail does in a timeline whose powers are those given; `may_be_on` as begin_of() takes it.
[[nodiscard]] std::vector<Usage> usage_of(const Timeline& timeline, const PowerPeaks& power,
                                          const std::vector<bool>& may_be_on = {});

// One occurrence of a mistake: where, and how bad.
struct Occurrence {
  RailId rail{};
  Span place;
  const Statement* statement = nullptr;
  std::int64_t pass = 0;
  Rational value;   // what was found
  Rational excess;  // by how much it is wrong: the largest of one place is kept
};

// Keeps the worst occurrence of each place and rail.
class WorstOccurrences {
 public:
  void meet(const Occurrence& occurrence) {
    const auto [kept, is_new] = kept_.try_emplace(
        {occurrence.place.file, occurrence.place.begin, occurrence.place.end, occurrence.rail}, occurrence);
    if (!is_new && kept->second.excess < occurrence.excess) kept->second = occurrence;
  }
  // Keeps the worst of each rail alone, wherever it is.
  void meet_of_rail(const Occurrence& occurrence) {
    const auto [kept, is_new] = kept_.try_emplace({FileId{}, 0, 0, occurrence.rail}, occurrence);
    if (!is_new && kept->second.excess < occurrence.excess) kept->second = occurrence;
  }
  // In the order of their places.
  template <class Report>
  void report(Report&& report) const {
    for (const auto& [place, occurrence] : kept_) report(occurrence);
  }

 private:
  std::map<std::tuple<FileId, std::uint32_t, std::uint32_t, RailId>, Occurrence> kept_;
};

// " in pass 7"; empty in the first pass and outside of loops.
[[nodiscard]] std::string pass_text(std::int64_t pass);
// " in pass 7 after the last wait": what a time from the start of a segment counts from.
[[nodiscard]] std::string when_text(std::int64_t pass, std::size_t segment);

}  // namespace rampart::checks
