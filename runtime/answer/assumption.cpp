#include "runtime/answer/assumption.h"

#include <array>

#include "lang/values/kind_rows.h"

namespace rampart {
namespace {

constexpr auto kAssumedRows = std::to_array<AssumedRow>({
    {Assumed::NoLoad, "rail", "load: simulated as open", true},
    {Assumed::NoWire, "rail", "wire: leads without resistance"},
    {Assumed::NoSlew, "", "slew rate: the output moves at once"},
    {Assumed::NoOutputCapacitance, "", "output capacitance: assumed to be none"},
    {Assumed::NoThermal, "", "thermal data: overtemperature not modelled", true},
    {Assumed::NoOffResistance, "", "off resistance: open when off"},
});
static_assert(rows_in_order(kAssumedRows, static_cast<std::size_t>(Assumed::NoOffResistance) + 1));

}  // namespace

const AssumedRow& row_of(Assumed kind) {
  return kAssumedRows[static_cast<std::size_t>(kind)];
}

std::string assumption_text(const Assumption& assumption) {
  const AssumedRow& row = row_of(assumption.kind);
  const bool is_one = assumption.names.size() == 1;
  std::string text(row.noun);
  if (!text.empty()) text += is_one ? " " : "s ";
  for (std::size_t i = 0; i < assumption.names.size(); ++i) text += (i > 0 ? ", `" : "`") + assumption.names[i] + "`";
  return text + (is_one ? " has no " : " have no ") + std::string(row.what);
}

}  // namespace rampart
