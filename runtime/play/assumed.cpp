#include "runtime/play/assumed.h"

#include <algorithm>
#include <utility>

namespace rampart {

std::vector<Assumption> assumed_of(const Table& table, const Load& load) {
  Assumption loads{Assumed::NoLoad, {}};
  Assumption wires{Assumed::NoWire, {}};
  Assumption slews{Assumed::NoSlew, {}};
  Assumption capacitances{Assumed::NoOutputCapacitance, {}};
  Assumption thermals{Assumed::NoThermal, {}};
  Assumption off_resistances{Assumed::NoOffResistance, {}};
  std::vector<ChannelId> seen;
  for (const RailSetup& setup : table.rails()) {
    const std::string& rail = table.profile()[setup.rail].name;
    const RailLoad* found = load.find_rail(rail);
    if (found == nullptr) loads.names.push_back(rail);
    if (found != nullptr && found->wire.nominal == 0) wires.names.push_back(rail);
    for (const ChannelId id : setup.members) {
      if (std::find(seen.begin(), seen.end(), id) != seen.end()) continue;
      seen.push_back(id);
      const Channel& channel = table.bench()[id];
      if (!channel.slew) slews.names.push_back(channel.name);
      if (channel.output_capacitance.si.sign() == 0) capacitances.names.push_back(channel.name);
      if (!channel.thermal) thermals.names.push_back(channel.name);
      if (!channel.off_resistance) off_resistances.names.push_back(channel.name);
    }
  }
  std::vector<Assumption> result;
  for (Assumption* one : {&loads, &wires, &slews, &capacitances, &thermals, &off_resistances}) {
    if (!one->names.empty()) result.push_back(std::move(*one));
  }
  return result;
}

}  // namespace rampart
