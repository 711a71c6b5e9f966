#pragma once

#include <memory>
#include <vector>

#include "runtime/rail/rail_run.h"

namespace rampart {

// The trigger lines during a run: all low at first.
class LineLevels {
 public:
  LineLevels(const Profile& profile, EventLog& events)
      : profile_(&profile), events_(&events), levels_(profile.lines.size(), false) {}

  // A statement or something outside sets a line.
  void set(LineId line, bool high, const Instant& now, const Doing& doing);
  // Lines that act by themselves take the level that their rails give them now.
  void follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes);
  void add_memory(std::vector<double>& memory) const { memory.insert(memory.end(), levels_.begin(), levels_.end()); }
  // Stands as another does.
  void continue_as(const LineLevels& other) { levels_ = other.levels_; }

 private:
  const Profile* profile_;
  EventLog* events_;
  std::vector<bool> levels_;
};

}  // namespace rampart
