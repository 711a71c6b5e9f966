#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"

// The timeline: what every rail does when, exactly, before any supply's grid and counts. Loops stay loops.
namespace rampart {

// A `repeat` statement; ids count from 0 in the order of the text.
enum class LoopId : std::uint32_t {};

// Which of a rail's setpoints a program knows. A run starts with all of them; `safe` begins wherever a trip leaves the
// rails and knows what it has set itself.
struct KnownSetpoints {
  bool voltage = true;
  bool limit = true;
  bool output = true;

  [[nodiscard]] bool any() const { return voltage || limit || output; }
  friend auto operator<=>(const KnownSetpoints&, const KnownSetpoints&) = default;
};

// Where the setpoints of one rail stand. No current limit is 0 A.
struct RailState {
  Rational voltage;
  Rational limit;
  bool on = false;
  KnownSetpoints known;
  friend auto operator<=>(const RailState&, const RailState&) = default;
};

enum class MoveKind : std::uint8_t { Voltage, Limit, Output };

// A straight change of one quantity of one rail; a jump where `length` is 0. Output goes from and to 0 or 1.
struct Move {
  Nanoseconds start{0};  // from the start of the block
  Nanoseconds length{0};
  RailId rail{};
  MoveKind kind = MoveKind::Voltage;
  Rational from;
  Rational to;
  const Statement* statement = nullptr;
};

struct LineMove {
  Nanoseconds start{0};
  LineId line{};
  bool high = false;
  const Statement* statement = nullptr;
};

struct MarkMove {
  Nanoseconds start{0};
  const Mark* mark = nullptr;
  const Statement* statement = nullptr;
};

struct MeasurementMove {
  Nanoseconds start{0};
  const Measurement* measurement = nullptr;
  const Statement* statement = nullptr;
};

// What happens from `start` (counted from the start of the segment) for `length`: the smallest piece of a timeline.
// Moves are in the order they happen; a rail that none of them names stays where it is.
struct Block {
  Nanoseconds start{0};
  Nanoseconds length{0};
  std::vector<Move> moves;
  std::vector<LineMove> lines;
  std::vector<MarkMove> marks;
  std::vector<MeasurementMove> measurements;
  const Statement* statement = nullptr;
};

struct TimelinePassEnded {
  LoopId loop{};
  std::int64_t pass = 0;       // 1-based
  std::int64_t remaining = 0;  // passes of this loop still to come
  Nanoseconds time{0};
  Nanoseconds length{0};  // of this pass, waits of its segments left out
  bool segments = false;  // it holds a wait, so the next pass starts as far into its segment as this one did
  const Statement* statement = nullptr;
};

struct TimelineSegmentEnded {
  Nanoseconds time{0};
  const Statement* statement = nullptr;  // the await; none at the end of the timeline
};

using TimelineItem = std::variant<const Block*, TimelinePassEnded, TimelineSegmentEnded>;

// Branches of one `together` may hold this many moves once their loops are unrolled.
inline constexpr std::size_t kMaxTogetherMoves = 100'000;
// Passes of loops whose setpoints shift from pass to pass, which cannot be folded.
inline constexpr std::int64_t kMaxShiftingPasses = 100'000;
// Passes that are walked to see everything a profile does, folded loops counted twice.
inline constexpr std::int64_t kMaxWalkedPasses = 1'000'000;

// How a program finds the rails: off at 0 V without a limit, or however they happen to stand.
enum class TimelineStart : std::uint8_t { Off, Unknown };

class Timeline;

// Walks a timeline block by block, in time order. A copy goes on by itself.
class TimelineCursor {
 public:
  explicit TimelineCursor(const Timeline& timeline);
  TimelineCursor(const TimelineCursor& other);
  TimelineCursor(TimelineCursor&&) noexcept;
  TimelineCursor& operator=(TimelineCursor&&) noexcept;
  ~TimelineCursor();

  // Empty after the last TimelineSegmentEnded. A block stays valid until the next call.
  [[nodiscard]] std::optional<TimelineItem> next();

  // Right after a TimelinePassEnded with `remaining` >= passes: goes on as if that many passes like the last had been
  // walked.
  void skip_passes(std::int64_t passes);

  // The setpoints after the last item.
  [[nodiscard]] const std::vector<RailState>& rails() const;
  [[nodiscard]] const std::vector<bool>& lines() const;
  // From the start of the segment.
  [[nodiscard]] Nanoseconds now() const;
  // The 1-based passes of the loops around the last item, outermost first.
  [[nodiscard]] std::span<const std::int64_t> passes() const;

 private:
  class Work;
  std::unique_ptr<Work> work_;
};

// A program whose loops have been measured. The profile must outlive it.
class Timeline {
 public:
  [[nodiscard]] const Profile& profile() const { return *profile_; }
  [[nodiscard]] const Program& program() const { return *program_; }
  [[nodiscard]] const std::vector<RailState>& initial() const { return initial_; }
  // Every wait taken as its assumed time; a measured wait without one as 0.
  [[nodiscard]] Nanoseconds duration() const { return duration_; }
  [[nodiscard]] TimelineCursor walk() const { return TimelineCursor(*this); }
  // The id of a `repeat` statement of this program.
  [[nodiscard]] LoopId loop_id(const Statement& repeat) const;
  [[nodiscard]] std::size_t loop_count() const { return loops_.size(); }
  // True if a wait cuts it into several segments.
  [[nodiscard]] bool has_segments() const { return has_segments_; }

 private:
  friend std::optional<Timeline> build_timeline(const Profile& profile, const Program& program, TimelineStart start,
                                                FindingSink& findings);
  const Profile* profile_ = nullptr;
  const Program* program_ = nullptr;
  std::vector<RailState> initial_;
  std::vector<const Statement*> loops_;  // sorted by address, for loop_id
  Nanoseconds duration_{0};
  bool has_segments_ = false;
};

// Measures a program. In: `run` or `safe` of a resolved profile, and how it finds the rails.
// Findings: branch-conflict, await-in-together, wrong-arguments (`repeat for`), too-long, too-large, too-many-passes,
// number-too-large; with an unknown start also wrong-arguments where a setpoint goes on from one that is not known.
// Empty where one of them is an error.
[[nodiscard]] std::optional<Timeline> build_timeline(const Profile& profile, const Program& program,
                                                     TimelineStart start, FindingSink& findings);

}  // namespace rampart
