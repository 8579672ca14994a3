// Digests and base64 of bytes.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace fhir {

std::string sha256_hex(std::string_view bytes);    // 64 lower-case digits
std::string sha1_base64(std::string_view bytes);   // FHIR Attachment.hash
std::string base64(std::string_view bytes);        // RFC 4648, one line, padded
// White space inside is skipped, as senders wrap lines. nullopt when it is no base64.
std::optional<std::string> from_base64(std::string_view text);

}  // namespace fhir
