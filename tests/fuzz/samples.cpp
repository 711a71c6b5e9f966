#include "tests/fuzz/samples.h"

#include "lang/files/files.h"
#include "tests/fuzz/check.h"

namespace rampart::fuzz {

const char* const kBench = R"(bench: Two supplies
supplies:
  left:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    lines: [ready, start]
    power: 80 W
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV}
        current: {range: 0 A .. 2.5 A, resolution: 1 mA}
        power: 45 W
        sense: {remote: yes, headroom: 1 V}
        protection: {overvoltage: 0.5 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s,
                     overpower: 0 W .. 50 W, overpower_delay: 0 s .. 8 s}
      ch2: {like: ch1}
)";

const char* const kProfile = R"(profile "Sample"
bench "b.bench.yaml"
load "l.load.yaml"
rail core on left.ch1 sense remote
rail io on left.ch2
line ready on left.ready input
line start on left.start output
protect core { ceiling 12 V; overvoltage 14 V; fuse after 100 ms linked with io; overpower 20 W after 100 ms }
protect io { ceiling 6 V; overvoltage 7 V; fuse after 100 ms; overpower 10 W }
rule "core first" core >= 3 V before io >= 1 V
run {
  limit core to 1 A, io to 1 A
  on core, io
  ramp core to 5 V over 200 ms
  mark "up"
  await ready high within 1 s assume 100 ms
  raise start
  repeat 3 { step io to 3.3 V; dwell 200 ms; step io to 2.5 V; dwell 100 ms }
  measure "core" over 50 ms
  ramp io to 0 V, core to 0 V over 100 ms
  lower start
  dwell 100 ms
  off io, core
}
safe { off io; dwell 100 ms; off core }
)";

const char* const kLoad = R"(load: A board
rails:
  core: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}, {kind: capacitor, capacitance: 100 uF, esr: 10 mOhm}]}
  io: {elements: [{kind: resistor, resistance: 100 Ohm}]}
)";

const Compiled& compiled_sample() {
  static const Compiled kCompiled = [] {
    HeldTexts files;
    files.hold("p.ramp", kProfile);
    files.hold("b.bench.yaml", kBench);
    FindingSink findings;
    Compiled compiled = compile(files, "p.ramp", {}, findings);
    require(compiled.run() != nullptr && compiled.safe() != nullptr, "the sample compiles");
    return compiled;
  }();
  return kCompiled;
}

}  // namespace rampart::fuzz
