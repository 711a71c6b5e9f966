#pragma once

#include <string>

#include "runtime/bench_run/play_table.h"

// What a run says in words.
namespace rampart::bench_run {

// With four significant digits: "12.3 ms".
[[nodiscard]] std::string short_time(Nanoseconds time);
// Causes of an output that is off besides those of its protections.
inline constexpr std::string_view kUnknownCause = "unknown";  // none of them says so
inline constexpr std::string_view kJoinedCause = "joined";    // another member of its combination tripped
inline constexpr std::string_view kLinkedCause = "linked";    // a fuse that it is linked with acted
// "left.ch1 tripped: fuse".
[[nodiscard]] std::string trip_words(const std::string& channel, std::string_view cause);
// "rows of left.ch1, left.ch2 and 3 more".
[[nodiscard]] std::string rows_text(const TableInstant& instant);
// "left.line1 high within 20 s".
[[nodiscard]] std::string wait_text(const TableWait& wait);
// "stopped by Ctrl-C".
[[nodiscard]] std::string signal_words(int number);
// What bits of the standard event status register of a supply say.
[[nodiscard]] std::string event_words(const std::string& supply, int bits);
// Whether bits of that register are a reason to stop: all but operation complete and request control are, which say
// nothing of the outputs (IEEE 488.2, 11.5.1.1).
[[nodiscard]] bool is_reason_to_stop(int bits);

}  // namespace rampart::bench_run
