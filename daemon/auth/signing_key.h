// A private key that signs for this service, and its public half as others read it. OpenSSL does the arithmetic.
#pragma once

#include <boost/system/result.hpp>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "json/tree.h"

struct evp_pkey_st;  // of OpenSSL

namespace auth {

struct KeyFault {
  std::string text;  ///< one sentence; never a part of the key
};

/// RSA of 2048 bits and more (RS384) or on the curve P-384 (ES384): the two that HL7 SMART App Launch, "Backend Services", has every client know.
/// Copies share the key. Safe to use from several threads.
class SigningKey {
 public:
  /// PEM text of an unencrypted private key (PKCS #8 or the older forms).
  static boost::system::result<SigningKey, KeyFault> read(std::string_view pem);

  std::string_view algorithm() const { return algorithm_; }  ///< "RS384", "ES384" (RFC 7518, section 3.1)
  const std::string& id() const { return id_; }              ///< RFC 7638 thumbprint with SHA-256: the same key always has the same
  /// Raw signature bytes as a JWS carries them: for ES384 r and s of 48 bytes each (RFC 7518, section 3.4). Empty: OpenSSL failed.
  std::string sign(std::string_view text) const;
  /// Public JSON Web Key with kty, kid, use, alg, key_ops and the numbers (RFC 7517, 7518).
  json::Value public_jwk() const;

 private:
  struct Free {
    void operator()(evp_pkey_st* key) const;
  };
  std::shared_ptr<evp_pkey_st> key_;
  std::string_view algorithm_;
  std::string id_;
  json::Value numbers_;  ///< the members that the thumbprint covers, in its order
};

/// RFC 4648, section 5, without padding.
std::string base64url(std::string_view bytes);

/// {"keys": [...]}: what is served at /.well-known/jwks.json, the signing key first.
json::Value key_set(const std::vector<SigningKey>& keys);

}  // namespace auth
