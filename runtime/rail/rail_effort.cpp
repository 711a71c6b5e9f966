#include "runtime/rail/rail_effort.h"

#include <algorithm>

namespace rampart {
namespace {

using circuit::Follow;

// A course that moves on in pieces shorter than this, s, does not come to an end.
constexpr double kTinyPiece = 1e-9;
constexpr std::int64_t kTinyInARow = 50;
// What a row gives back, and what it gives once something has been given up on the rail.
constexpr std::int64_t kChangesBack = 20;
constexpr std::int64_t kPiecesBack = 150;
constexpr std::int64_t kChangesAfter = 10;
constexpr std::int64_t kPiecesAfter = 20;
// Changes and pieces that are followed once the load's own changes are given up, before those of mode are too.
constexpr std::int64_t kChangesRough = 50;
constexpr std::int64_t kPiecesRough = 200;
// Where no more pieces than this come to a change of mode, it is those changes that do not end.
constexpr std::int64_t kPiecesOfChatter = 100;
// Where no change is followed any more, the time to the next row takes no more pieces than that.
constexpr double kRoughPieces = 1000;

}  // namespace

void RailEffort::take_row() {
  least_ = 0;
  if (lost_) {
    changes_left_ = clock_lost_ ? kChangesRough : kChangesAfter;
    pieces_left_ = clock_lost_ ? kPiecesRough : kPiecesAfter;
  } else {
    changes_left_ = std::min(kMaxModeChanges, changes_left_ + kChangesBack);
    pieces_left_ = std::min(kMaxOwnPieces, pieces_left_ + kPiecesBack);
  }
  level_ = clock_lost_ ? Follow::Modes : Follow::All;
}

RailEffort::GivenUp RailEffort::what_is_spent() const {
  if (changes_left_ <= 0 || changes_ >= pieces_ / kPiecesOfChatter) return {ChatterKind::Modes, changes_ / 2};
  if (follows_clock()) return {ChatterKind::Clock, timed_};
  return {ChatterKind::Course, pieces_};
}

std::optional<RailEffort::GivenUp> RailEffort::prepare(double asked, double to_row) {
  asked_ = asked;
  std::optional<GivenUp> given_up;
  if (level_ != Follow::Nothing && spent()) {
    if (level_ == Follow::All) given_up = what_is_spent();
    lower();
  }
  if (level_ == Follow::Nothing) least_ = std::max(least_, to_row / kRoughPieces);
  return given_up;
}

void RailEffort::lower() {
  clock_lost_ = clock_lost_ || (pieces_left_ <= 0 && has_clock_);
  level_ = level_ == Follow::All ? Follow::Modes : Follow::Nothing;
  lost_ = true;
  changes_left_ = kChangesRough;
  pieces_left_ = kPiecesRough;
}

void RailEffort::advance(double length, bool changes, bool timed) {
  const bool own = length >= planned_ && planned_ < asked_;
  if (own) {
    ++pieces_;
    --pieces_left_;
  }
  if (changes && timed) ++timed_;
  // Steps without end are chatter too; a few in a row only feel their way on from a corner of the setpoint.
  tiny_ = own && length < kTinyPiece ? tiny_ + 1 : 0;
  if ((changes && !timed) || tiny_ > kTinyInARow) {
    ++changes_;
    --changes_left_;
  }
}

void RailEffort::add_memory(std::vector<double>& memory) const {
  for (const std::int64_t count : {changes_left_, pieces_left_, tiny_}) memory.push_back(static_cast<double>(count));
  for (const bool flag : {clock_lost_, lost_}) memory.push_back(flag ? 1 : 0);
  memory.insert(memory.end(), {static_cast<double>(level_), least_, planned_ < asked_ ? planned_ : 0});
}

}  // namespace rampart
