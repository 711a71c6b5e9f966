#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "runtime/answer/simulation.h"
#include "runtime/fold/drift.h"
#include "runtime/play/condition_watch.h"
#include "runtime/play/fold.h"
#include "runtime/play/line_levels.h"
#include "runtime/play/phase_loop.h"
#include "runtime/play/rule_watch.h"
#include "runtime/play/simulate.h"
#include "runtime/play/total_power.h"
#include "runtime/rail/rail_run.h"
#include "runtime/waveform/recorder.h"

namespace rampart {

// Steps shorter than this are not taken: both ends are one instant.
inline constexpr double kShortestStep = 1e-15;

// Plays a table's items in order and leads the rails from one to the next.
class Player {
 public:
  Player(const Table& table, const Table* safe, const Load& load, const Incidents& incidents, WaveRecorder* recorder,
         const Progress& progress);

  Simulation run();

 private:
  // Items of the table.
  [[nodiscard]] Passes passes() const;
  void take(const TableItem& item);
  void take(const Row& row);
  void take(const LineRow& row);
  void take(const MarkReached& mark);
  void take(const SegmentEnded& segment);
  void take(const PassEnded& pass);
  void note_first(const MarkReached& mark);
  void begin_segment(const Instant& at);
  // Waits until the condition holds; a timeout goes to `safe`, or without one ends the run.
  void wait_for(const Condition& condition, Nanoseconds within, const Span& statement);

  // What befalls the run.
  [[nodiscard]] std::optional<Instant> next_incident() const;
  // An interlock acts. False where the table ends with it.
  bool assert_line();
  // The fault comes. Passes before and after it have nothing in common.
  void inject();
  void trip(std::size_t index, TripCause cause);
  // The rest of the table does not happen; `safe` begins at the trip.
  void play_safe();

  // Passes that are alike.
  [[nodiscard]] bool is_on_grid(Nanoseconds time) const;
  [[nodiscard]] PassState state_at(const PassEnded& pass) const;
  // As often, up to `most`, as ends before something befalls the run.
  [[nodiscard]] std::int64_t times_to_add(std::int64_t most, const PassState& before, const PassState& after) const;
  // Adds as many units of passes as are left in one step.
  void fold(const PassEnded& pass, const PassState& before, const PassState& after);
  // None where nothing was added yet.
  FoldedLoop* record_of(const PassEnded& pass);
  // Tells of passes that are added, and lets their time go by. Gives the loop's record.
  FoldedLoop& note_added(const PassEnded& pass, std::int64_t count, const Instant& added, bool drifting);
  // The table goes on as if `count` passes had been given, and the time with it. Gives the loop's record.
  FoldedLoop& skip(const PassEnded& pass, std::int64_t count, const Instant& added, bool new_segments, bool drifting);

  // Passes that drift: see drift.h. A trial goes through one pass, from another state of one rail, and nothing is added
  // in it to the loop itself.
  Player(const Player& other, LoopId trial_of);
  [[nodiscard]] std::optional<TrialPass> try_pass(const PassEnded& unit, const PassState& after, const Apart& apart,
                                                  const std::vector<double>& state) const;
  // The end of so many more passes of the loop; none where something befalls the run before.
  std::optional<PassEnded> play_passes(std::int64_t passes);
  void trace_step(double length);
  // The one rail whose state is another than a pass before, if passes may be added although it is.
  [[nodiscard]] std::optional<Apart> drifting(const PassState& before, const PassState& after) const;
  // Gives how many passes were added.
  std::int64_t add_drifting(const PassEnded& unit, const PassState& before, const PassState& after);

  // Passes that are no whole multiple of the grid. Each kind of pass is gone through once, where it comes first, and
  // the others are added.
  class PhaseTrials;
  Player(const Player& other, LoopId trial_of, const Instant& by);
  [[nodiscard]] bool can_go_by_phases(const PassEnded& pass) const;
  // The same, and it has not turned out that its states do not close.
  [[nodiscard]] bool may_go_by_phases(const PassEnded& pass) const;
  // True where passes were added.
  bool go_by_phases(const PassEnded& pass);
  [[nodiscard]] PhaseState end_of(const PassEnded& pass, const Instant& began, Nanoseconds grid) const;
  bool find_phases(const PassEnded& pass, PhaseLoop& loop, const PhaseState& end, Nanoseconds grid);
  bool add_phases(const PassEnded& pass, PhaseLoop& loop, const PhaseState& end);
  static void plan_walk(PhaseLoop& loop, std::int64_t at);
  // Adds the passes between two, counted as in the loop's map.
  bool jump(const PassEnded& pass, PhaseLoop& loop, std::int64_t from, std::int64_t to);

  // Pulses of loads. Between two rows they go on by themselves: once all stands as it did a period ago, whole periods
  // are added.
  void follow_pulses(const Instant& target);
  [[nodiscard]] std::int64_t clocks() const;
  void read_clocks();
  void add_periods(const Instant& target, const PassState& state);

  // Time.
  // Goes to a time of the current segment. False where a trip has ended the table on the way.
  bool go_to(Nanoseconds time);
  // Rows taken at the present instant come into effect.
  void apply_rows();
  // Outputs whose switches close now are on.
  void close_contacts();
  bool advance_to(const Instant& target);
  // Where the coming step ends at the latest.
  [[nodiscard]] Instant next_corner(const Instant& target) const;
  // When, as a share of the planned step, the condition that is waited for holds.
  [[nodiscard]] std::optional<double> met_in_piece() const;
  void tell_progress();
  // The rest of the run is left out. `unlike_passes` as in CutShort.
  void cut_short(const Span& statement, std::int64_t unlike_passes);
  // True where the passes of a loop that are still to come, each with steps of its own, would be too many.
  bool leave_unlike_passes(const PassEnded& pass);
  void take_step(double length);
  // Whatever has happened until now is at a sample.
  void record(double length);
  // A straight run of a setpoint has ended: its slope jumps.
  void turn_corners();
  // Plans every rail, lets protections act, and gives the length of the step that all can take.
  double plan_all(double longest, double to_row);

  // The answer.
  void finish();
  Simulation answer();

  const Table* table_;
  const Table* safe_;
  RowCursor cursor_;
  EventLog events_;
  std::vector<std::unique_ptr<RailRun>> rails_;
  RuleWatch rules_;
  std::vector<bool> rows_came_;
  std::vector<std::string> first_marks_;  // reached at 0, not read yet
  Instant base_;                          // start of the segment
  Instant now_;
  Passes passes_;
  std::int64_t segments_ = 0;
  std::int64_t trips_ = 0;
  std::map<LoopId, PassState> pass_states_;
  std::vector<FoldedLoop> folded_;
  std::map<LoopId, DriftWatch> drift_watches_;
  std::map<LoopId, std::shared_ptr<PhaseLoop>> phase_loops_;
  std::int64_t drifts_ = 0;
  std::optional<Nanoseconds> period_;  // of the loads' pulses
  std::int64_t clocks_ = 0;            // rails with such loads, as far as followed
  // A period of them that is being gone through between two rows.
  struct Pulsing {
    PassState state;
    std::int64_t events = 0;
  };
  std::optional<Pulsing> pulses_since_;
  std::optional<Instant> pulse_check_;  // when to look next
  Peak total_power_;
  SupplyPowers supply_powers_;
  std::vector<Awaited> awaited_;
  const ConditionWatch* watch_ = nullptr;  // what an `await` is waiting for
  bool watch_met_ = false;
  const Injection* fault_ = nullptr;  // until it has come
  std::optional<FaultRecord> fault_record_;
  const Assertion* assertion_ = nullptr;  // likewise
  bool asserted_ = false;
  LineLevels lines_;
  WaveRecorder* recorder_;
  const Progress* progress_;
  std::int64_t steps_ = 0;
  std::int64_t events_recorded_ = 0;
  std::vector<MarkTime> mark_times_;
  std::vector<Instant> segment_starts_;
  std::int64_t work_ = 0;  // steps of rails, weighted
  std::map<LoopId, std::int64_t> work_at_pass_;
  std::optional<CutShort> cut_short_;
  bool stopped_ = false;  // a wait has timed out, or the rest is left out
  bool safe_playing_ = false;
  bool finished_ = false;
  struct Trial {
    LoopId loop{};
    PassTrace trace;
  };
  std::optional<Trial> trial_;
};

}  // namespace rampart
