#include "lang/text/version.h"

#include <doctest/doctest.h>

#include <algorithm>

TEST_CASE("the version has three numbers") {
  const std::string_view version = rampart::version();
  CHECK(std::count(version.begin(), version.end(), '.') == 2);
  CHECK(version.find_first_not_of("0123456789.") == std::string_view::npos);
}
