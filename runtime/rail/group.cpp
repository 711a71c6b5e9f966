#include "runtime/rail/group.h"

namespace rampart {

void Group::plan(const Instant& now, const Instant& until) {
  const double asked = until.since(now);
  circuit_->plan(asked);
  const double length = circuit_->piece().length;
  const bool whole = length >= asked;
  step_ = {now, whole ? until : now.plus_seconds(length), true, whole};
}

void Group::bound(double length) {
  if (length >= circuit_->piece().length) return;
  circuit_->cut(length);
  step_.ends = step_.begins.plus_seconds(length);
  step_.whole = false;
}

bool Group::end_at(const Instant& now) {
  if (now.since(step_.ends) >= 0) return true;
  const double gone = now.since(step_.begins);
  if (gone <= kShortestStep) {
    step_.lasts = false;
    return false;
  }
  circuit_->cut(gone);
  step_.ends = now;
  step_.whole = false;
  return true;
}

void Group::advance() {
  circuit_->advance();
  step_.lasts = false;
}

}  // namespace rampart
