#include "runtime/answer/event_kind.h"

#include <array>

#include "lang/findings/predicted.h"
#include "lang/values/kind_rows.h"

namespace rampart {
namespace {

constexpr std::array kEvents{
    EventRow{.kind = EventKind::On, .name = "on"},
    EventRow{.kind = EventKind::Off, .name = "off"},
    EventRow{.kind = EventKind::CcEnter, .name = "cc-enter", .is_charted = false, .spell = SpellPart::Begins},
    EventRow{.kind = EventKind::CcExit, .name = "cc-exit", .is_charted = false, .spell = SpellPart::Ends},
    EventRow{.kind = EventKind::HoldingEnter, .name = "holding-enter", .is_listed = false, .is_charted = false},
    EventRow{.kind = EventKind::HoldingExit, .name = "holding-exit", .is_listed = false, .is_charted = false},
    EventRow{.kind = EventKind::SinkEnter, .name = "sink-enter", .is_listed = false, .is_charted = false},
    EventRow{.kind = EventKind::SinkExit, .name = "sink-exit", .is_listed = false, .is_charted = false},
    EventRow{.kind = EventKind::Trip, .name = "trip"},
    EventRow{.kind = EventKind::Mark, .name = "mark"},
    EventRow{.kind = EventKind::Passes, .name = "passes", .is_charted = false},
    EventRow{.kind = EventKind::Fault, .name = "fault"},
    EventRow{.kind = EventKind::LineHigh, .name = "line-high"},
    EventRow{.kind = EventKind::LineLow, .name = "line-low"},
    EventRow{.kind = EventKind::Starts, .name = "converter-start", .spell = SpellPart::Begins, .verb = "starts"},
    EventRow{.kind = EventKind::Stops, .name = "converter-stop", .spell = SpellPart::Ends, .verb = "stops"},
};
static_assert(rows_in_order(kEvents, static_cast<std::size_t>(EventKind::Stops) + 1));

constexpr std::array kChatter{
    ChatterRow{ChatterKind::Modes, &finding::ModeChatter,
               "a load that starts and stops repeatedly needs more current than the limit or the leads allow: raise "
               "the limit, use shorter leads, or make it start at a higher voltage"},
    ChatterRow{ChatterKind::Course, &finding::CourseGivenUp,
               "simulate a shorter part of the run, or leave out the part of the load that rings or hunts"},
    ChatterRow{ChatterKind::Clock, &finding::PulsesGivenUp,
               "choose periods that have a common multiple, simulate a shorter part of the run, or write the mean as "
               "`constant_current`"},
};

static_assert(rows_in_order(kChatter, static_cast<std::size_t>(ChatterKind::Clock) + 1));

}  // namespace

const EventRow& row_of(EventKind kind) {
  return kEvents[static_cast<std::size_t>(kind)];
}

const ChatterRow& row_of(ChatterKind kind) {
  return kChatter[static_cast<std::size_t>(kind)];
}

}  // namespace rampart
