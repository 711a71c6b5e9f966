#include <algorithm>
#include <chrono>

#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
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
    "EN 60204-1, 6.4, allows bare parts up to 60 V DC to be touched, indoors and dry: cover them, use shrouded leads, "
    "and "
    "have a qualified person check the set-up; local rules apply";

// The highest voltage between a rail and a reversed one that are on at one time, and when it is first reached.
struct Between {
  Rational voltage;
  std::size_t plain = 0;  // rails
  std::size_t reversed = 0;
  Setter by;
  Nanoseconds time{0};
  std::size_t segment = 0;
  std::int64_t pass = 0;
  bool in_safe = false;
};

// Their voltages run straight, so the highest sum stands at an end of a part.
class BetweenRails {
 public:
  explicit BetweenRails(const Profile& profile) : profile_(profile) {}

  void take(const Stretch& stretch, bool is_safe) {
    is_safe_ = is_safe;
    stretch.for_each_part([&](const std::map<std::size_t, Way>& now, Nanoseconds begin, Nanoseconds end) {
      for (const Nanoseconds time : {begin, end}) take(stretch, now, time);
    });
  }
  [[nodiscard]] const Between& highest() const { return highest_; }

 private:
  void take(const Stretch& stretch, const std::map<std::size_t, Way>& now, Nanoseconds time) {
    Between between;
    Rational plain;
    Rational reversed;
    for (std::size_t rail = 0; rail < stretch.courses.size(); ++rail) {
      const auto moving = now.find(rail);
      const Way way = moving != now.end() ? moving->second : stretch.courses[rail].standing(time);
      const Rational voltage = way.at(time).voltage;
      const bool is_reversed = profile_.rails[rail].reversed;
      if (!way.on || voltage <= (is_reversed ? reversed : plain)) continue;
      (is_reversed ? reversed : plain) = voltage;
      (is_reversed ? between.reversed : between.plain) = rail;
      if (way.last_setter().number > between.by.number) between.by = way.last_setter();
    }
    if (plain.sign() == 0 || reversed.sign() == 0 || plain + reversed <= highest_.voltage) return;
    highest_ = between;
    highest_.voltage = plain + reversed;
    highest_.time = time;
    highest_.segment = stretch.segment;
    highest_.pass = stretch.pass;
    highest_.in_safe = is_safe_;
  }

  const Profile& profile_;
  bool is_safe_ = false;
  Between highest_;
};

Rational highest_of(const Context& context, bool reversed) {
  Rational highest;
  for (std::size_t i = 0; i < context.usage.size(); ++i) {
    if (context.profile.rails[i].reversed != reversed) continue;
    highest = std::max(highest, context.usage[i].highest.value_or(Rational(0)));
  }
  return highest;
}

}  // namespace

void check_safe_state(const Context& context) {
  const auto used =
      std::count_if(context.usage.begin(), context.usage.end(), [](const Usage& usage) { return usage.switched_on; });
  if (used < 2 || context.profile.safe) return;
  context
      .practice(finding::NoSafeState, std::nullopt, word(context.profile.run_span, 3), nullptr,
                static_cast<std::int64_t>(used))
      .hint("write in which order they shut down after a trip or a stop: `safe { … }`");
}

void check_touch_voltage(const Context& context) {
  bool reported = false;
  for (std::size_t i = 0; i < context.profile.rails.size(); ++i) {
    const Usage& usage = context.usage[i];
    if (!usage.highest || *usage.highest <= kTouchable.si) continue;
    reported = true;
    context
        .practice(finding::TouchVoltage, RailId{static_cast<std::uint32_t>(i)}, usage.highest_place, nullptr,
                  context.profile.rails[i].name, Volts{*usage.highest}, kTouchable)
        .hint(kTouchHint);
  }
  // Between a positive and a negative rail their sum can be touched. What never adds up to enough need not be walked.
  if (reported || highest_of(context, false) + highest_of(context, true) <= kTouchable.si) return;
  BetweenRails rails(context.profile);
  for (const Table* table : context.tables()) {
    CourseWalk(*table, context.abilities, context.used_in_run).walk([&rails, &context, table](const Stretch& stretch) {
      rails.take(stretch, table == context.safe);
    });
  }
  const Between& between = rails.highest();
  if (between.voltage <= kTouchable.si) return;
  context
      .practice(finding::TouchVoltageBetween, RailId{static_cast<std::uint32_t>(between.reversed)}, between.by.place,
                between.by.statement, context.profile.rails[between.plain].name,
                context.profile.rails[between.reversed].name, Volts{between.voltage}, between.time,
                when_text(between.pass, between.segment) + (between.in_safe ? " of `safe`" : ""), kTouchable)
      .hint(kTouchHint);
}

void check_unattended(const Context& context) {
  const Nanoseconds duration = context.run.timeline().duration();
  if (duration <= kAttended) return;
  context
      .practice(finding::Unattended, std::nullopt, word(context.profile.run_span, 3), nullptr, duration,
                Nanoseconds(kAttended))
      .hint(
          "make sure that there are fuses, a smoke detector and a way to cut the mains; local rules on unattended "
          "operation apply");
}

}  // namespace rampart::checks
