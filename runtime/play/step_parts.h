#pragma once

#include <cstddef>
#include <memory>
#include <vector>

#include "lang/values/instant.h"
#include "runtime/rail/group.h"

namespace rampart {

// What a rail does between two instants within its present step: the step itself, or its part in `room`. Valid until
// the room is used again or the rail goes on.
[[nodiscard]] const circuit::Piece& part_of(const Group& group, const Instant& from, const Instant& to,
                                            std::unique_ptr<circuit::Piece>& room);

// Parts of the steps of several rails, over one stretch of time: what those see who look at more rails than one.
class StepParts {
 public:
  explicit StepParts(std::size_t rails) : parts_(rails) {}
  // Room is not copied.
  StepParts(const StepParts& other) : parts_(other.parts_.size()) {}
  StepParts(StepParts&&) noexcept = default;
  StepParts& operator=(StepParts&&) noexcept = default;
  ~StepParts() = default;

  // What the rail does between two instants within its present step. Valid until the rail is asked for again or goes
  // on.
  [[nodiscard]] const circuit::Piece& of(std::size_t rail, const Group& group, const Instant& from, const Instant& to) {
    return part_of(group, from, to, parts_[rail]);
  }

 private:
  std::vector<std::unique_ptr<circuit::Piece>> parts_;  // by rail
};

}  // namespace rampart
