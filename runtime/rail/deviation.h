#pragma once

#include <vector>

// How far the outputs of a run are from what they are set to, and its supplies from the middle of their times.
namespace rampart {

// What is set to x is x (1 + fraction) + offset, SI. The error is never more than x itself: what is set to nothing
// gives nothing.
struct SettingError {
  double fraction = 0;
  double offset = 0;
};

// Times of the supply itself, which the bench gives as ranges, are told by where in it they are: see time_in().
struct ChannelDeviation {
  SettingError voltage;
  SettingError current;
  double on_delay = 0;
};

struct RailDeviation {
  std::vector<ChannelDeviation> members;  // in the order of the rail's channels
  SettingError overvoltage;
  SettingError fuse_delay;
  // What is off is off for certain, so nothing is kept back for accuracy.
  bool is_certain = false;
  bool fuse_acts = true;
  bool overpower_acts = true;
};

[[nodiscard]] double deviated(double set, const SettingError& error);

}  // namespace rampart
