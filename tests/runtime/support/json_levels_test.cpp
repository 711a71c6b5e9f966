#include "runtime/support/json_levels.h"

#include <doctest/doctest.h>
#include <string>

namespace rampart {
namespace {

std::string lists(int levels) {
  return std::string(static_cast<std::size_t>(levels), '[') + std::string(static_cast<std::size_t>(levels), ']');
}

}  // namespace

TEST_CASE("JSON levels: up to the bound, and one more") {
  CHECK_FALSE(nests_deeper("", 0));
  CHECK_FALSE(nests_deeper("null", 0));
  CHECK(nests_deeper("[]", 0));
  CHECK_FALSE(nests_deeper(lists(64), 64));
  CHECK(nests_deeper(lists(65), 64));
  CHECK_FALSE(nests_deeper("[" + lists(63) + "," + lists(63) + "]", 64));
  CHECK_FALSE(nests_deeper(R"({"a": [{"b": 1}], "c": {}})", 3));
  CHECK(nests_deeper(R"({"c": {}, "a": [{"b": 1}]})", 2));
}

TEST_CASE("JSON levels: brackets in texts are none") {
  CHECK_FALSE(nests_deeper(R"(["[[", "{\"[[", "\\", "[["])", 1));
  CHECK(nests_deeper(R"(["\\", [1]])", 1));
  CHECK(nests_deeper(R"({"a\"": [1]})", 1));
  // A text that ends amid an escape.
  CHECK_FALSE(nests_deeper("[\"\\", 1));
}

}  // namespace rampart
