// SPDX-License-Identifier: GPL-3.0-or-later
#include <elf.h>
#include <fmt/format.h>
#include <link.h>

#include <cstring>

#include "holdfast/model/plain_file.h"
#include "holdfast/model/structure.h"
#include "holdfast/store/store.h"

namespace holdfast::store {

namespace {

/// The note NT_GNU_BUILD_ID among the notes at `note`, in hexadecimal digits; empty where there is none.
std::string find_build_id(const char* note, const char* end) {
  const auto aligned = [](std::size_t size) { return (size + 3) & ~std::size_t{3}; };
  while (note + sizeof(ElfW(Nhdr)) <= end) {
    ElfW(Nhdr) head;
    std::memcpy(&head, note, sizeof head);
    const char* name = note + sizeof head;
    const char* id = name + aligned(head.n_namesz);
    if (id + head.n_descsz > end) return {};
    if (head.n_type == NT_GNU_BUILD_ID && head.n_namesz == sizeof "GNU" &&
        std::memcmp(name, "GNU", sizeof "GNU") == 0) {
      std::string digits;
      for (std::size_t i = 0; i < head.n_descsz; ++i)
        digits += fmt::format("{:02x}", static_cast<unsigned char>(id[i]));
      return digits;
    }
    note = id + aligned(head.n_descsz);
  }
  return {};
}

/// Of the first object that is loaded, which is the program.
int look_at_program(dl_phdr_info* program, std::size_t, void* found) {
  for (int i = 0; i < program->dlpi_phnum; ++i) {
    const auto& segment = program->dlpi_phdr[i];
    if (segment.p_type != PT_NOTE) continue;
    const auto* at = reinterpret_cast<const char*>(program->dlpi_addr + segment.p_vaddr);
    auto& id = *static_cast<std::string*>(found);
    id = find_build_id(at, at + segment.p_memsz);
    if (!id.empty()) break;
  }
  return 1;
}

std::string compute_build() {
  std::string id;
  ::dl_iterate_phdr(look_at_program, &id);
  if (id.empty()) id = model::read_plain_file("/proc/self/exe", std::size_t{1} << 30).bytes;
  return model::digest_of(id);
}

}  // namespace

const std::string& engine_build() {
  static const std::string build = compute_build();
  return build;
}

}  // namespace holdfast::store
