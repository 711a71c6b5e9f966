#include "lang/files/files.h"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cstdio>
#include <filesystem>
#include <fstream>

#include "lang/files/read_text.h"
#include "lang/findings/resolve.h"

namespace rampart {
namespace {

// A folder of its own, gone at the end.
class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "rampart-files-XXXXXX").string();
    path_ = mkdtemp(name.data());
  }
  ~Folder() { std::filesystem::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;

  [[nodiscard]] std::string operator/(const std::string& name) const { return (path_ / name).string(); }

 private:
  std::filesystem::path path_;
};

std::string all_of(std::FILE* stream) {
  std::string text;
  for (int c = std::fgetc(stream); c != EOF; c = std::fgetc(stream)) text += static_cast<char>(c);
  return text;
}

TEST_CASE("what is no file is refused at once, and said") {
  const Folder folder;
  REQUIRE(mkfifo((folder / "pipe").c_str(), 0600) == 0);
  Disk disk;
  const auto why_not = [&](const std::string& path) {
    std::string read_why;
    std::string open_why;
    CHECK(disk.read(path, read_why) == nullptr);
    CHECK(disk.open(path, open_why) == nullptr);
    CHECK(read_why == open_why);
    return read_why;
  };
  CHECK(why_not(folder / "none") == "no such file");
  CHECK(why_not(folder / "") == "is a folder");
  CHECK(why_not(folder / "pipe") == "is a pipe, not a file");
  CHECK(why_not("/dev/null") == "is a device, not a file");
}

TEST_CASE("a text above the bound is refused, one at it is not") {
  const Folder folder;
  std::ofstream(folder / "large") << "x";
  std::filesystem::resize_file(folder / "large", kMaxFileBytes);
  std::string why;
  Disk disk;
  const TextPtr text = disk.read(folder / "large", why);
  REQUIRE(text != nullptr);
  CHECK(text->text().size() == kMaxFileBytes);
  std::filesystem::resize_file(folder / "large", kMaxFileBytes + 1);
  CHECK(disk.read(folder / "large", why) == nullptr);
  CHECK(why == "is larger than 64 MiB");
}

TEST_CASE("a held text stands in place of the file by any spelling of its path, until it is released") {
  const Folder folder;
  std::ofstream(folder / "a.ramp") << "saved";
  std::string why;
  Disk disk;
  HeldTexts files(disk);
  files.hold(folder / "a.ramp", "unsaved");
  const TextPtr first = files.read(folder / "a.ramp", why);
  const TextPtr again = files.read(folder / "./b/../a.ramp", why);
  REQUIRE(first != nullptr);
  CHECK(first->text() == "unsaved");
  CHECK(first == again);
  CHECK(all_of(files.open(folder / "a.ramp", why).get()) == "unsaved");
  files.hold(folder / "a.ramp", "typed on");
  const TextPtr next = files.read(folder / "a.ramp", why);
  CHECK(next->text() == "typed on");
  CHECK(next->id() != first->id());
  CHECK(first->text() == "unsaved");
  files.release(folder / "a.ramp");
  CHECK(files.read(folder / "a.ramp", why)->text() == "saved");
  CHECK(all_of(files.open(folder / "a.ramp", why).get()) == "saved");
}

TEST_CASE("an open stream outlives what was held") {
  HeldTexts files;
  std::string why;
  files.hold("a", "first");
  const FileStream stream = files.open("a", why);
  files.hold("a", "second");
  CHECK(all_of(stream.get()) == "first");
  files.hold("empty", "");
  CHECK(all_of(files.open("empty", why).get()).empty());
}

TEST_CASE("held texts alone have no other files") {
  HeldTexts files;
  files.hold("folder/a.ramp", "text");
  std::string why;
  CHECK(files.read("folder/./a.ramp", why) != nullptr);
  CHECK(files.read("/etc/passwd", why) == nullptr);
  CHECK(why == "no such file");
  CHECK(files.open("/etc/passwd", why) == nullptr);
}

TEST_CASE("what cannot be read is a finding at the place that names it") {
  HeldTexts files;
  FindingSink findings;
  const FileId importer = findings.texts().add("p.ramp", "import \"x\"");
  CHECK(read_text(files, {"x", Span{importer, 7, 10}}, findings) == nullptr);
  CHECK(read_text(files, {"y", std::nullopt}, findings) == nullptr);
  REQUIRE(findings.findings().size() == 2);
  CHECK(findings.findings()[0].span == Span{importer, 7, 10});
  CHECK(findings.texts()[findings.findings()[1].span.file].name() == "y");
}

TEST_CASE("texts keep the order in which they were added, whatever their ids") {
  const TextPtr bench = make_text("b.bench.yaml", "bench");
  const TextPtr profile = make_text("p.ramp", "profile");
  CHECK(bench->id() != profile->id());
  CHECK(bench->id() != FileId{});
  FindingSink findings;
  findings.texts().add(profile);
  findings.texts().add(bench);
  CHECK(findings.texts().add(profile) == profile->id());
  CHECK(findings.texts().texts().size() == 2);
  findings.report(finding::NoRun, Span{bench->id(), 0, 1});
  findings.report(finding::NoRun, Span{profile->id(), 0, 1});
  CHECK(findings.findings()[0].span.file == profile->id());
  SourceSet copy = findings.texts();
  CHECK(&copy[bench->id()] == bench.get());
}

}  // namespace
}  // namespace rampart
