#pragma once

#include <limits>
#include <memory>
#include <optional>
#include <vector>

#include "runtime/as_run/answer.h"
#include "runtime/as_run/envelope.h"
#include "runtime/as_run/excursions.h"
#include "runtime/as_run/measured_courses.h"
#include "runtime/as_run/meters.h"
#include "runtime/as_run/rail_readings.h"

namespace rampart::as_run {

// What the readings of all rails are held against. All of it outlives its use.
struct Expectations {
  Played played;
  const Recordings* recordings = nullptr;
  Meters* meters = nullptr;
};

// The statement that a rail plays at a time of the run, s; empty before the first.
[[nodiscard]] Span statement_at(const RailWaveform& rail, double time);

// Follows the readings of one rail through the run.
class RailJudge : private Surroundings {
 public:
  // `interval`: between readings, s. `others`: of the other rails, for what may be swapped.
  RailJudge(const Expectations& expected, std::size_t rail, double interval);
  RailJudge(const RailJudge&) = delete;

  void knows(const std::vector<std::unique_ptr<RailJudge>>& all) { all_ = &all; }
  void take(const RailReading& reading, double run_s, const Stamp& stamp);
  void finish();
  // Whether the output is on by this reading, or by a command or a trip. A current may be that of an `earliest` time.
  void note_end(const RailReading& reading, double run_s, double earliest);
  void note_switched(bool is_on, double run_s);
  // The same after the end of the run, where no command tells when it was switched off.
  void note_afterwards(const RailReading& reading);
  // What the rail is at its load by this reading.
  [[nodiscard]] RailPoint point_of(const RailReading& reading);

  [[nodiscard]] const ExcursionTrack& track(Measured quantity) const { return tracks_[place_of(quantity)]; }
  [[nodiscard]] const MeasuredFigures& figures() const { return figures_; }
  // It was read, but nothing says how well.
  [[nodiscard]] bool lacks_meter(Measured quantity) const { return lacks_meter_[place_of(quantity)]; }
  [[nodiscard]] bool lacks_meter() const { return lacks_meter(Measured::Voltage) || lacks_meter(Measured::Current); }
  // It was read while off, and nothing says what discharges it.
  [[nodiscard]] bool floats() const { return floated_; }
  // The log says whether its output is on; and that it was off where it should have been on.
  [[nodiscard]] bool tells_output() const { return tells_output_; }
  [[nodiscard]] bool lost_output() const { return lost_output_; }
  // By the last reading or command.
  [[nodiscard]] bool is_left_on() const { return left_on_; }
  // After the end of the run it was read as on, by its supply or twice by its current, and never as off.
  [[nodiscard]] bool is_on_afterwards() const { return on_after_ >= 2 && !off_after_; }
  [[nodiscard]] RailEnvelope::Expected expect(Measured quantity, const RailMeter& meter, const Stamp& stamp) {
    return envelope(meter).expect(quantity, meter, stamp);
  }

 private:
  // Surroundings.
  Band band_if_late(Measured quantity, const Judged& reading, double late) override;
  std::optional<std::size_t> rail_like(Measured quantity, const Judged& reading) override;
  bool limited_between(double from, double to) override;
  Span statement_at(double run_s) override;

  [[nodiscard]] RailEnvelope& envelope(const RailMeter& meter);
  [[nodiscard]] bool is_judged(const RailMeter& meter, const Stamp& stamp, Measured quantity);
  // Whether the output is on by this reading; none where it does not tell.
  [[nodiscard]] std::optional<bool> output_by(const RailReading& reading) const;
  void judge_voltage(const RailReading& reading, Judged judged);
  void judge_current(const RailReading& reading, Judged judged);
  void add_figures(const RailReading& reading, double run_s);

  Expectations expected_;
  std::size_t rail_;
  double kept_;
  double pulse_ = 0;
  bool discharges_ = false;
  bool has_switch_delay_ = false;
  double sign_ = 1;
  std::optional<RailEnvelope> at_terminals_;
  std::optional<RailEnvelope> at_load_;
  std::vector<ExcursionTrack> tracks_;
  const std::vector<std::unique_ptr<RailJudge>>* all_ = nullptr;
  const RailMeter* meter_of_[kMeasured] = {nullptr, nullptr};  // of the last reading
  std::optional<double> volts_off_;  // V: the voltage is outside of its band by this much from what was predicted

  MeasuredFigures figures_;
  struct Last {
    double run_s = 0;
    double volts = 0;
    double amps = 0;
  };
  std::optional<Last> last_;
  bool lacks_meter_[kMeasured] = {false, false};
  bool lacks_bound_ = false;  // of energy and charge
  bool floated_ = false;
  bool tells_output_ = false;
  bool lost_output_ = false;
  bool left_on_ = false;
  int on_after_ = 0;  // 2: read as on
  bool off_after_ = false;
  double switched_s_ = -std::numeric_limits<double>::infinity();  // of the run: the last command or trip
};

}  // namespace rampart::as_run
