#include "runtime/cli/shared/list_choice.h"

#include <algorithm>

#include "runtime/cli/shared/command_line.h"

namespace rampart::cli {

void add_ramp_error(Command& command, ListOptions& options) {
  const auto take = [&options](const std::string& text) {
    const std::optional<Quantity> quantity = parse_quantity(text);
    const bool fits = quantity && !quantity->value.overflowed() && quantity->dimension == dimension::kVoltage &&
                      quantity->value.sign() >= 0;
    if (!fits) throw UsageError{"--ramp-error", "`" + text + "` is not a voltage, such as 20 mV"};
    options.ramp_error = Volts{quantity->value};
  };
  command
      .option("--ramp-error", take,
              "how far the stairs of a list may be off if memory is short; default: one step of the channel")
      .value_name("VOLTAGE");
}

std::optional<std::vector<ChannelList>> plan_lists(const Compiled& compiled, const ListOptions& options,
                                                   FindingSink& findings) {
  if (compiled.run() == nullptr) return std::nullopt;
  return rampart::plan_lists(*compiled.run(), options, findings);
}

std::optional<SupplyId> choose_supply(const Bench& bench, const std::vector<ChannelList>& lists,
                                      const std::string& name, std::string& why) {
  std::vector<SupplyId> supplies;
  for (const ChannelList& list : lists) supplies.push_back(bench[list.channel].supply);
  supplies.erase(std::unique(supplies.begin(), supplies.end()), supplies.end());
  std::string names;
  for (const SupplyId id : supplies) {
    if (bench[id].name == name || (name.empty() && supplies.size() == 1)) return id;
    names += (names.empty() ? "`" : ", `") + bench[id].name + "`";
  }
  const bool is_known = std::any_of(bench.supplies.begin(), bench.supplies.end(),
                                    [&](const Supply& supply) { return supply.name == name; });
  why = name.empty() ? "each supply plays a list of its own; say which with --supply: " + names
        : is_known   ? "supply `" + name + "` plays nothing here, but " + names
                     : "the bench has no supply `" + name + "`; those that play a list here: " + names;
  return std::nullopt;
}

}  // namespace rampart::cli
