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
  if (digests_) take_digest(text);
  file_.write(text);
  failed_ = !file_.failure().empty();
}

void FileSink::take_digest(std::string_view text) {
  if (!ring_ && text.size() > short_left_) start_thread();
  if (ring_) {
    ring_->add(text);
    return;
  }
  short_left_ -= text.size();
  digest_.add(text);
}

void FileSink::finish() {
  if (ring_) ring_->finish();
  // Its thread ends here: it takes no signal while files are put in their places.
  ring_.reset();
  if (is_out_of_memory_) throw std::bad_alloc();
}

std::string FileSink::sha256() {
  finish();
  return Sha256(digest_).finish();
}

void FileSink::start_thread() {
  try {
    ring_.emplace([this](std::string_view piece) { digest_.add(piece); });
  } catch (const std::system_error&) {
    // Without a thread it takes longer.
    short_left_ = std::numeric_limits<std::size_t>::max();
  }
}

}  // namespace rampart::cli
