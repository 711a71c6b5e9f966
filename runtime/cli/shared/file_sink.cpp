#include "runtime/cli/shared/file_sink.h"

#include <limits>
#include <new>
#include <system_error>

namespace rampart::cli {

// Buffers hand over their last text where nothing may be thrown.
void FileSink::write(std::string_view text) {
  if (is_out_of_memory_) return;
  try {
    take(text);
  } catch (const std::bad_alloc&) {
    is_out_of_memory_ = true;
    failed_ = true;
  }
}

void FileSink::take(std::string_view text) {
  told_.add(text.size());
  if (!ring_ && text.size() > short_left_) start_threads();
  if (ring_) {
    ring_->add(text);
    return;
  }
  short_left_ -= text.size();
  write_to_file(text);
  if (digests_) digest_.add(text);
}

void FileSink::finish() {
  if (ring_) ring_->finish();
  // Its threads end here: none takes a signal while files are put in their places.
  ring_.reset();
  if (is_out_of_memory_) throw std::bad_alloc();
}

std::string FileSink::sha256() {
  finish();
  return Sha256(digest_).finish();
}

void FileSink::write_to_file(std::string_view text) {
  file_.write(text);
  failed_ = !file_.failure().empty();
}

void FileSink::start_threads() {
  std::vector<PieceRing::Reader> readers{[this](std::string_view piece) { write_to_file(piece); }};
  if (digests_) readers.emplace_back([this](std::string_view piece) { digest_.add(piece); });
  try {
    ring_.emplace(std::move(readers));
  } catch (const std::system_error&) {
    // Without threads it takes longer.
    short_left_ = std::numeric_limits<std::size_t>::max();
  }
}

}  // namespace rampart::cli
