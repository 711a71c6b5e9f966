#include "runtime/play/step_parts.h"

#include <algorithm>

namespace rampart {

const circuit::Piece& part_of(const Group& group, const Instant& from, const Instant& to,
                              std::unique_ptr<circuit::Piece>& room) {
  const circuit::Piece& whole = group->piece();
  const double before = from.since(group.begins());
  const double after = group.ends().since(to);
  if (before <= 0 && after <= 0) return whole;
  if (room == nullptr) room = std::make_unique<circuit::Piece>();
  const double begin = std::clamp(before / whole.length, 0.0, 1.0);
  whole.make_part(begin, std::clamp(to.since(from) / whole.length, 0.0, 1.0 - begin), *room);
  return *room;
}

}  // namespace rampart
