#include "runtime/play/assumed.h"

#include <algorithm>
#include <string_view>

namespace rampart {
namespace {

// Whom the files say nothing about in one respect.
class Silence {
 public:
  void add(const std::string& name) {
    if (!names_.empty()) names_ += ", ";
    names_ += "`" + name + "`";
    ++count_;
  }
  // "rails `a`, `b` have no wire: no resistance"; "`a.ch1` has no slew: …" without a noun.
  void append_to(std::vector<std::string>& list, std::string_view noun, std::string_view what) const {
    if (count_ == 0) return;
    std::string text(noun);
    if (!noun.empty()) text += count_ == 1 ? " " : "s ";
    list.push_back(text + names_ + (count_ == 1 ? " has no " : " have no ") + std::string(what));
  }

 private:
  std::string names_;
  std::size_t count_ = 0;
};

}  // namespace

std::vector<std::string> assumed_of(const Table& table, const Load& load) {
  Silence loads;
  Silence wires;
  Silence slews;
  Silence capacitances;
  Silence thermals;
  Silence off_resistances;
  std::vector<ChannelId> seen;
  for (const RailSetup& setup : table.rails()) {
    const std::string& rail = table.profile()[setup.rail].name;
    const RailLoad* found = load.find_rail(rail);
    if (found == nullptr) loads.add(rail);
    if (found != nullptr && found->wire.nominal == 0) wires.add(rail);
    for (const ChannelId id : setup.members) {
      if (std::find(seen.begin(), seen.end(), id) != seen.end()) continue;
      seen.push_back(id);
      const Channel& channel = table.bench()[id];
      if (!channel.slew) slews.add(channel.name);
      if (channel.output_capacitance.si.sign() == 0) capacitances.add(channel.name);
      if (!channel.thermal) thermals.add(channel.name);
      if (!channel.off_resistance) off_resistances.add(channel.name);
    }
  }
  std::vector<std::string> result;
  loads.append_to(result, "rail", "load: open");
  wires.append_to(result, "rail", "wire: no resistance on the way");
  slews.append_to(result, "", "slew: the output moves at once");
  capacitances.append_to(result, "", "output_capacitance: none");
  thermals.append_to(result, "", "thermal: the output stays cool");
  off_resistances.append_to(result, "", "off_resistance: open when off");
  return result;
}

}  // namespace rampart
