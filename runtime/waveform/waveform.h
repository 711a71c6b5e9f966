#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <variant>
#include <vector>

#include "compiler/profile/profile.h"
#include "lang/text/source.h"

// The courses of a simulation, rail by rail, as a tree that mirrors its loops: passes that are alike are held once, so
// a run of weeks takes no more room than its text.
namespace rampart {

// Voltages have the sign that the profile writes; current and power leave the terminals.
enum class WaveQuantity : std::uint8_t {
  Setpoint,         // V, as the slew of the output lets it move; 0 while the output is off
  Limit,            // A; 0 where none is set or the output is off
  TerminalVoltage,  // V
  LoadVoltage,      // V, behind the wire
  Current,          // A
  Power             // W
};
inline constexpr std::size_t kWaveQuantities = 6;

// One value a quantity, in the order of WaveQuantity.
using WaveValues = std::array<double, kWaveQuantities>;

struct WaveRange {
  WaveValues low{};
  WaveValues high{};

  void include(const WaveValues& values);
  void include(const WaveRange& other);
};

// Two samples of one time are the two sides of a jump.
struct WaveSample {
  double time = 0;  // s
  WaveValues values{};
};

struct WaveNode;

// Straight lines between samples, whose times count from the beginning of the stretch; the first is at 0.
struct WaveStretch {
  Span statement;        // that the rail was playing; empty before its first row
  bool limited = false;  // in constant current
  std::vector<WaveSample> samples;
};

// A course of which no more than its node's range was kept: each quantity comes to both ends of it.
struct WaveBand {
  Span statement;          // that the rail was playing first
  bool limited = false;    // in constant current at some time
  WaveValues mean{};       // over time
  WaveValues deviation{};  // its standard deviation, over time
};

// Passes that are alike, one after another.
struct WaveRepeat {
  std::int64_t count = 0;
  double period = 0;           // s
  std::vector<WaveNode> body;  // of one pass; begins count from the beginning of the pass
};

struct WaveNode {
  double begin = 0;   // s from the beginning of the pass around it, or of the run
  double length = 0;  // s, of all passes
  WaveRange range;    // of all that is within
  std::variant<WaveStretch, WaveBand, WaveRepeat> what;
};

struct RailWaveform {
  RailId rail{};
  WaveValues error{};           // how far a straight line between samples may be off
  std::vector<WaveNode> nodes;  // one after another without gaps
};

struct Waveforms {
  std::vector<RailWaveform> rails;      // in the order of the profile's rails
  std::optional<double> left_out_from;  // s: what comes later was too much to keep
};

// The error kept, as a share of a quantity's largest value in the run.
inline constexpr double kWaveError = 5e-4;
// Samples kept of all rails together; of a page or a drawing, before it is condensed.
inline constexpr std::int64_t kMaxWaveSamples = 1'000'000;
inline constexpr std::int64_t kMaxDrawnSamples = 30'000;

// Gives the samples of a rail in order of time, s from the beginning of the run, passes written out as they come. Bands
// have none.
class WaveCursor {
 public:
  explicit WaveCursor(const RailWaveform& rail);
  [[nodiscard]] std::optional<WaveSample> next();

 private:
  struct Level {
    const std::vector<WaveNode>* nodes;
    double base;
    std::size_t node = 0;
    std::int64_t pass = 0;
  };
  std::vector<Level> levels_;
  std::size_t sample_ = 0;
  double last_ = 0;
};

// What a rail's quantities keep within from `from` to `to`, s from the beginning of the run. None outside of it.
[[nodiscard]] std::optional<WaveRange> range_between(const RailWaveform& rail, double from, double to);

// May the rail be in constant current at some time from `from` to `to`?
[[nodiscard]] bool limited_between(const RailWaveform& rail, double from, double to);

// The values at `time`; at a jump those after it. None outside of the run and within a band.
[[nodiscard]] std::optional<WaveValues> values_at(const RailWaveform& rail, double time);

}  // namespace rampart
