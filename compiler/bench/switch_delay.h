#pragma once

#include <optional>
#include <span>
#include <vector>

#include "compiler/bench/bench.h"
#include "lang/values/instant.h"

// When the switch of an output acts. It closes a delay after it is told to, and opens at once. The delay is somewhere
// in the range that the bench gives for the supply, the same for all outputs of the supply and all through a run.
namespace rampart {

// Where in its range a time of a supply is: -1 at the least, 0 in the middle, 1 at the most.
[[nodiscard]] Nanoseconds time_in(const Range<Nanoseconds>& range, double position);

// Of each supply of a bench, where in its range its switch delay is.
using SwitchPositions = std::vector<double>;

// How long after `on` an output conducts: that of the last of its members.
[[nodiscard]] Nanoseconds switch_delay(const Bench& bench, std::span<const ChannelId> members,
                                       const SwitchPositions& positions);

// What the time to come needs to know of a switch.
struct ContactState {
  Instant now;
  std::optional<Instant> due;  // it has been told to close, and will then

  // The closing that it waits for is the one that it waited for before.
  [[nodiscard]] bool waits_on(const ContactState& before) const;
  // Equal: it waits for nothing, for the same closing, or for one as far off. See passes_before_closing().
  friend bool operator==(const ContactState& before, const ContactState& after);
};

// Of passes that are all alike, how many, up to `most`, end before a closing that was waited for when the last one
// began.
[[nodiscard]] std::int64_t passes_before_closing(const ContactState& before, const ContactState& after,
                                                 std::int64_t most);

class OutputSwitch {
 public:
  explicit OutputSwitch(Nanoseconds delay) : delay_(delay) {}

  // Without a delay it closes at once. To open before it has closed is to stay open.
  void tell(bool on, const Instant& now);
  [[nodiscard]] bool told_on() const { return told_on_; }
  [[nodiscard]] bool closed() const { return told_on_ && !due_; }
  // When it closes, as long as it has not.
  [[nodiscard]] const std::optional<Instant>& due() const { return due_; }
  // True if it closes now.
  [[nodiscard]] bool close_if_due(const Instant& now);
  [[nodiscard]] ContactState state(const Instant& now) const { return {now, due_}; }
  // Passes were added without being walked: it closes later.
  void put_off(const Instant& by);

 private:
  Nanoseconds delay_;
  bool told_on_ = false;
  std::optional<Instant> due_;
};

}  // namespace rampart
