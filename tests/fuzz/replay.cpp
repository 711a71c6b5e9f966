// Runs a target on files and on a fixed number of changes of them, the same each time, on any build.
// usage: rampart_fuzz_replay TARGET CHANGES FILE...
// RAMPART_FUZZ_LAST names a file for the input that ran last.
#include <fcntl.h>
#include <sys/time.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

#include "tests/fuzz/targets.h"

namespace {

class Mutator {
 public:
  explicit Mutator(const std::vector<std::string>& seeds) : seeds_(seeds) {}

  // One of the seeds with a few changes.
  std::string next() {
    std::string text = seeds_[below(seeds_.size())];
    for (std::size_t i = 1 + below(4); i > 0; --i) change(text);
    return text;
  }

 private:
  void change(std::string& text) {
    const std::size_t at = below(text.size() + 1);
    const std::size_t length = std::min(text.size() - at, below(below(4) == 0 ? 200 : 6));
    switch (below(6)) {
      case 0:
        text.erase(at, length);
        break;
      case 1:
        text.insert(at, text.substr(at, length));
        break;
      case 2:
        text.insert(at, kParts[below(std::size(kParts))]);
        break;
      case 3:
        text.replace(at, length, kParts[below(std::size(kParts))]);
        break;
      case 4:
        if (at < text.size()) text[at] = static_cast<char>(below(256));
        break;
      default:
        splice(text, at);
    }
  }

  // From another seed.
  void splice(std::string& text, std::size_t at) {
    const std::string& other = seeds_[below(seeds_.size())];
    const std::size_t from = below(other.size() + 1);
    text.insert(at, other.substr(from, below(100)));
  }

  std::size_t below(std::size_t bound) { return bound == 0 ? 0 : engine_() % bound; }

  // What is often a bound of something.
  static constexpr const char* kParts[] = {"0",
                                           "-1",
                                           "1e9",
                                           "9223372036854775807",
                                           "-9223372036854775808",
                                           "1e-30",
                                           "0.0000000001",
                                           " ",
                                           "\n",
                                           "{",
                                           "}",
                                           "[",
                                           "]",
                                           "(",
                                           ")",
                                           "\"",
                                           ",",
                                           ";",
                                           ":",
                                           "..",
                                           "-",
                                           "#",
                                           "\\",
                                           "\xC2\x85",
                                           "\x1B[31m",
                                           "\xE2\x80\xAE",
                                           "nan",
                                           "inf",
                                           "99999999999999999999999999999999999999999",
                                           "\n%%%%\n"};

  const std::vector<std::string>& seeds_;
  std::mt19937 engine_{1};
};

std::string read_file(const char* path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    std::fprintf(stderr, "%s: cannot be read\n", path);
    std::exit(2);
  }
  return {std::istreambuf_iterator<char>(file), {}};
}

// Seconds of processor time that an input may take, which a busy machine does not change. SIGPROF ends the process
// then.
constexpr time_t kLongest = 25;

void limit_time(time_t seconds) {
  const itimerval limit{{}, {seconds, 0}};
  setitimer(ITIMER_PROF, &limit, nullptr);
}

// What ran when the process ended. The file stays open: to open it anew takes longer than most inputs.
void keep(const std::string& input) {
  static const char* const kPath = std::getenv("RAMPART_FUZZ_LAST");
  static const int kFile = kPath == nullptr ? -1 : open(kPath, O_WRONLY | O_CREAT | O_TRUNC, 0666);
  if (kPath == nullptr) return;
  const auto size = static_cast<off_t>(input.size());
  if (pwrite(kFile, input.data(), input.size(), 0) == size && ftruncate(kFile, size) == 0) return;
  std::fprintf(stderr, "%s: cannot be written\n", kPath);
  std::exit(2);
}

void run_one(const rampart::fuzz::Target& target, const std::string& input) {
  keep(input);
  limit_time(kLongest);
  target.run(input);
  limit_time(0);
}

int replay(int argc, char** argv) {
  const rampart::fuzz::Target* target = argc > 3 ? rampart::fuzz::find_target(argv[1]) : nullptr;
  if (target == nullptr) {
    std::fputs("usage: rampart_fuzz_replay TARGET CHANGES FILE...; targets:", stderr);
    for (const rampart::fuzz::Target& one : rampart::fuzz::targets()) std::fprintf(stderr, " %s", one.name.data());
    std::fputs("\n", stderr);
    return 2;
  }
  const long changes = std::strtol(argv[2], nullptr, 10);
  std::vector<std::string> seeds;
  for (int i = 3; i < argc; ++i) {
    seeds.push_back(read_file(argv[i]));
    run_one(*target, seeds.back());
  }
  Mutator mutator(seeds);
  for (long i = 0; i < changes; ++i) {
    run_one(*target, mutator.next());
  }
  std::printf("%s: %zu files and %ld changes of them\n", argv[1], seeds.size(), changes);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return replay(argc, argv);
  } catch (const std::exception& failure) {
    std::fprintf(stderr, "thrown: %s\n", failure.what());
    return 1;
  }
}
