#include <doctest/doctest.h>
#include <fmt/format.h>

TEST_CASE("the compiled part of fmt formats every kind the project prints") {
  CHECK(fmt::format("{} {:.3f} {:>4} {}", 42, 2.5, "ab", true) == "42 2.500   ab true");
  CHECK(fmt::format("{}", 0.1) == "0.1");
  CHECK(fmt::format("{}", 0.1F) == "0.1");
  CHECK_THROWS_AS(static_cast<void>(fmt::format(fmt::runtime("{:z}"), 1)), fmt::format_error);
}
