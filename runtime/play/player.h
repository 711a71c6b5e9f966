#pragma once

#include <functional>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "runtime/play/condition_watch.h"
#include "runtime/play/incident_queue.h"
#include "runtime/play/items_ahead.h"
#include "runtime/play/pass_folds.h"
#include "runtime/play/pulse_periods.h"
#include "runtime/play/run.h"
#include "runtime/play/run_notes.h"
#include "runtime/play/simulate.h"
#include "runtime/play/work_budget.h"
#include "runtime/rail/course_sink.h"

namespace rampart {

// Plays a table's items in order and leads a run from one to the next: to each row and through each wait, from one end
// of a rail's step to the next. Who follows the course sees all rails go through the same steps.
class Player final : StepObserver, Rig::Stops {
 public:
  Player(const Table& table, const Table* safe, const Load& load, const Incidents& incidents, CourseSink* sink,
         const Job& job);
  // Continues from the state of another one at a mark; see can_be_continued(). It judges no rules. Without a job it
  // only keeps that state.
  Player(const Player& at, const Incidents& incidents, const Job* job);
  // Plays passes of a loop on trial, from a run that has just ended one. It has no incidents, nothing is
  // recorded, and passes of the loop itself are not added. It ends early where the budget is spent.
  Player(Run run, LoopId trial_of, const WorkBudget& budget);
  Player(const Player&) = delete;
  Player& operator=(const Player&) = delete;

  Simulation play();
  // Takes down where it comes by.
  void note(RunNotes& notes) { noted_ = &notes; }
  // Plays until it stands as another run did, or to the end, and gives what the rules have come to.
  [[nodiscard]] JudgedRun judge(const Milestones& known);
  // On trial: the end of so many more passes; none where something happens that ends the table before.
  std::optional<PassEnded> play_passes(std::int64_t passes);
  [[nodiscard]] Run& run() { return run_; }
  // On trial: the steps taken so far.
  [[nodiscard]] const PassTrace& trace() const { return trial_->trace; }
  [[nodiscard]] const WorkBudget& budget() const { return budget_; }

 private:
  [[nodiscard]] Present present() { return {run_.place.now, run_.place.passes, *this}; }
  void take_step(std::size_t index, const RailRun& rail) override;
  [[nodiscard]] RailRun::Stops of(std::size_t rail) const override;

  // Items of the table.
  [[nodiscard]] std::optional<TableItem> next_item();
  void take(const TableItem& item);
  void take(const Row& row);
  void take(const LineRow& row);
  void take(const MarkReached& mark);
  void take(const MeasurementDue& due);
  void take(const SegmentEnded& segment);
  void take(const PassEnded& pass);
  void note_first(const MarkReached& mark);
  // At a mark: a run with an incident after it has exactly this state here.
  [[nodiscard]] bool can_be_continued() const;
  // The item taken last belongs to these passes.
  void begin_passes();
  [[nodiscard]] bool is_on_grid(Nanoseconds time) const;
  // At the end of a pass off the grid. False where the table has ended on the way.
  bool catch_up(const PassEnded& pass);
  void begin_segment(const Instant& at);
  // False where the last row has tripped an output and `safe` begins.
  bool stand_at_end();
  // Waits until the condition holds; a timeout goes to `safe`, or without one ends the run.
  void wait_for(std::size_t condition, Nanoseconds within, const Span& statement);
  // The rest of the table does not happen; `safe`, if there is one, begins now. False where it does not.
  bool play_safe();

  // Time.
  // Goes to a time of the current segment. False where the table has ended on the way.
  bool go_to(Nanoseconds time);
  bool advance_to(const Instant& target);
  // False where the table ends with them.
  bool take_incidents();
  // Where all steps that begin now end at the latest, on the way to `target`.
  [[nodiscard]] Instant common_stop(const Instant& target) const;
  // Goes to `next`, at which a step ends, or to where the condition that is waited for holds.
  void go_on(const Instant& next);
  // When, in s from now until `next`, the condition that is waited for holds; how near it comes is noted.
  [[nodiscard]] std::optional<double> met_before(const Instant& next);
  [[nodiscard]] FoldSite site() { return {run_, incidents_, budget_, sink_, trial_.has_value(), pulses_.period()}; }

  // True where the passes still to come, each with steps of its own, would be too many, and the run ends here.
  bool leave_unlike_passes(const PassEnded& pass);
  // The rest of the run is left out. `unlike_passes` as in CutShort.
  void cut_short(const Span& statement, std::int64_t unlike_passes);
  void finish();

  Run run_;
  ItemsAhead ahead_;
  Instant target_;                        // where it is going to
  Instant stop_;                          // see common_stop()
  std::shared_ptr<const Passes> passes_;  // of the item taken last
  IncidentQueue incidents_;
  PassFolds folds_;
  PulsePeriods pulses_;
  WorkBudget budget_;
  CourseSink* sink_ = nullptr;
  RunNotes* noted_ = nullptr;
  std::int64_t items_ = 0;  // taken so far, as milestones count them
  std::int64_t events_recorded_ = 0;
  // What an `await` is waiting for.
  struct Waiting {
    ConditionWatch watch;
    StepParts parts;
    bool met = false;
  };
  std::optional<Waiting> waiting_;
  struct Trial {
    LoopId loop{};
    PassTrace trace;
  };
  std::optional<Trial> trial_;
  // What is told of waits, marks, segments and an early end.
  struct Log {
    std::vector<Awaited> awaited;
    std::vector<MarkTime> first_marks;
    std::set<std::string, std::less<>> known_marks;  // names of these
    std::vector<Instant> segment_starts;
    std::optional<CutShort> cut_short;
  };
  Log log_;
  bool stopped_ = false;  // a wait has timed out, or the rest is left out
  bool finished_ = false;
};

}  // namespace rampart
