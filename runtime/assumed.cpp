#include "runtime/assumed.h"

#include <algorithm>

namespace rampart {

std::vector<std::string> assumed_of(const Table& table, const Load& load) {
  std::vector<std::string> result;
  std::vector<ChannelId> seen;
  for (const RailSetup& setup : table.rails()) {
    const std::string& rail = table.profile()[setup.rail].name;
    const RailLoad* found = load.find_rail(rail);
    if (found == nullptr) {
      result.push_back("rail `" + rail + "` has no load: it is open");
    } else if (found->wire.nominal == 0) {
      result.push_back("rail `" + rail + "` has no wire: it has no resistance");
    }
    for (const ChannelId id : setup.members) {
      if (std::find(seen.begin(), seen.end(), id) != seen.end()) continue;
      seen.push_back(id);
      const Channel& channel = table.bench()[id];
      if (!channel.slew) result.push_back("`" + channel.name + "` has no slew: its output moves at once");
      if (channel.output_capacitance.si.sign() == 0) {
        result.push_back("`" + channel.name + "` has no output_capacitance: it has none");
      }
      if (!channel.thermal) result.push_back("`" + channel.name + "` has no thermal: it stays cool");
      if (!channel.off_resistance) {
        result.push_back("`" + channel.name + "` has no off_resistance: it is open when off");
      }
    }
  }
  return result;
}

}  // namespace rampart
