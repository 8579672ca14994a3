#include "auth/client_assertion.h"

namespace auth {

std::string signed_assertion(const SigningKey& key, const Assertion& a) {
  constexpr std::int64_t kLifetime = 240;
  const auto header = json::Value::object({{"alg", std::string(key.algorithm())}, {"kid", key.id()}, {"typ", "JWT"}});
  const auto claims = json::Value::object({{"iss", a.client_id}, {"sub", a.client_id}, {"aud", a.token_url}, {"exp", a.now + kLifetime}, {"jti", a.id}});
  const std::string text = base64url(json::write(header)) + "." + base64url(json::write(claims));
  const std::string signature = key.sign(text);
  return signature.empty() ? std::string{} : text + "." + base64url(signature);
}

}  // namespace auth
