#pragma once

#include <optional>
#include <span>
#include <vector>

#include "runtime/play/rig.h"
#include "runtime/play/simulate.h"

namespace rampart {

// What is still to befall a run besides its table, and what has.
class IncidentQueue {
 public:
  explicit IncidentQueue(const Incidents& incidents);
  // Without incidents, as on trial.
  IncidentQueue() = default;

  [[nodiscard]] std::optional<Instant> next() const;
  [[nodiscard]] bool fault_is_due(const Instant& now) const { return fault_ != nullptr && is_due(fault_->at, now); }
  [[nodiscard]] bool assertion_is_due(const Instant& now) const {
    return assertion_ != nullptr && is_due(assertion_->at, now);
  }
  [[nodiscard]] bool cut_off_is_due(const Instant& now) const {
    return cut_off_ != nullptr && is_due(cut_off_->at, now);
  }
  // The fault comes.
  void inject(Rig& rig, const Instant& now);
  // The interlock acts.
  void assert_line(const Profile& profile, Rig& rig, const Instant& now, const Passes& passes);
  // Rails go off, as a log says that they did.
  void cut_off(Rig& rig, const Instant& now);
  // Some rows of the run are not those of its table.
  [[nodiscard]] bool has_commanded() const { return !replaced_.empty(); }
  // A row of the table for this channel does not come, by now.
  [[nodiscard]] bool replaces(ChannelId channel, const Instant& now) const;
  // The next of the rows that come instead, where it is due.
  [[nodiscard]] const Row* take_commanded(const Instant& now);
  // `safe` is as its table has it.
  void leave_commanded();
  // How long the coming wait lasts, where that was observed.
  [[nodiscard]] std::optional<Nanoseconds> take_wait() {
    return has_waits() ? std::optional(waits_[waits_taken_++]) : std::nullopt;
  }
  [[nodiscard]] bool has_waits() const { return waits_taken_ < waits_.size(); }
  [[nodiscard]] std::size_t waits_taken() const { return waits_taken_; }
  void add_to(Simulation& result) const;

 private:
  [[nodiscard]] static bool is_due(const Instant& at, const Instant& now) { return at.since(now) <= kShortestStep; }

  const Injection* fault_ = nullptr;  // until it has come
  std::optional<FaultRecord> fault_record_;
  const Assertion* assertion_ = nullptr;  // likewise
  bool asserted_ = false;
  const CutOff* cut_off_ = nullptr;  // likewise
  std::span<const Nanoseconds> waits_;
  std::span<const Commanded> commanded_;  // what is still to come of it
  struct Replaced {
    ChannelId channel{};
    Instant from;
  };
  std::vector<Replaced> replaced_;
  std::size_t waits_taken_ = 0;
};

}  // namespace rampart
