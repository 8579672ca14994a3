// Digests of written content, for comparing only. FNV-1a, 64 bits (G. Fowler, L. C. Noll, K.-P. Vo; offset and prime as published).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "clinical/plan.h"

namespace clinical {

/// Fields in order; each is closed off, so that ("ab", "c") differs from ("a", "bc").
class Digest {
 public:
  Digest& add(std::string_view);
  Digest& add(std::int64_t);
  Digest& add(Instant);
  Digest& add(const Reason&);
  Digest& add(const Source&);  ///< the reference without the version
  template <class T>
  Digest& add(const std::optional<T>& value) {
    if (!value) return add(std::string_view("-"));
    if constexpr (std::is_same_v<T, minutes>) return add(std::int64_t{value->count()});
    else return add(*value);
  }
  std::string hex() const;     ///< 16 digits

 private:
  std::uint64_t state_ = 14695981039346656037ULL;
};

/// The content part of "content;note".
std::string_view content_of(std::string_view fingerprint);
/// The start written into a Task's content: nullopt for none.
std::optional<Instant> start_of(std::string_view fingerprint);

std::string task_content(std::optional<Instant> start, const Digest& rest);
std::string sheet_fingerprint(const CasePlan&);
/// Names of the parts in which two sheet fingerprints differ, in the order of the parts; all of them when `before` is empty.
std::vector<std::string> sheet_causes(std::string_view before, std::string_view after);
std::string care_plan_fingerprint(const CasePlan&, const std::string& protocol_hash);
std::string guidance_fingerprint(const CasePlan&);

}  // namespace clinical
