#include "lang/files/file_uri.h"

#include <doctest/doctest.h>

using rampart::file_uri;
using rampart::path_of_uri;

TEST_CASE("paths as URIs: RFC 3986, section 2, and RFC 8089, section 2") {
  CHECK(file_uri("/a b/c.ramp") == "file:///a%20b/c.ramp");
  CHECK(file_uri("/100%/\u00B5#?.ramp") == "file:///100%25/%C2%B5%23%3F.ramp");
  CHECK(file_uri("a:b") == "a%3Ab");
  CHECK(path_of_uri("file:///a%20b/c.ramp") == "/a b/c.ramp");
  CHECK(path_of_uri("file://localhost/a") == "/a");
  CHECK(path_of_uri("file:///C%3A/%c2%b5") == "/C:/\u00B5");
  for (const char* path : {"/", "/a/b", "/%", "/a%20b", "/\u4E2D.ramp"}) CHECK(path_of_uri(file_uri(path)) == path);
  for (const char* none : {"", "file:", "file://", "http://a/b", "untitled:1", "file://host/a", "file:///%",
                           "file:///%0", "file:///%zz", "file:///a%00b"}) {
    CAPTURE(none);
    CHECK_FALSE(path_of_uri(none));
  }
}
