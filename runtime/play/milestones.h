#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "lang/values/instant.h"

namespace rampart {

class Rig;

// All that the coming of a run depends on besides its table, after so many items of that.
struct Milestone {
  std::int64_t items = 0;
  Instant now;
  std::vector<double> memory;
};

// States of a run, at a few of its items after the last one that had an output switched on. A run of the same table
// whose output switches close at other times, and that comes to such a state, goes on as this one did.
class Milestones {
 public:
  // The run that is to be known has taken so many items.
  void note(std::int64_t items, const Rig& rig, const Instant& now);
  // Another run has: whether it stands as the known one did. To be asked with rising numbers.
  class Comparison {
   public:
    explicit Comparison(const Milestones& known) : known_(&known) {}
    [[nodiscard]] bool meets(std::int64_t items, const Rig& rig, const Instant& now);

   private:
    const Milestones* known_;
    std::size_t next_ = 0;
  };

 private:
  std::vector<Milestone> states_;
  std::int64_t switched_on_ = 0;  // outputs, until now
  std::int64_t since_ = 0;        // the items at which the last one was
};

}  // namespace rampart
