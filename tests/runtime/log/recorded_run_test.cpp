#include "runtime/log/recorded_run.h"

#include <doctest/doctest.h>

namespace rampart {

TEST_CASE("record: what a run writes beside its log") {
  std::string why;
  const auto run = read_recorded_run(R"({"run_id": "a", "start_utc": "2027-03-01T23:30:00Z", "zone": "+01:00",
      "device": "logger 7", "operator": null, "origin": {"profile": {"name": "p.ramp", "sha256": "00"}, "bench": null,
      "parameters": [{"name": "top", "value": 3.3, "text": "3.3 V", "set": true}]},
      "supplies": [{"supply": "left", "serial_number": "A1001"}, 7], "set_by_hand": ["fuse"],
      "end": {"reason": "stopped\u001b[2J by\nCtrl-C"}, "log_sha256": "ff"})",
                                     why);
  REQUIRE(run);
  CHECK(why.empty());
  CHECK(run->device == "logger 7");
  CHECK(run->operator_name.empty());
  CHECK(run->profile->name == "p.ramp");
  CHECK_FALSE(run->bench);
  CHECK(run->parameters.front().value == "3.3 V");
  REQUIRE(run->supplies.size() == 2);
  CHECK(run->supplies[0].serial == "A1001");
  CHECK(run->supplies[1].name.empty());
  CHECK(run->set_by_hand == std::vector<std::string>{"fuse"});
  // Nothing that moves the cursor of a terminal, and one line.
  CHECK(run->reason == "stopped [2J by Ctrl-C");
  CHECK(run->log_sha256 == "ff");
  // Half past eleven in the evening, UTC, is the next day an hour ahead of it.
  REQUIRE(run->day());
  CHECK(date_text(*run->day()) == "2027-03-02");
}

TEST_CASE("record: what is none, and what is too much") {
  const auto why_of = [](const std::string& text) {
    std::string why;
    CHECK_FALSE(read_recorded_run(text, why));
    return why;
  };
  CHECK(why_of("") == "it is not JSON");
  CHECK(why_of("{\"run_id\": \"\xFF\"}") == "it is not JSON");
  CHECK(why_of("[1]") == "it has no `run_id`");
  CHECK(why_of("{}") == "it has no `run_id`");
  CHECK(why_of("{\"run_id\": " + std::string(100'000, '[')) == "it is nested too deeply");
  CHECK(why_of(std::string(kMostRecordBytes + 1, ' ')) == "it is larger than 1 MiB");
  std::string why;
  std::string many =
      "{\"run_id\": 1, \"device\": \"" + std::string(2 * kMostRecordText, 'x') + "\", \"set_by_hand\": [1";
  for (std::size_t i = 0; i < 2 * kMostRecorded; ++i) many += ",1";
  const auto run = read_recorded_run(many + "]}", why);
  REQUIRE(run);
  CHECK(run->run_id.empty());
  CHECK(run->device == std::string(kMostRecordText, 'x') + "…");
  CHECK(run->set_by_hand.size() == kMostRecorded);
  CHECK_FALSE(run->day());
}

}  // namespace rampart
