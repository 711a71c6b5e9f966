#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "runtime/answer/simulation.h"
#include "runtime/circuit/circuit.h"

namespace rampart {

// How much of one rail's course is gone through. A run begins with a fixed effort and each row gives a little back, so
// the rows of a table bound the time that its simulation takes. Where the effort is used up, what the load switches is
// given up first, then what the output does; each later row takes both up again, for a little while.
class RailEffort {
 public:
  struct GivenUp {
    ChatterKind kind{};
    std::int64_t count = 0;  // as in ModeChatter
  };

  // From now on the load goes on by time alone, or does not.
  void set_clock(bool has_clock) { has_clock_ = has_clock; }
  void take_row();
  // A piece of up to `asked` s will be planned, `to_row` s before the next row. Tells what has to be given up for it
  // the first time.
  [[nodiscard]] std::optional<GivenUp> prepare(double asked, double to_row);
  void planned(double length) { planned_ = length; }
  // The planned piece, or its first `length` s, was gone through. `changes`: in its end the output or the load changes,
  // by time alone if `timed`.
  void advance(double length, bool changes, bool timed);

  // All that its coming time depends on.
  void add_memory(std::vector<double>& memory) const;

  [[nodiscard]] circuit::Follow follow() const { return level_; }
  // Pieces need not be shorter than this, s.
  [[nodiscard]] double least() const { return least_; }
  // The load goes on by time alone, and is followed in that.
  [[nodiscard]] bool follows_clock() const { return has_clock_ && !clock_lost_; }
  // It is so until the next row at least.
  [[nodiscard]] bool clock_runs() const { return follows_clock() && level_ == circuit::Follow::All; }

 private:
  [[nodiscard]] bool spent() const { return changes_left_ <= 0 || pieces_left_ <= 0; }
  [[nodiscard]] GivenUp what_is_spent() const;
  void lower();

  bool has_clock_ = false;
  bool clock_lost_ = false;
  bool lost_ = false;  // something has been given up before
  std::int64_t changes_left_ = kMaxModeChanges;
  std::int64_t pieces_left_ = kMaxOwnPieces;
  std::int64_t changes_ = 0;  // until now, those by time alone not counted
  std::int64_t timed_ = 0;    // those
  std::int64_t pieces_ = 0;
  std::int64_t tiny_ = 0;  // pieces in a row that are next to nothing
  circuit::Follow level_ = circuit::Follow::All;
  double least_ = 0;
  double asked_ = 0;
  double planned_ = 0;
};

}  // namespace rampart
