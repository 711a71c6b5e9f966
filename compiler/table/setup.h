#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/table/table.h"

// What is set once, before the first row of a table is played.
namespace rampart {

struct FuseSetup {
  Nanoseconds delay{0};
  std::optional<Amps> current;    // none: it acts in constant current
  std::vector<ChannelId> linked;  // channels of other rails that switch off when this fuse acts, in the bench's order
};

// The protection of one channel. What is absent stays off.
struct ChannelSetup {
  ChannelId channel{};
  RailId rail{};
  bool remote_sense = false;
  std::optional<Volts> overvoltage;
  std::optional<FuseSetup> fuse;
  std::optional<Watts> overpower;
  Nanoseconds overpower_delay{0};
  std::vector<ChannelId> coupled;  // the other members of its combination: any trip of this one switches them off
};

// What the members of one rail are set to, in the order of its members: each has its share, exactly, of what the
// profile says of the rail; delays are the same for all. By magnitude.
[[nodiscard]] std::vector<ChannelSetup> member_setups(const Table& table, RailId rail);

// The same for each channel that the table drives, in the bench's order.
[[nodiscard]] std::vector<ChannelSetup> channel_setups(const Table& table);

// A resolved condition as text with names of rails and values with units, such as "radio <= 500 mV".
[[nodiscard]] std::string condition_text(const Profile& profile, const Condition& condition);

// The name of a trigger line as rows have it: "left.line2".
[[nodiscard]] std::string line_name(const Bench& bench, const Line& line);
// What a line does: "driven by rows", "awaited", or by itself, such as "high when tripped".
[[nodiscard]] std::string_view line_role(const Line& line);

}  // namespace rampart
