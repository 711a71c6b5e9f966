#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "runtime/as_run/answer.h"

namespace rampart::as_run {

// "voltage of logic 40 mV low from 1.02 s to 12.07 s: 3.26 V, expected 3.295 V to 3.305 V; consistent with an offset of
// -40 mV".
[[nodiscard]] std::string excursion_text(const Profile& profile, const Excursion& excursion);
// "an offset of -40 mV".
[[nodiscard]] std::string cause_text(const Profile& profile, const Excursion& excursion);
[[nodiscard]] std::string_view unit_of(Measured quantity);
// "tide gauge logger, serial TG-007, revision B"; empty where nothing is said of it.
[[nodiscard]] std::string device_words(const LogDevice& device);
// "serial L-0042, calibration due 2027-09-30".
[[nodiscard]] std::string instrument_words(const LogInstrument& instrument);
// What the record of a run says: "supply left" and "serial A1001, firmware 1.2". What it does not say is left out.
struct RecordField {
  std::string what;
  std::string value;
};
[[nodiscard]] std::vector<RecordField> record_fields(const RecordedRun& record);

}  // namespace rampart::as_run
