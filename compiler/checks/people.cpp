#include <algorithm>
#include <chrono>

#include "compiler/checks/families.h"
#include "lang/findings/practice.h"

// What can hurt someone.
namespace rampart::checks {
namespace {

// Bare parts that can be touched indoors in dry conditions: 60 V DC. EN 60204-1, 6.4.
const Volts kTouchable{Rational(60)};
// A run longer than a working day goes on when nobody is there. Common practice, no source.
constexpr Nanoseconds kAttended = std::chrono::hours(8);

Span word(const Span& span, std::uint32_t length) {
  return {span.file, span.begin, std::min(span.begin + length, span.end)};
}

const char* const kTouchHint =
    "EN 60204-1, 6.4, lets bare parts be touched up to 60 V DC, indoors and dry: cover them, use shrouded leads, and "
    "have a qualified person look at the set-up, for local rules apply";

struct Extreme {
  Rational value;
  std::optional<RailId> rail;
};

}  // namespace

void check_safe_state(const Context& context) {
  const auto used =
      std::count_if(context.usage.begin(), context.usage.end(), [](const Usage& usage) { return usage.switched_on; });
  if (used < 2 || context.safe != nullptr) return;
  context
      .practice(finding::NoSafeState, std::nullopt, word(context.profile.run_span, 3), nullptr,
                static_cast<std::int64_t>(used))
      .hint("say in which order they go down after a trip or a stop: `safe { … }`");
}

void check_touch_voltage(const Context& context) {
  Extreme highest;
  Extreme lowest;
  bool reported = false;
  for (std::size_t i = 0; i < context.profile.rails.size(); ++i) {
    const RailId id{static_cast<std::uint32_t>(i)};
    const Usage& usage = context.usage[i];
    const Rail& rail = context.profile.rails[i];
    if (!usage.highest) continue;
    Extreme& extreme = rail.reversed ? lowest : highest;
    if (!extreme.rail || extreme.value < *usage.highest) extreme = {*usage.highest, id};
    if (*usage.highest <= kTouchable.si) continue;
    reported = true;
    context
        .practice(finding::TouchVoltage, id, usage.highest_place, nullptr, rail.name, Volts{*usage.highest}, kTouchable)
        .hint(kTouchHint);
  }
  // Between a positive and a negative rail their sum can be touched.
  if (reported || !highest.rail || !lowest.rail) return;
  const Rational between = highest.value + lowest.value;
  if (between <= kTouchable.si) return;
  context
      .practice(finding::TouchVoltageBetween, lowest.rail,
                context.usage[static_cast<std::size_t>(*lowest.rail)].highest_place, nullptr,
                context.profile[*highest.rail].name, context.profile[*lowest.rail].name, Volts{between}, kTouchable)
      .hint(kTouchHint);
}

void check_unattended(const Context& context) {
  const Nanoseconds duration = context.run.timeline().duration();
  if (duration <= kAttended) return;
  context
      .practice(finding::Unattended, std::nullopt, word(context.profile.run_span, 3), nullptr, duration,
                Nanoseconds(kAttended))
      .hint(
          "see that fuses, a smoke detector and a way to cut the mains are there: local rules on unattended "
          "operation apply");
}

}  // namespace rampart::checks
