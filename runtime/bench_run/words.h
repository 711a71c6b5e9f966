#pragma once

#include <string>

#include "runtime/bench_run/play_table.h"

// What a run says in words.
namespace rampart::bench_run {

// With four significant digits: "12.3 ms".
[[nodiscard]] std::string short_time(Nanoseconds time);
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
