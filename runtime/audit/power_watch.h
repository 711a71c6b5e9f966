#pragma once

#include <deque>
#include <optional>
#include <vector>

#include "compiler/bench/bench.h"
#include "runtime/audit/table_row.h"

namespace rampart::audit {

// What a channel is set to from a time on, until its next row.
struct SetFrom {
  double time = 0;     // s
  double voltage = 0;  // V, by magnitude
  double current = 0;  // A
  bool output = false;
  KeptPlace place;
};

struct MostPower {
  double power = 0;  // W
  KeptPlace place;   // of the row that brings it
};

// The most that a channel is set to give between two of its rows, where both run straight: the product of two straight
// courses is a parabola.
[[nodiscard]] double most_power_between(const SetFrom& from, const SetFrom& to);

// Adds up what the channels of a supply are set to give, over time. A channel of a `linear` supply is known up to its
// last row only, so what others do after it is kept until its next row, for at most kMostKept rows: such a channel
// counts as standing still.
class PowerWatch {
 public:
  static constexpr std::size_t kMostKept = 10'000;

  explicit PowerWatch(const Supply& supply);

  void begin_segment();
  // Rows come in the order of their times. The first stretch that is above the supply's power, once a watch.
  [[nodiscard]] std::optional<MostPower> take(ChannelId channel, const SetFrom& from);
  [[nodiscard]] std::optional<MostPower> end_segment();

 private:
  struct Member {
    ChannelId channel{};
    std::deque<SetFrom> points;  // the first rules at the time reached, if it is not after it
  };
  struct Stretch {
    double begin = 0;
    double end = 0;
  };
  [[nodiscard]] double known_until(const Member& member) const;
  [[nodiscard]] std::optional<MostPower> go_to(double time);
  [[nodiscard]] double next_turn(double before) const;
  [[nodiscard]] std::optional<MostPower> judge(const Stretch& stretch) const;
  [[nodiscard]] double power_at(double time, const Stretch& stretch) const;
  [[nodiscard]] KeptPlace place_in(const Stretch& stretch) const;

  double bound_;
  bool is_linear_;
  std::vector<Member> members_;
  double now_ = 0;      // of the last row
  double reached_ = 0;  // judged until then
  bool is_over_ = false;
};

}  // namespace rampart::audit
