// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/store/store.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <tbb/parallel_for.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <filesystem>
#include <mutex>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/kept_file.h"
#include "holdfast/model/plain_file.h"
#include "holdfast/model/structure.h"

namespace holdfast::store {

namespace fs = std::filesystem;

namespace {

constexpr std::string_view magic = "holdfast kept 1\n";  // raised when the head of entries changes
constexpr std::size_t kind_size = 8, digest_size = 64;

/// What stands before the body: all that must agree, then the digest of the body.
constexpr std::size_t head_size = magic.size() + kind_size + 2 * digest_size + sizeof(std::uint64_t) + digest_size;
constexpr std::size_t agreed_size = head_size - digest_size;

bool is_digest(std::string_view text) {
  return text.size() == digest_size &&
         std::all_of(text.begin(), text.end(), [](char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); });
}
bool is_kind(std::string_view text) {
  return !text.empty() && text.size() <= kind_size &&
         std::all_of(text.begin(), text.end(), [](char c) { return c >= 'a' && c <= 'z'; });
}

/// A digest of digests of pieces, so that all cores work on it; `before(from, size)` is called for each piece first.
constexpr std::size_t piece_size = std::size_t{1} << 20;
template <class Before>
std::string digest_of_pieces(const char* body, std::size_t size, Before&& before) {
  const std::size_t pieces = (size + piece_size - 1) / piece_size;
  std::vector<std::string> digests(pieces);
  std::atomic<bool> is_good = true;
  tbb::parallel_for(std::size_t{0}, pieces, [&](std::size_t i) {
    const std::size_t from = i * piece_size, length = std::min(piece_size, size - from);
    if (!before(from, length))
      is_good = false;
    else
      digests[i] = model::digest_of({body + from, length});
  });
  if (!is_good) return {};
  std::string all;
  for (const auto& digest : digests) all += digest;
  return model::digest_of(all);
}

std::string agreed_head(std::string_view kind, const std::string& key, std::uint64_t size, const std::string& build) {
  std::string head(magic);
  head += kind;
  head.resize(magic.size() + kind_size, '\0');
  head += build;
  head += key;
  head.append(reinterpret_cast<const char*>(&size), sizeof size);
  return head;
}

std::string head_of(std::string_view kind, const std::string& key, std::string_view body, const std::string& build) {
  return agreed_head(kind, key, body.size(), build) +
         digest_of_pieces(body.data(), body.size(), [](std::size_t, std::size_t) { return true; });
}

bool read_at(int file, char* to, std::size_t from, std::size_t size) {
  for (std::size_t done = 0; done < size;) {
    const auto count = ::pread(file, to + done, size - done, static_cast<off_t>(from + done));
    if (count < 0 && errno == EINTR) continue;
    if (count <= 0) return false;
    done += static_cast<std::size_t>(count);
  }
  return true;
}

/// What an entry's name says; nothing for files that are none of ours.
struct Name {
  std::string digest, kind;
};
std::optional<Name> name_of(const fs::path& file) {
  const std::string name = file.filename().string();
  if (name.size() < digest_size + 2 || name[digest_size] != '.') return std::nullopt;
  Name found{name.substr(0, digest_size), name.substr(digest_size + 1)};
  return is_digest(found.digest) && is_kind(found.kind) ? std::optional(found) : std::nullopt;
}

struct KeptFile {
  fs::path path;
  std::string kind;
  std::uint64_t bytes = 0;
  std::int64_t used_ns = 0;  // when it was last written or found
};

std::vector<KeptFile> list(const std::string& folder) {
  std::vector<KeptFile> files;
  std::error_code error;
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    const auto name = name_of(at->path());
    struct stat status {};
    if (!name || ::lstat(at->path().c_str(), &status) != 0 || !S_ISREG(status.st_mode)) continue;
    files.push_back({at->path(), name->kind, static_cast<std::uint64_t>(status.st_size),
                     std::int64_t{status.st_mtim.tv_sec} * 1'000'000'000 + status.st_mtim.tv_nsec});
  }
  return files;
}

/// What a run that was ended while it wrote may leave beside the entries (write_file.cpp), an hour later.
void remove_left_overs(const std::string& folder) {
  std::error_code error;
  const auto old = fs::file_time_type::clock::now() - std::chrono::hours(1);
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    std::error_code failed;
    if (at->path().filename().string().starts_with(model::temporary_prefix) && at->is_regular_file(failed) &&
        fs::last_write_time(at->path(), failed) < old && !failed)
      fs::remove(at->path(), failed);
  }
}

}  // namespace

struct Store::Log {
  std::mutex mutex;
  std::vector<Incident> incidents;
};

Store::Store(std::string folder, std::size_t most_bytes, std::string build)
    : folder_(std::move(folder)), most_bytes_(most_bytes), build_(std::move(build)), log_(std::make_unique<Log>()) {
  model::ensure(is_digest(build_), "a build is named by a digest");
}
Store::~Store() = default;

std::string Store::file_of(std::string_view kind, const std::string& key) const {
  model::ensure(is_kind(kind) && is_digest(key), "an entry has a kind and a key");
  return (fs::path(folder_) / (model::digest_of(agreed_head(kind, key, 0, build_)) + "." + std::string(kind))).string();
}

std::optional<Entry> Store::find(std::string_view kind, const std::string& key) const {
  const std::string path = file_of(kind, key);
  const auto file = model::open_plain_file(path, most_bytes_ + head_size);
  if (file.fault() == model::FileFault::Missing) return std::nullopt;
  const auto unusable = [&]() -> std::optional<Entry> {
    add({IncidentKind::Unusable, path, ""});
    return std::nullopt;
  };
  if (file.fault() != model::FileFault::None || file.size() < head_size) return unusable();
  const std::size_t size = file.size() - head_size;
  std::array<char, head_size> head;
  if (!read_at(file.get(), head.data(), 0, head_size)) return unusable();
  const std::string_view agreed(head.data(), agreed_size), digest(head.data() + agreed_size, digest_size);
  if (agreed != agreed_head(kind, key, size, build_)) return unusable();
  // Not filled with zeros first: that costs as much as reading.
  std::unique_ptr<char[]> bytes(new char[std::max<std::size_t>(1, size)]);
  const auto is_read = [&](std::size_t from, std::size_t length) {
    return read_at(file.get(), bytes.get() + from, head_size + from, length);
  };
  if (digest_of_pieces(bytes.get(), size, is_read) != digest) return unusable();
  (void)::futimens(file.get(), nullptr);  // used now; where that is not allowed, it goes by when it was written
  return Entry(std::move(bytes), 0, size);
}

void Store::refuse(std::string_view kind, const std::string& key) const {
  add({IncidentKind::Unusable, file_of(kind, key), ""});
}

void Store::put(std::string_view kind, const std::string& key, std::string_view body) const {
  const std::string path = file_of(kind, key);
  if (body.size() + head_size > most_bytes_) {
    add({IncidentKind::NotKept, path, "it is larger than all that is kept may be"});
    return;
  }
  std::error_code error;
  fs::create_directories(folder_, error);
  try {
    model::write_kept_file(path, head_of(kind, key, body, build_), body);
  } catch (const model::InputError& refusal) {
    add({IncidentKind::NotKept, path, refusal.diagnostics().front().problem});
    return;
  }
  remove_left_overs(folder_);
  auto files = list(folder_);
  std::uint64_t sum = 0;
  for (const auto& file : files) sum += file.bytes;
  std::sort(files.begin(), files.end(), [](const KeptFile& x, const KeptFile& y) {
    return x.used_ns != y.used_ns ? x.used_ns < y.used_ns : x.path < y.path;
  });
  for (const auto& file : files) {
    if (sum <= most_bytes_) break;
    if (file.path == path) continue;
    fs::remove(file.path, error);  // another process may have done so
    sum -= file.bytes;
  }
}

Usage Store::usage() const {
  Usage usage;
  for (const auto& kept : list(folder_)) {
    ++usage.entries, ++usage.by_kind[kept.kind];
    usage.bytes += kept.bytes;
    const auto file = model::open_plain_file(kept.path.string(), most_bytes_ + head_size);
    std::string bytes(file.size(), '\0');
    if (file.fault() != model::FileFault::None || bytes.size() < head_size ||
        !read_at(file.get(), bytes.data(), 0, bytes.size())) {
      ++usage.unusable;
      continue;
    }
    const std::size_t build_at = magic.size() + kind_size;
    const std::string build = bytes.substr(build_at, digest_size),
                      key = bytes.substr(build_at + digest_size, digest_size);
    if (!opened(bytes, kept.kind, key, build) ||
        model::digest_of(agreed_head(kept.kind, key, 0, build)) != name_of(kept.path)->digest)
      ++usage.unusable;
    else if (build != build_)
      ++usage.of_other_builds;
  }
  return usage;
}

std::vector<Incident> Store::incidents() const {
  const std::lock_guard lock(log_->mutex);
  return log_->incidents;
}

void Store::add(Incident incident) const {
  const std::lock_guard lock(log_->mutex);
  const bool is_told = std::any_of(log_->incidents.begin(), log_->incidents.end(), [&](const Incident& told) {
    return told.kind == incident.kind && told.file == incident.file;
  });
  if (!is_told) log_->incidents.push_back(std::move(incident));
}

std::string sealed(std::string_view kind, const std::string& key, std::string_view body, const std::string& build) {
  return head_of(kind, key, body, build).append(body);
}

std::optional<std::string_view> opened(std::string_view bytes, std::string_view kind, const std::string& key,
                                       const std::string& build) {
  if (bytes.size() < head_size) return std::nullopt;
  const std::string_view body = bytes.substr(head_size);
  const std::string_view agreed = bytes.substr(0, agreed_size), digest = bytes.substr(agreed_size, digest_size);
  if (agreed != agreed_head(kind, key, body.size(), build)) return std::nullopt;
  if (digest != digest_of_pieces(body.data(), body.size(), [](std::size_t, std::size_t) { return true; }))
    return std::nullopt;
  return body;
}

}  // namespace holdfast::store
