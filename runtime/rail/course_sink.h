#pragma once

#include <cstddef>
#include <cstdint>

#include "lang/values/instant.h"

namespace rampart {

class RailRun;

// Takes in the courses of a run while it is played. All rails stand at one instant between its calls, except those of
// take(), which come for all rails one after another.
class CourseSink {
 public:
  virtual ~CourseSink() = default;

  // The piece that the circuit of a rail has planned happens: it begins at `from` and is `length` s long. `sign` is -1
  // for a rail that is reversed.
  virtual void take(std::size_t index, const RailRun& rail, double sign, const Instant& from, double length) = 0;
  // Something happens at the present instant.
  virtual void keep() {}
  // A pass may begin or end at the present instant.
  virtual void split() {}
  // What happened since `from`, where split() was called, happens `times` more from `to` on, which is now.
  virtual void repeat(const Instant& from, const Instant& to, std::int64_t times) = 0;
  // Takes no more: passes may be added in ways that do not go through repeat().
  [[nodiscard]] virtual bool is_full() const { return false; }
};

}  // namespace rampart
