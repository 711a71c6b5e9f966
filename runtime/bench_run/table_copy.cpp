#include "runtime/bench_run/table_copy.h"

#include "compiler/export/sha256.h"

namespace rampart::bench_run {

Stream private_copy(std::FILE* stream, std::string& sha256) {
  Stream copy(std::tmpfile());
  Sha256 digest;
  char piece[1 << 16];
  while (copy) {
    const std::size_t got = std::fread(piece, 1, sizeof piece, stream);
    if (got == 0) break;
    digest.add({piece, got});
    if (std::fwrite(piece, 1, got, copy.get()) != got) copy.reset();
  }
  if (copy && (std::ferror(stream) != 0 || std::fflush(copy.get()) != 0)) copy.reset();
  if (copy) std::rewind(copy.get());
  sha256 = digest.finish();
  return copy;
}

}  // namespace rampart::bench_run
