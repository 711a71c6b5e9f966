#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "lang/values/instant.h"
#include "runtime/answer/event_log.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/output_traits.h"
#include "runtime/rail/heat.h"
#include "runtime/rail/rail_course.h"
#include "runtime/rail/rail_effort.h"
#include "runtime/rail/rail_record.h"
#include "runtime/rail/rail_way.h"

namespace rampart {

// One rail during a run: what its channels are set to, the circuit behind them, its protection and its figures.
//
// It goes through steps of its own: plan(), bound_step(), end_step() and advance(). Between two steps it stands at the
// instant at which the last one has ended. There rows are applied, and only there it may be read or changed otherwise.
class RailRun {
 public:
  // What has to agree for two states to be the same.
  struct Status {
    RailWay way;
    bool stays_off = false;
    bool on = false;
    Settling::Phase settling{};
    friend bool operator==(const Status&, const Status&) = default;
  };
  // What the coming time depends on besides the rows. Of the snapshot's numbers, near agreement is enough.
  struct State : circuit::Snapshot {
    Status status;
    ContactState contact;
    double limited_for = 0;            // s in constant current without a break
    std::vector<double> temperatures;  // K; they need not agree, see OutputHeat::safe_repeats()
  };

  // Readings reach back `reach` s at most.
  RailRun(const Table& table, const RailSetup& setup, const RailLoad* load, const RailDeviation& deviation,
          double reach, EventLog& events);

  // One at the same instant whose figures are those from now on, to see what it does; see can_be_tried().
  [[nodiscard]] std::unique_ptr<RailRun> trial(EventLog& events) const;
  // The same with all that it has found so far, between two steps.
  [[nodiscard]] std::unique_ptr<RailRun> fork(EventLog& events) const;
  [[nodiscard]] bool can_be_tried() const { return heat_.empty() && course_.group->is_affine(); }
  // Goes on as another of the same rail would, `by` later, which is `passes` of a loop; see can_be_tried(). What it has
  // found so far, and what began before the other's last pass did, is its own.
  void continue_as(const RailRun& other, const Instant& by, const Instant& pass_began, const PassShift& passes) {
    course_.continue_as(other.course_, by, pass_began, passes);
  }
  // What the setpoint still does without another row.
  void add_course(const Instant& now, std::vector<double>& course) const { course_.setpoint.add_course(now, course); }
  // How long ago what it is in began, s; less than 0 for what began before the pass.
  [[nodiscard]] std::vector<double> ages(const Instant& now, const Instant& pass_began) const {
    return course_.ages(now, pass_began);
  }

  // Takes a row of one of the rail's channels; `base` is the start of its segment. In effect from apply() on.
  void take(const Row& row, const Instant& base) { course_.setpoint.take(row, base); }
  // The rows taken so far are in effect from now on; that the output is on, once its switch has closed.
  void apply(const Instant& now, const Passes& passes);
  // Closes the output's switch if that is due; tells whether.
  bool close_contact(const Instant& now);
  // The instant after `now` at which a straight run of the setpoint ends or the switch closes, if it comes first.
  [[nodiscard]] std::optional<Instant> corner(const Instant& now) const { return course_.setpoint.corner(now); }

  // Where a step ends at the latest: where the rail's next row comes, and where that or something else does.
  struct Stops {
    Instant row;
    Instant any;
  };
  // Begins a step and reads the protections. A cause: the rail trips now, and there is no step.
  [[nodiscard]] std::optional<TripCause> plan(const Instant& now, const Stops& stops);
  // Ends the step where a protection or a temperature may change.
  void bound_step(const Instant& now);
  // See Group::end_at().
  [[nodiscard]] bool end_step(const Instant& now);
  // Goes to the end of the step.
  void advance();
  [[nodiscard]] const Group& group() const { return course_.group; }
  void trip(TripCause cause, const Instant& now);
  // An interlock switches the rail off for good.
  void cut_off(const Instant& now);
  // What was to come after the present setpoint does not come, nor what it was on the way to.
  void interrupt(const Instant& now);
  // What stands on the rail becomes `elements`. Those written as one that stood there are the same part and keep what
  // they hold; what the others held is gone.
  void replace_load(const std::vector<LoadElement>& elements, const Instant& now);

  // Remembers what the rail reads now under this name.
  void read_mark(std::string_view mark);
  [[nodiscard]] const MarkReadings& marks() const { return record_.marks; }
  [[nodiscard]] MarkReadings& marks() { return record_.marks; }
  // What it reads from one instant until now; empty where that is not known.
  [[nodiscard]] std::optional<RailReading> reading(const Instant& from, const Instant& now) const;
  // What readings reach back to.
  [[nodiscard]] Past& past() { return course_.past; }
  // If a straight run of the setpoint ended with the last step, its slope jumps.
  void turn_corner(const Instant& now);
  // Lets a change of mode at the end of the last piece take effect, if no row has come between.
  void settle_pending(const Instant& now);
  // After passes were added without being walked: what has begun since `pass_began` began later.
  void shift(const Instant& by, const Instant& pass_began) { course_.shift(by, pass_began); }
  // The switch closes later by that.
  void put_off_contact(const Instant& by) { course_.setpoint.put_off_contact(by); }
  // How often, up to `most`, what happened since `before`, `length` s ago, can come again without an output getting
  // too hot, and the heat of that.
  [[nodiscard]] std::int64_t safe_repeats(const State& before, double length, std::int64_t most) const;
  void repeat_heat(const State& before, double length, std::int64_t times);
  void finish(const Instant& now);

  [[nodiscard]] const circuit::Circuit& circuit() const { return *course_.group; }
  [[nodiscard]] const RailSums& sums() const { return record_.sums; }
  [[nodiscard]] RailSums& sums() { return record_.sums; }
  [[nodiscard]] const Doing& doing() const { return course_.doing; }
  [[nodiscard]] bool tripped() const { return trip_.has_value(); }
  // Whether the rows have it on, closed or about to close.
  [[nodiscard]] bool is_wanted_on(const Instant& now) const { return course_.setpoint.wanted(now).on; }
  // The load goes on by time alone, and is followed in that.
  [[nodiscard]] bool has_clock() const { return effort_.follows_clock(); }
  [[nodiscard]] bool clock_runs() const { return effort_.clock_runs(); }
  // The setpoint stands still until the next row, and the output's switch waits for nothing.
  [[nodiscard]] bool rests(const Instant& now) const;
  [[nodiscard]] bool limited() const { return course_.limited.lasts(); }
  [[nodiscard]] RailId id() const { return rail_; }
  [[nodiscard]] RailFigures figures() const;
  // See RailFigures::clears_s.
  [[nodiscard]] std::optional<double> time_to_clear() const;
  [[nodiscard]] bool is_left_charged() const;
  void add_margins(std::vector<Margin>& margins) const;
  [[nodiscard]] const std::vector<ModeChatter>& chatter() const { return record_.chatter; }

  [[nodiscard]] State state(const Instant& now) const;
  // All that its coming course depends on besides the rows, exactly, whether it stands or is in a step; see
  // has_whole_memory().
  void add_memory(const Instant& now, std::vector<double>& memory) const;
  // No temperature and no state beyond numbers plays a part, and nothing has ended its course before the rows do.
  [[nodiscard]] bool has_whole_memory() const { return can_be_tried() && !stays_off(); }
  // The rows have the output on, whether its switch has closed or not.
  [[nodiscard]] bool is_told_on() const { return course_.setpoint.contact().told_on(); }
  [[nodiscard]] bool waits_for_contact() const { return course_.setpoint.contact().due().has_value(); }
  // So many of the state's first numbers are those of a circuit whose courses are affine in them.
  [[nodiscard]] std::size_t affine_numbers() const { return course_.group->affine_state().size(); }
  // Puts the circuit where passes that are not gone through have brought those numbers.
  void drift_to(const std::vector<double>& numbers);
  [[nodiscard]] RailWay way() const;
  [[nodiscard]] std::vector<double> peaks() const {
    return {record_.peaks.current.value, record_.peaks.power.value, record_.peaks.voltage.value};
  }

 private:
  RailRun(const RailRun&) = default;
  void take_effect(const Instant& now, const Doing& cause);
  void settle(std::optional<circuit::Mode> expected, const Instant& now);
  void settle_circuit(std::optional<circuit::Mode> expected);
  void switch_off(const Instant& now);
  [[nodiscard]] bool stays_off() const { return tripped() || cut_off_; }
  void note_modes(circuit::Mode before, const Instant& now);
  void note_running(const Instant& now);
  void bound_effort(const Instant& now, double length, double to_row);
  // What the output itself gives, apart from its capacitance.
  [[nodiscard]] const Peak& regulator_power() const {
    return output_.capacitance == 0 ? record_.peaks.power : record_.peaks.regulator_power;
  }
  void log(EventKind kind, const Instant& now) { log(kind, now, course_.doing); }
  void log(EventKind kind, const Instant& now, const Doing& doing) { events_->add(event_of(kind, now, doing)); }
  [[nodiscard]] Event event_of(EventKind kind, const Instant& now, const Doing& doing) const;

  // What the output can give by its specification.
  struct PowerEnvelope {
    std::string output;
    double power = 0;  // W
  };

  RailId rail_;
  EventLog* events_;
  double sign_ = 1;                       // -1: the rail is reversed
  std::shared_ptr<const RailLoad> load_;  // none: the rail is open
  RailTerminals output_;
  std::optional<PowerEnvelope> envelope_;
  RailCourse course_;
  RailEffort effort_;
  std::vector<OutputHeat> heat_;  // one a channel that can get too hot
  RailRecord record_;
  std::optional<Trip> trip_;
  bool cut_off_ = false;
  std::vector<circuit::RunningPart> seen_;  // room to read them
};

}  // namespace rampart
