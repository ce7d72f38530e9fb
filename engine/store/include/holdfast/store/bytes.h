// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Plain data as bytes, for what is kept and for the digests that name it. Numbers stand as the machine has them: what
// is kept is for the same build of the engine, on the same machine.
//
//   store::Writer out;
//   out.put(std::uint64_t{3}), out.put(point), out.put_all(numbers);
//   store::Reader in(out.bytes());
//   const auto count = in.take<std::uint64_t>();      // 0 once the bytes are at an end: see is_good

#include <Eigen/Core>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

namespace holdfast::store {

/// Numbers and enumerators, which have no padding: the same value is the same bytes.
template <class T>
concept Plain = std::is_arithmetic_v<T> || std::is_enum_v<T>;

class Writer {
 public:
  template <Plain T>
  void put(T value) {
    bytes_.append(reinterpret_cast<const char*>(&value), sizeof value);
  }
  /// With its length first, so that two texts in a row are never taken for two others.
  void put(std::string_view text) {
    put(static_cast<std::uint64_t>(text.size()));
    bytes_.append(text);
  }
  template <class Derived>
  void put(const Eigen::DenseBase<Derived>& matrix) {
    for (Eigen::Index column = 0; column < matrix.cols(); ++column)
      for (Eigen::Index row = 0; row < matrix.rows(); ++row) put(matrix(row, column));
  }
  /// With their number first.
  template <Plain T>
  void put_all(std::span<const T> values) {
    put(static_cast<std::uint64_t>(values.size()));
    put_raw(values.data(), values.size_bytes());
  }
  template <Plain T>
  void put_all(const std::vector<T>& values) {
    put_all(std::span<const T>(values));
  }
  /// Memory as it lies, for arrays of what has no padding.
  void put_raw(const void* from, std::size_t size) {
    if (size > 0) bytes_.append(static_cast<const char*>(from), size);
  }
  /// So many bytes are to come: else tens of megabytes are moved time and again.
  void expect(std::size_t size) { bytes_.reserve(size); }
  [[nodiscard]] const std::string& bytes() const { return bytes_; }
  [[nodiscard]] std::string take() { return std::move(bytes_); }

 private:
  std::string bytes_;
};

/// Takes what a `Writer` put, in the same order. Past the end everything is 0 or empty, and `is_good` false; no count
/// is believed beyond what is left.
class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}

  template <Plain T>
  [[nodiscard]] T take() {
    T value{};
    if (const auto* from = advance(sizeof value)) std::memcpy(&value, from, sizeof value);
    return value;
  }
  [[nodiscard]] bool take_flag() {
    const auto value = take<std::uint8_t>();
    is_good_ = is_good_ && value <= 1;
    return value == 1;
  }
  [[nodiscard]] Eigen::Vector3d take_point() {
    Eigen::Vector3d point;
    for (int axis = 0; axis < 3; ++axis) point[axis] = take<double>();
    return point;
  }
  [[nodiscard]] std::string take_text() {
    const auto size = take_count(1);
    const auto* from = advance(size);
    return from ? std::string(from, size) : std::string();
  }
  /// A count of things that take at least `least_bytes` each; 0, and no longer good, where so many cannot follow.
  [[nodiscard]] std::size_t take_count(std::size_t least_bytes) {
    const auto count = take<std::uint64_t>();
    if (count <= bytes_.size() / least_bytes) return static_cast<std::size_t>(count);
    is_good_ = false;
    return 0;
  }
  template <Plain T>
  [[nodiscard]] std::vector<T> take_all() {
    const auto count = take_count(sizeof(T));
    std::vector<T> values(count);
    if (const auto* from = advance(count * sizeof(T)); from && count > 0)
      std::memcpy(values.data(), from, count * sizeof(T));
    return values;
  }
  /// Bytes of `count` things of `size` each, where they stand; empty, and no longer good, where so many do not follow.
  [[nodiscard]] std::string_view take_bytes(std::size_t count, std::size_t size) {
    if (size == 0 || count > bytes_.size() / size) {
      is_good_ = is_good_ && count == 0;
      return {};
    }
    return {advance(count * size), count * size};
  }
  [[nodiscard]] bool is_good() const { return is_good_; }
  [[nodiscard]] bool is_at_end() const { return bytes_.empty(); }

 private:
  const char* advance(std::size_t size) {
    if (!is_good_ || bytes_.size() < size) {
      is_good_ = false;
      return nullptr;
    }
    const auto* from = bytes_.data();
    bytes_.remove_prefix(size);
    return from;
  }

  std::string_view bytes_;
  bool is_good_ = true;
};

}  // namespace holdfast::store
