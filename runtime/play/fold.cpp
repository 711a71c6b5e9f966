#include "runtime/play/fold.h"

#include <algorithm>
#include <cmath>

namespace rampart {

bool same_state(const RailRun::State& a, const RailRun::State& b, double between, std::size_t numbers_apart) {
  if (a.rest != b.rest || a.contact != b.contact || a.numbers.size() != b.numbers.size()) return false;
  for (std::size_t i = numbers_apart; i < a.numbers.size(); ++i) {
    const double size = std::max({std::abs(a.numbers[i]), std::abs(b.numbers[i]), b.scales[i]});
    if (std::abs(a.numbers[i] - b.numbers[i]) > b.same * size) return false;
  }
  // A limit phase that spans the ends of passes has its full length once it is as old at each; one that fills whole
  // passes only grows.
  const double age = std::max(a.limited_for, b.limited_for);
  return b.limited_for >= between || std::abs(a.limited_for - b.limited_for) <= b.same * age + 1e-15;
}

PassState state_of(const Rails& rails, const RuleWatch& rules, const Instant& now) {
  PassState state;
  state.time = now;
  for (const auto& rail : rails) {
    state.rails.push_back(rail->state(now));
    state.sums.push_back(rail->sums());
    state.marks.push_back(rail->marks_reached());
  }
  state.rules = rules.state(now);
  return state;
}

Instant repeat(const Rails& rails, RuleWatch& rules, const PassState& before, const PassState& after,
               std::int64_t times, std::optional<std::size_t> drifting) {
  const Instant added{(after.time.whole - before.time.whole) * times,
                      (after.time.rest - before.time.rest) * static_cast<double>(times)};
  for (std::size_t i = 0; i < rails.size(); ++i) {
    if (i != drifting) rails[i]->sums().repeat_since(before.sums[i], static_cast<double>(times));
    rails[i]->repeat_marks(before.marks[i], times);
    rails[i]->repeat_heat(before.rails[i], after.time.since(before.time), times);
    rails[i]->shift(added, before.time);
    if (!after.rails[i].contact.waits_on(before.rails[i].contact)) rails[i]->put_off_contact(added);
  }
  rules.shift(added, before.time);
  return added;
}

bool same_state(const PassState& a, const PassState& b, const std::optional<Apart>& apart) {
  if (a.outer != b.outer || a.to_pass_end != b.to_pass_end || a.table != b.table || a.rules != b.rules) return false;
  const double between = b.time.since(a.time);
  for (std::size_t i = 0; i < a.rails.size(); ++i) {
    const std::size_t numbers = apart && apart->rail == i ? apart->numbers : 0;
    if (!same_state(a.rails[i], b.rails[i], between, numbers)) return false;
  }
  return true;
}

}  // namespace rampart
