// SPDX-License-Identifier: GPL-3.0-or-later
#include "memory.h"

#include <malloc.h>
#include <sys/mman.h>
#include <sys/resource.h>

#include <cstdint>
#include <cstdlib>

namespace holdfast::cli {

void prepare_memory() {
// Sanitizers have an allocator of their own.
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
  ::mallopt(M_MMAP_MAX, 0);         // no block apart from the rest, to be given back when it is freed
  ::mallopt(M_TRIM_THRESHOLD, -1);  // nor the end of them
  rlimit limit{};
  if (::getrlimit(RLIMIT_AS, &limit) != 0 || limit.rlim_cur != RLIM_INFINITY) return;  // set aside, it would be missing
  // As much as a model of a million grips takes; what goes beyond comes as it always does.
  constexpr std::size_t ahead = std::size_t{2} << 30, large_page = std::size_t{2} << 20;
  void* const block = std::malloc(ahead);
  if (!block) return;
  const auto begin = (reinterpret_cast<std::uintptr_t>(block) + large_page - 1) / large_page * large_page;
  const auto end = (reinterpret_cast<std::uintptr_t>(block) + ahead) / large_page * large_page;
  (void)::madvise(reinterpret_cast<void*>(begin), end - begin, MADV_HUGEPAGE);
  std::free(block);
#endif
}

}  // namespace holdfast::cli
