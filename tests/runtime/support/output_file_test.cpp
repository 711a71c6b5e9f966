#include "runtime/support/output_file.h"

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <thread>

namespace {

namespace fs = std::filesystem;

// A folder of its own, gone when the test ends.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string name = (fs::temp_directory_path() / "rampart-output-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path_ = name;
  }
  ~TemporaryFolder() { fs::remove_all(path_); }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] std::string file(const std::string& name) const { return (path_ / name).string(); }
  [[nodiscard]] auto count() const { return std::distance(fs::directory_iterator(path_), fs::directory_iterator()); }

 private:
  fs::path path_;
};

std::string content(const std::string& path) {
  std::ifstream stream(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

}  // namespace

TEST_CASE("a committed file is there whole and alone") {
  const TemporaryFolder folder;
  rampart::OutputFile file(folder.file("t.csv"));
  file.write("time_s\n");
  file.write("0\n");
  CHECK(!fs::exists(folder.file("t.csv")));
  CHECK(file.commit());
  CHECK(content(folder.file("t.csv")) == "time_s\n0\n");
  CHECK(folder.count() == 1);
}

TEST_CASE("without a commit the old file stays and nothing else is left") {
  const TemporaryFolder folder;
  std::ofstream(folder.file("t.csv")) << "old";
  {
    rampart::OutputFile file(folder.file("t.csv"));
    file.write("new");
  }
  CHECK(content(folder.file("t.csv")) == "old");
  CHECK(folder.count() == 1);
}

TEST_CASE("a new file has the mode that any new file gets") {
  const TemporaryFolder folder;
  std::ofstream(folder.file("plain")) << "x";
  rampart::OutputFile file(folder.file("t.csv"));
  CHECK(file.commit());
  CHECK(fs::status(folder.file("t.csv")).permissions() == fs::status(folder.file("plain")).permissions());
}

TEST_CASE("two files take their places while nobody else puts files into the folder") {
  const TemporaryFolder folder;
  const int other = open(folder.file(".").c_str(), O_RDONLY | O_DIRECTORY);
  REQUIRE(flock(other, LOCK_EX) == 0);
  rampart::OutputFile table(folder.file("t.csv"));
  rampart::OutputFile setup(folder.file("t.csv.setup.json"));
  table.write("0\n");
  setup.write("{}\n");
  std::thread placing([&] { CHECK(commit_together(setup, table)); });
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  CHECK(!fs::exists(folder.file("t.csv")));
  CHECK(!fs::exists(folder.file("t.csv.setup.json")));
  close(other);
  placing.join();
  CHECK(content(folder.file("t.csv")) == "0\n");
  CHECK(content(folder.file("t.csv.setup.json")) == "{}\n");
  CHECK(folder.count() == 2);
}

TEST_CASE("of two files neither takes its place where one failed") {
  const TemporaryFolder folder;
  std::ofstream(folder.file("t.csv")) << "old";
  rampart::OutputFile table(folder.file("t.csv"));
  table.write("new");
  rampart::OutputFile setup("/dev/full");
  setup.write("{}");
  CHECK(!commit_together(setup, table));
  CHECK(setup.failure() == "no space left on device");
  CHECK(content(folder.file("t.csv")) == "old");
}

TEST_CASE("of two files the first goes back where the second cannot take its place") {
  const TemporaryFolder folder;
  const std::string setup_path = folder.file("t.csv.setup.json");
  bool had_old = false;
  SUBCASE("to the older one") {
    std::ofstream(setup_path) << "old";
    had_old = true;
  }
  SUBCASE("to none") {}
  rampart::OutputFile table(folder.file("t.csv"));
  table.write("new");
  rampart::OutputFile setup(setup_path);
  setup.write("{}");
  fs::create_directory(folder.file("t.csv"));
  CHECK(!commit_together(setup, table));
  CHECK(table.failure() == "is a directory");
  CHECK(fs::exists(setup_path) == had_old);
  if (had_old) CHECK(content(setup_path) == "old");
  CHECK(folder.count() == (had_old ? 2 : 1));
}

TEST_CASE("what cannot be written says why") {
  const TemporaryFolder folder;
  SUBCASE("a folder that is not there") {
    rampart::OutputFile file(folder.file("no/t.csv"));
    file.write("text");
    CHECK(!file.commit());
    CHECK(file.failure() == "no such file or directory");
  }
  SUBCASE("a folder in its place") {
    fs::create_directory(folder.file("t.csv"));
    rampart::OutputFile file(folder.file("t.csv"));
    CHECK(!file.commit());
    CHECK(file.failure() == "is a directory");
  }
  SUBCASE("a pipe that nobody reads") {
    REQUIRE(mkfifo(folder.file("pipe").c_str(), 0600) == 0);
    rampart::OutputFile file(folder.file("pipe"));
    file.write("text");
    CHECK(!file.commit());
    CHECK(file.failure() == "broken pipe");
  }
  SUBCASE("a full disk") {
    rampart::OutputFile file("/dev/full");
    file.write("text");
    CHECK(!file.commit());
    CHECK(file.failure() == "no space left on device");
  }
}
