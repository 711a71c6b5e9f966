#include "lang/text/word_table.h"

#include <doctest/doctest.h>

#include <string>

namespace {

using rampart::WordTable;

TEST_CASE("a table of words gives each its own value, however they are hashed") {
  WordTable<int, 1024> table;
  for (int i = 0; i < 500; ++i) table.add("w" + std::to_string(i), i);
  for (int i = 0; i < 500; ++i) {
    const int* found = table.find("w" + std::to_string(i));
    REQUIRE(found != nullptr);
    CHECK(*found == i);
  }
  CHECK(table.find("w500") == nullptr);
}

TEST_CASE("a table of words finds no part, no extension and no look-alike of a word") {
  WordTable<int, 8> table;
  table.add("together", 1);
  table.add("V", 2);
  table.add("V", 3);
  CHECK(*table.find("together") == 1);
  CHECK(*table.find("V") == 2);
  using namespace std::string_view_literals;
  for (const std::string_view word :
       {""sv, "v"sv, "VV"sv, "\0V"sv, "V\0"sv, "ogether"sv, "togetherr"sv, "ttogether"sv}) {
    CAPTURE(word);
    CHECK(table.find(word) == nullptr);
  }
}

}  // namespace
