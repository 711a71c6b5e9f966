#include "runtime/rail/rail_effort.h"
#include "tests/support/near.h"

#include <doctest/doctest.h>

using namespace rampart;
using circuit::Follow;

namespace {

using rampart::test::relative;

constexpr double kAsked = 1;     // s to the next row
constexpr double kPiece = 1e-5;  // s

// Takes pieces until something is given up, at most so many.
std::optional<RailEffort::GivenUp> take_pieces(RailEffort& effort, std::int64_t most, bool changes,
                                               bool timed = false) {
  for (std::int64_t i = 0; i < most; ++i) {
    if (const auto given_up = effort.prepare(kAsked, kAsked)) return given_up;
    effort.planned(kPiece);
    effort.advance(kPiece, changes, timed);
  }
  return effort.prepare(kAsked, kAsked);
}

}  // namespace

TEST_CASE("changes of mode, pieces and pulses without end are given up by their kind") {
  RailEffort modes;
  const auto cycles = take_pieces(modes, 10 * kMaxModeChanges, true);
  REQUIRE(cycles);
  CHECK(cycles->kind == ChatterKind::Modes);
  CHECK(cycles->count == kMaxModeChanges / 2);

  RailEffort course;
  const auto pieces = take_pieces(course, 10 * kMaxOwnPieces, false);
  REQUIRE(pieces);
  CHECK(pieces->kind == ChatterKind::Course);
  CHECK(pieces->count == kMaxOwnPieces);

  RailEffort clock;
  clock.set_clock(true);
  const auto pulses = take_pieces(clock, 10 * kMaxOwnPieces, true, true);
  REQUIRE(pulses);
  CHECK(pulses->kind == ChatterKind::Clock);
  CHECK(!clock.follows_clock());
  clock.take_row();
  CHECK(clock.follow() == Follow::Modes);
}

TEST_CASE("pieces that others cut short cost nothing, and rows give a little back") {
  RailEffort effort;
  for (std::int64_t i = 0; i < 2 * kMaxOwnPieces; ++i) {
    REQUIRE(!effort.prepare(kAsked, kAsked));
    effort.planned(kPiece);
    effort.advance(kPiece / 2, false, false);
  }
  for (int row = 0; row < 10'000; ++row) {
    REQUIRE(!take_pieces(effort, 40, false));
    effort.take_row();
  }
}

// A setpoint that slews has a corner at both ends of each stair: the step control feels its way on from there.
TEST_CASE("a few tiny pieces behind each corner are no chatter, and tiny pieces without end are") {
  constexpr double kTiny = 1e-12;
  RailEffort stairs;
  for (int stair = 0; stair < 5'000; ++stair) {
    for (int i = 0; i < 28; ++i) {
      REQUIRE(!stairs.prepare(kAsked, kAsked));
      stairs.planned(i % 14 == 13 ? kPiece : kTiny);
      stairs.advance(i % 14 == 13 ? kPiece : kTiny, false, false);
    }
    stairs.take_row();
  }
  RailEffort stuck;
  std::optional<RailEffort::GivenUp> given_up;
  for (std::int64_t i = 0; i < 2 * kMaxModeChanges && !given_up; ++i) {
    given_up = stuck.prepare(kAsked, kAsked);
    stuck.planned(kTiny);
    stuck.advance(kTiny, false, false);
  }
  REQUIRE(given_up);
  CHECK(given_up->kind == ChatterKind::Modes);
}

TEST_CASE("what is given up goes in two steps and comes back with a row") {
  RailEffort effort;
  REQUIRE(take_pieces(effort, 10 * kMaxOwnPieces, false));
  CHECK(effort.follow() == Follow::Modes);
  CHECK(!take_pieces(effort, 100, false));
  CHECK(effort.follow() == Follow::Modes);
  CHECK(!take_pieces(effort, 1000, false));
  CHECK(effort.follow() == Follow::Nothing);
  CHECK(effort.least() == relative(kAsked / 1000, 1e-9));
  effort.take_row();
  CHECK(effort.follow() == Follow::All);
  CHECK(effort.least() == 0);
}

TEST_CASE("where the load is not followed its clock stands until the next row") {
  RailEffort effort;
  effort.set_clock(true);
  CHECK(effort.clock_runs());
  REQUIRE(take_pieces(effort, 10 * kMaxModeChanges, true));
  // What was spent are changes of mode: the clock is taken up again with the next row.
  CHECK(effort.follows_clock());
  CHECK(!effort.clock_runs());
  effort.take_row();
  CHECK(effort.clock_runs());
}

TEST_CASE("where nothing is followed, pieces go by the time to the next row, whatever else cuts it") {
  RailEffort effort;
  REQUIRE(take_pieces(effort, 10 * kMaxOwnPieces, false));
  CHECK(!take_pieces(effort, 1000, false));
  REQUIRE(effort.follow() == Follow::Nothing);
  static_cast<void>(effort.prepare(kAsked / 100, 10 * kAsked));
  CHECK(effort.least() == relative(10 * kAsked / 1000, 1e-9));
}
