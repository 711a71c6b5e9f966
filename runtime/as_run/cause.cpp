#include "runtime/as_run/cause.h"

#include <array>

#include "lang/values/kind_rows.h"
#include "runtime/as_run/answer.h"

namespace rampart::as_run {
namespace {

constexpr auto kCauses = std::to_array<CauseRow>({
    {Cause::Late, "late", "a late row", "s", true},
    {Cause::Early, "early", "an early row", "s", true},
    {Cause::OutputOff, "output-off", "an output that is off", "", true},
    {Cause::Tripped, "tripped", "a trip", ""},
    {Cause::Swapped, "swapped", "leads or columns that are swapped", ""},
    {Cause::Sign, "sign", "a reversed sign", ""},
    {Cause::Format, "format", "a wrong unit", ""},
    {Cause::Limit, "limit", "another current limit", "A"},
    {Cause::Offset, "offset", "an offset", ""},
    {Cause::Gain, "gain", "a gain", ""},
    {Cause::OtherLoad, "other-load", "another load", ""},
    {Cause::Sag, "sag", "a voltage that sags", "V"},
    {Cause::Stuck, "stuck", "a reading that does not change", ""},
    {Cause::Unknown, "unknown", "none of the known causes", ""},
});
static_assert(rows_in_order(kCauses, static_cast<std::size_t>(Cause::Unknown) + 1));

}  // namespace

std::span<const CauseRow> cause_rows() {
  return kCauses;
}

const CauseRow& row_of(Cause cause) {
  return kCauses[static_cast<std::size_t>(cause)];
}

std::string_view verdict_word(Verdict verdict) {
  switch (verdict) {
    case Verdict::Pass:
      return "PASS";
    case Verdict::Fail:
      return "FAIL";
    case Verdict::Inconclusive:
      break;
  }
  return "INCONCLUSIVE";
}

std::string_view fault_name(CommandFault fault) {
  switch (fault) {
    case CommandFault::Missing:
      return "missing";
    case CommandFault::Extra:
      return "extra";
    case CommandFault::Value:
      break;
  }
  return "value";
}

std::string_view observed_word(Observed observed) {
  switch (observed) {
    case Observed::Pass:
      return "PASS";
    case Observed::Fail:
      return "FAIL";
    case Observed::NotObserved:
      break;
  }
  return "not observed";
}

}  // namespace rampart::as_run
