#pragma once

#include <cstdint>
#include <optional>

#include "compiler/export/text_sink.h"
#include "compiler/profile/profile.h"
#include "runtime/waveform/waveform.h"

namespace rampart {

// Rows written at most.
inline constexpr std::int64_t kMaxWaveformRows = 20'000'000;

// Writes the courses as RFC 4180 text, passes written out:
// `time_s,rail,setpoint_V,limit_A,terminal_V,load_V,current_A,power_W`, by time and then in the profile's order of
// rails. Two rows of a rail at one time are the sides of a jump. Gives the time in s of the first row left out, if the
// bound on rows or on samples was met.
std::optional<double> write_waveform_csv(const Profile& profile, const Waveforms& waveforms, TextSink& sink);

}  // namespace rampart
