// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Results kept on disk from run to run: cleaned meshes, graphs, spans of cables. What is kept can always be made again;
// so nothing here is a fault of the question that asks.
//
//   const store::Store store("/home/me/.cache/holdfast");
//   if (const auto entry = store.find("graph", key)) use(entry->body());
//   else store.put("graph", key, packed);
//
// One file an entry, named by kind, key and build of the engine. `key` is a digest of all that the content depends on.
// Files are put in place whole (another process finds the whole of it or nothing), hold a digest of their own bytes,
// and are not used when they are damaged, cut short, of another build, kind or key, or no plain files. The folder is
// bounded: what was not used for longest goes first. Const members may be called from several threads and processes.

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace holdfast::store {

/// Room for some twenty graphs of 100,000 grips (40 MB each, with their meshes).
inline constexpr std::size_t usual_most_bytes = std::size_t{1} << 30;

/// Names the build of this program: the linker's build id, or where it wrote none a digest of the program's file.
/// Results of another build are never used, whatever its version says.
[[nodiscard]] const std::string& engine_build();

/// An entry that was found whole and of the right content.
class Entry {
 public:
  Entry(std::unique_ptr<char[]> bytes, std::size_t head, std::size_t size)
      : bytes_(std::move(bytes)), head_(head), size_(size) {}
  /// What was put; good as long as the entry is.
  [[nodiscard]] std::string_view body() const { return {bytes_.get() + head_, size_}; }

 private:
  std::unique_ptr<char[]> bytes_;
  std::size_t head_, size_;  // of the file's head, and of the body behind it
};

/// Why an entry was made anew, or will be the next time.
enum class IncidentKind {
  Unusable,  ///< a file under the entry's name that is damaged, cut short or of other content
  NotKept    ///< could not be written
};
struct Incident {
  IncidentKind kind = IncidentKind::Unusable;
  std::string file;
  std::string why;  ///< NotKept: what the system says
};

struct Usage {
  std::size_t entries = 0;
  std::uint64_t bytes = 0;
  std::map<std::string, std::size_t> by_kind;  ///< entries of each kind
  std::size_t of_other_builds = 0;             ///< of them, of another build of the engine
  std::size_t unusable = 0;                    ///< of them, damaged or cut short
};

class Store {
 public:
  /// The folder is made when something is first put. `build`: of the engine; given in tests alone.
  explicit Store(std::string folder, std::size_t most_bytes = usual_most_bytes, std::string build = engine_build());
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  [[nodiscard]] const std::string& folder() const { return folder_; }
  [[nodiscard]] std::size_t most_bytes() const { return most_bytes_; }

  /// Nothing where there is none that can be used. `kind`: 1 to 8 small letters. `key`: 64 hexadecimal digits.
  [[nodiscard]] std::optional<Entry> find(std::string_view kind, const std::string& key) const;
  /// Content that was found but is none that its reader takes: told as unusable.
  void refuse(std::string_view kind, const std::string& key) const;
  /// Keeps the content, then lets entries go while the folder holds more than `most_bytes`: those used longest ago
  /// first. Content that is larger by itself is not kept, and nothing else goes for it.
  void put(std::string_view kind, const std::string& key, std::string_view body) const;

  /// The file that `put` writes.
  [[nodiscard]] std::string file_of(std::string_view kind, const std::string& key) const;
  /// Reads every entry in whole.
  [[nodiscard]] Usage usage() const;
  /// What went wrong so far, in its order; each file once.
  [[nodiscard]] std::vector<Incident> incidents() const;

 private:
  struct Log;
  void add(Incident incident) const;

  const std::string folder_;
  const std::size_t most_bytes_;
  const std::string build_;
  const std::unique_ptr<Log> log_;
};

/// Bytes of an entry's file and back, for contents that are handed on otherwise: nothing where they are not whole, or
/// of another kind, key or build.
[[nodiscard]] std::string sealed(std::string_view kind, const std::string& key, std::string_view body,
                                 const std::string& build = engine_build());
[[nodiscard]] std::optional<std::string_view> opened(std::string_view bytes, std::string_view kind,
                                                     const std::string& key, const std::string& build = engine_build());

}  // namespace holdfast::store
