#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "compiler/bench/bench.h"
#include "lang/values/rounded_line.h"

namespace rampart {

struct MemberCounts {
  std::int64_t voltage = 0;
  std::int64_t current = 0;
};

// How the channels behind a rail share what it is set to and protected by; docs/bench.md, "Shares", says the same in
// words. A channel alone takes the whole.
//
// The share of a member is the top of its range (of voltage in series, of current in parallel) over the sum of those of
// all members. What adds up is shared: voltages in series, currents in parallel, powers in both.
class Shares {
 public:
  // `members` has one channel, or those of a combination.
  Shares(const Bench& bench, std::span<const ChannelId> members, std::optional<Arrangement> arrangement);

  // What a member takes of the rail's quantity; members are counted from 0 as the bench lists them.
  [[nodiscard]] Rational of_voltage(std::size_t member) const { return series_ ? shares_[member] : Rational(1); }
  [[nodiscard]] Rational of_current(std::size_t member) const { return parallel_ ? shares_[member] : Rational(1); }
  [[nodiscard]] const Rational& of_power(std::size_t member) const { return shares_[member]; }

  // Counts of each member for what the channels are to give together, by magnitude. `counts` has one entry a member.
  void set_voltage(const Rational& total, std::vector<MemberCounts>& counts) const;
  void set_current(const Rational& total, std::vector<MemberCounts>& counts) const;

  // Whole steps of the rail on the straight way from one total to another in equal parts, where its members are alike
  // and need no sharing out; empty where they do, or where the numbers are too large for it.
  [[nodiscard]] std::optional<RoundedLine> voltage_way(const Rational& from, const Rational& to,
                                                       std::int64_t parts) const;
  [[nodiscard]] std::optional<RoundedLine> current_way(const Rational& from, const Rational& to,
                                                       std::int64_t parts) const;
  // Counts of each member for whole steps of such a way.
  void set_voltage_steps(std::int64_t steps, std::vector<MemberCounts>& counts) const { copy(steps, voltage_, counts); }
  void set_current_steps(std::int64_t steps, std::vector<MemberCounts>& counts) const { copy(steps, current_, counts); }

  // What the rail is set to where it is asked for `total`: the members' counts together.
  [[nodiscard]] Rational settable_voltage(const Rational& total) const;
  [[nodiscard]] Rational settable_current(const Rational& total) const;

  // A member is set to no more than this as long as the rail is at `highest` or below.
  [[nodiscard]] Rational highest_voltage(std::size_t member, const Rational& highest) const;

  // The least change that the rail can be set by: the finest count where members share, the least common multiple of
  // the counts where they are alike; overflowed where that does not fit in 128 bits.
  [[nodiscard]] const Rational& voltage_step() const { return voltage_.step; }
  [[nodiscard]] const Rational& current_step() const { return current_.step; }

 private:
  using Quantity = std::int64_t MemberCounts::*;
  // Members whose counts are alike.
  struct Group {
    Rational width;  // of a count
    std::vector<std::size_t> members;
    Rational tops_after;  // what the members of later groups can have at most
    Rational lows_after;
  };
  // One quantity of the members.
  struct Scale {
    explicit Scale(Quantity of) : quantity(of) {}
    Quantity quantity;
    bool shared = false;
    std::vector<Rational> counts;  // width of a count
    std::vector<Rational> lows;    // of the ranges
    std::vector<Rational> tops;    // of the ranges
    Rational step;
    // Where members share: the least and most of all together, and the members by their counts, the coarsest first.
    Rational low;
    Rational top;
    std::vector<Group> groups;
    std::vector<std::int64_t> counts_of_step;  // where the members are alike
  };
  static void find_step(Scale& scale);
  void form_groups(Scale& scale) const;
  [[nodiscard]] Int128 hand_out(Int128 count, const Rational& total, const Scale& scale, const Group& group,
                                std::vector<MemberCounts>& counts) const;
  [[nodiscard]] static Int128 within(Int128 count, const Rational& total, const Scale& scale, std::size_t member);
  void spread(const Rational& total, const Scale& scale, std::vector<MemberCounts>& counts) const;
  static void copy(std::int64_t steps, const Scale& scale, std::vector<MemberCounts>& counts) {
    for (std::size_t i = 0; i < counts.size(); ++i) counts[i].*scale.quantity = steps * scale.counts_of_step[i];
  }
  [[nodiscard]] Rational together(const Scale& scale, const std::vector<MemberCounts>& counts) const;

  std::vector<Rational> shares_;
  bool series_ = false;
  bool parallel_ = false;
  Scale voltage_{&MemberCounts::voltage};
  Scale current_{&MemberCounts::current};
};

}  // namespace rampart
