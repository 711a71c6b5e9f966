#pragma once

#include <cstdint>
#include <string_view>

#include "lang/findings/finding.h"

// The kinds of what happens in a run. A new kind is an enumerator, its row in event_kind.cpp, and the place that
// sees it happen.
namespace rampart {

enum class EventKind : std::uint8_t {
  On,
  Off,
  CcEnter,
  CcExit,
  HoldingEnter,
  HoldingExit,
  SinkEnter,
  SinkExit,
  Trip,
  Mark,
  Passes,  // passes were added in one step
  Fault,   // what stands on the rail becomes something else
  LineHigh,
  LineLow,
  Starts,  // a converter of the load
  Stops,
};

// Where an event stands in a spell, of which there can be many in a row.
enum class SpellPart : std::uint8_t { None, Begins, Ends };

struct EventRow {
  EventKind kind{};
  std::string_view name;  // in JSON
  // Is listed in the text. To enter and leave a mode for a moment at each stair of a ramp is no news.
  bool is_listed = true;
  // Stands in the charts of a report.
  bool is_charted = true;
  SpellPart spell = SpellPart::None;
  std::string_view verb = {};  // what a part of the load does
};

[[nodiscard]] const EventRow& row_of(EventKind kind);

// What goes on without end on a rail, until it is followed no longer.
enum class ChatterKind : std::uint8_t {
  Modes,   // the output goes in and out of its limits
  Course,  // the rail never comes to rest
  Clock,   // the load changes by time alone, more often than is gone through
};

struct ChatterRow {
  ChatterKind kind{};
  const FindingKind<finding::Text, finding::Number, finding::Text>* finding = nullptr;  // rail, count, time
  std::string_view hint;
};

[[nodiscard]] const ChatterRow& row_of(ChatterKind kind);

}  // namespace rampart
