#include "compiler/export/sha256.h"

#include <doctest/doctest.h>

using namespace rampart;

// NIST, "Secure Hash Standard" examples for SHA-256 (one block, two blocks), the digest of the empty text and of a
// million times "a" from the same collection of test vectors.
TEST_CASE("digests are those that FIPS 180-4 was published with") {
  CHECK(sha256_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_of("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  CHECK(sha256_of("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  CHECK(sha256_of(std::string(1'000'000, 'a')) == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST_CASE("the pieces that a text comes in do not matter") {
  const std::string text(200, 'x');
  for (std::size_t piece = 1; piece <= text.size(); ++piece) {
    Sha256 digest;
    for (std::size_t at = 0; at < text.size(); at += piece) digest.add(std::string_view(text).substr(at, piece));
    CHECK(digest.finish() == sha256_of(text));
  }
}

TEST_CASE("a copy of a digest goes on by itself") {
  Sha256 digest;
  digest.add("ab");
  Sha256 copy = digest;
  digest.add("c");
  CHECK(digest.finish() == sha256_of("abc"));
  copy.add("x");
  digest = copy;
  CHECK(copy.finish() == sha256_of("abx"));
  CHECK(digest.finish() == sha256_of("abx"));
}

// RFC 4648, section 10: the test vectors "f", "fo", "foo", "foobar", their bytes being the ASCII codes.
TEST_CASE("base 64 is that of RFC 4648") {
  CHECK(base64_of_hex("66") == "Zg==");
  CHECK(base64_of_hex("666f") == "Zm8=");
  CHECK(base64_of_hex("666f6f") == "Zm9v");
  CHECK(base64_of_hex("666f6f626172") == "Zm9vYmFy");
  CHECK(base64_of_hex("").empty());
}
