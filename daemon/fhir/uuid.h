// UUIDs by name (RFC 9562, version 5): the same name always gives the same id.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace fhir {

struct Uuid {
  std::array<std::uint8_t, 16> bytes{};
  friend auto operator<=>(const Uuid&, const Uuid&) = default;
};

// RFC 9562, 6.6.
inline constexpr Uuid kDnsNamespace{{0x6b, 0xa7, 0xb8, 0x10, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8}};
inline constexpr Uuid kUrlNamespace{{0x6b, 0xa7, 0xb8, 0x11, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8}};

Uuid uuid5(const Uuid& name_space, std::string_view name);
std::string to_string(const Uuid& uuid);                 // lower case, with hyphens: also a valid FHIR id
std::optional<Uuid> parse_uuid(std::string_view text);   // with or without "urn:uuid:", either case

}  // namespace fhir
