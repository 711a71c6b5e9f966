#pragma once

#include <memory>

#include "runtime/link/transport.h"

namespace rampart::link {

// A device file of the kernel's USB test and measurement class: one write is a message, one read an answer.
[[nodiscard]] std::unique_ptr<Transport> make_usbtmc(const UsbtmcPlace& place);

}  // namespace rampart::link
