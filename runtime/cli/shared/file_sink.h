#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "compiler/export/sha256.h"
#include "compiler/export/text_sink.h"
#include "runtime/cli/terminal/progress.h"
#include "runtime/support/output_file.h"
#include "runtime/support/piece_ring.h"

namespace rampart::cli {

// Hands text to a file and takes its digest on the way. The digest of a long text is taken on a thread of its own: it
// takes about as long as to make and write the text.
class FileSink : public DigestSink {
 public:
  enum class Digest { Taken, None };
  // The file is the sink's alone until finish().
  explicit FileSink(OutputFile& file, Digest digest = Digest::None)
      : file_(file), digests_(digest == Digest::Taken), told_(file.is_replaced()) {}

  void write(std::string_view text) override;
  [[nodiscard]] bool failed() const override { return failed_; }
  // Waits until the file has all that was written. Throws std::bad_alloc where there was no memory for some of it.
  void finish();
  // Where it is taken.
  [[nodiscard]] std::string sha256() override;

 private:
  void take(std::string_view text);
  void take_digest(std::string_view text);
  void start_thread();

  OutputFile& file_;
  bool digests_;
  Sha256 digest_;
  ByteCount told_;
  std::size_t short_left_ = std::size_t{1} << 18;  // so much is written before a thread is worth its start
  bool failed_ = false;
  bool is_out_of_memory_ = false;
  std::optional<PieceRing> ring_;
};

}  // namespace rampart::cli
