// The signed statement with which a backend service asks for a token (HL7 SMART App Launch 2.2, "Client Authentication: Asymmetric"; RFC 7523).
#pragma once

#include <cstdint>
#include <string>

#include "auth/signing_key.h"

namespace auth {

struct Assertion {
  std::string client_id;   ///< iss and sub
  std::string token_url;   ///< aud
  std::string id;          ///< jti: never used before; at least 128 random bits
  std::int64_t now = 0;    ///< seconds since 1970, UTC
};

/// exp is 240 s after `now`: the guide allows five minutes, the rest is for clocks that differ. iat is left out: it is not required, and issuers have
/// refused one that lay some milliseconds ahead. Empty: the key could not sign.
std::string signed_assertion(const SigningKey&, const Assertion&);

}  // namespace auth
