#include "runtime/rail/limited_spell.h"

namespace rampart {

void LimitedSpell::end(const Instant& now, const Doing& doing) {
  note(now, doing);
  since_.reset();
}

void LimitedSpell::note(const Instant& now, const Doing& doing) {
  if (!since_) return;
  const double time = now.since(*since_);
  if (time > longest_.value * (1 + 1e-12)) longest_ = {time, now.seconds(), doing.statement, doing.passes};
}

void LimitedSpell::shift(const Instant& by, const Instant& pass_began) {
  if (since_ && since_->since(pass_began) >= 0) since_ = since_->plus(by);
}

void LimitedSpell::continue_as(const LimitedSpell& other, const Instant& by, const Instant& pass_began) {
  if (since_ && other.since_ && other.since_->since(pass_began) < 0) return;
  since_ = other.since_;
  if (since_) since_ = since_->plus(by);
}

void LimitedSpell::add_ages(const Instant& now, const Instant& pass_began, std::vector<double>& ages) const {
  if (since_) ages.push_back(since_->since(pass_began) < 0 ? -1 : now.since(*since_));
}

}  // namespace rampart
