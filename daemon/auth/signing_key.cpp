#include "auth/signing_key.h"

#include <openssl/bio.h>
#include <openssl/bn.h>
#include <openssl/core_names.h>
#include <openssl/ecdsa.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/sha.h>

#include <optional>
#include <vector>

namespace auth {
namespace {

struct BioFree {
  void operator()(BIO* bio) const { BIO_free(bio); }
};
struct BignumFree {
  void operator()(BIGNUM* number) const { BN_free(number); }
};
struct DigestFree {
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
};
struct SignatureFree {
  void operator()(ECDSA_SIG* signature) const { ECDSA_SIG_free(signature); }
};

constexpr int kCurveBytes = 48;  // P-384

/// A number of the key, big endian; padded to `bytes` where that is given.
std::optional<std::string> number_of(const EVP_PKEY* key, const char* name, int bytes = 0) {
  BIGNUM* read = nullptr;
  if (EVP_PKEY_get_bn_param(key, name, &read) != 1) return std::nullopt;
  const std::unique_ptr<BIGNUM, BignumFree> number(read);
  std::string out(static_cast<std::size_t>(bytes > 0 ? bytes : BN_num_bytes(number.get())), '\0');
  auto* to = reinterpret_cast<unsigned char*>(out.data());
  if (bytes > 0 ? BN_bn2binpad(number.get(), to, bytes) != bytes : BN_bn2bin(number.get(), to) < 0) return std::nullopt;
  return out;
}

std::string sha256(std::string_view text) {
  std::string out(SHA256_DIGEST_LENGTH, '\0');
  SHA256(reinterpret_cast<const unsigned char*>(text.data()), text.size(), reinterpret_cast<unsigned char*>(out.data()));
  return out;
}

bool on_p384(const EVP_PKEY* key) {
  char name[64] = {};
  std::size_t length = 0;
  return EVP_PKEY_get_utf8_string_param(key, OSSL_PKEY_PARAM_GROUP_NAME, name, sizeof name, &length) == 1 && std::string_view(name, length) == "secp384r1";
}

/// DER as OpenSSL gives it, to r and s side by side.
std::string raw_signature(std::string_view der) {
  const auto* from = reinterpret_cast<const unsigned char*>(der.data());
  const std::unique_ptr<ECDSA_SIG, SignatureFree> signature(d2i_ECDSA_SIG(nullptr, &from, static_cast<long>(der.size())));
  if (!signature) return {};
  std::string out(2 * kCurveBytes, '\0');
  auto* to = reinterpret_cast<unsigned char*>(out.data());
  if (BN_bn2binpad(ECDSA_SIG_get0_r(signature.get()), to, kCurveBytes) != kCurveBytes) return {};
  if (BN_bn2binpad(ECDSA_SIG_get0_s(signature.get()), to + kCurveBytes, kCurveBytes) != kCurveBytes) return {};
  return out;
}

}  // namespace

void SigningKey::Free::operator()(evp_pkey_st* key) const { EVP_PKEY_free(key); }

boost::system::result<SigningKey, KeyFault> SigningKey::read(std::string_view pem) {
  const std::unique_ptr<BIO, BioFree> bio(BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())));
  // An encrypted key would ask the terminal for its password: the daemon has none.
  const auto no_password = [](char*, int, int, void*) { return 0; };
  SigningKey out;
  out.key_ = std::shared_ptr<evp_pkey_st>(bio ? PEM_read_bio_PrivateKey(bio.get(), nullptr, no_password, nullptr) : nullptr, Free{});
  const EVP_PKEY* key = out.key_.get();
  if (!key) return KeyFault{"it holds no unencrypted private key in PEM"};
  if (EVP_PKEY_is_a(key, "RSA") == 1) {
    if (EVP_PKEY_get_bits(key) < 2048) return KeyFault{"an RSA key needs 2048 bits or more"};
    const auto e = number_of(key, OSSL_PKEY_PARAM_RSA_E), n = number_of(key, OSSL_PKEY_PARAM_RSA_N);
    if (!e || !n) return KeyFault{"its public numbers cannot be read"};
    out.algorithm_ = "RS384";
    out.numbers_ = json::Value::object({{"e", base64url(*e)}, {"kty", "RSA"}, {"n", base64url(*n)}});
  } else if (EVP_PKEY_is_a(key, "EC") == 1 && on_p384(key)) {
    const auto x = number_of(key, OSSL_PKEY_PARAM_EC_PUB_X, kCurveBytes), y = number_of(key, OSSL_PKEY_PARAM_EC_PUB_Y, kCurveBytes);
    if (!x || !y) return KeyFault{"its public numbers cannot be read"};
    out.algorithm_ = "ES384";
    out.numbers_ = json::Value::object({{"crv", "P-384"}, {"kty", "EC"}, {"x", base64url(*x)}, {"y", base64url(*y)}});
  } else {
    return KeyFault{"it is neither RSA nor on the curve P-384"};
  }
  out.id_ = base64url(sha256(json::write(out.numbers_)));
  return out;
}

std::string SigningKey::sign(std::string_view text) const {
  const std::unique_ptr<EVP_MD_CTX, DigestFree> context(EVP_MD_CTX_new());
  const auto* bytes = reinterpret_cast<const unsigned char*>(text.data());
  std::size_t size = 0;
  if (!context || EVP_DigestSignInit(context.get(), nullptr, EVP_sha384(), nullptr, key_.get()) != 1) return {};
  if (EVP_DigestSign(context.get(), nullptr, &size, bytes, text.size()) != 1) return {};
  std::string out(size, '\0');
  if (EVP_DigestSign(context.get(), reinterpret_cast<unsigned char*>(out.data()), &size, bytes, text.size()) != 1) return {};
  out.resize(size);
  return algorithm_ == "ES384" ? raw_signature(out) : out;
}

json::Value SigningKey::public_jwk() const {
  json::Value jwk = numbers_;
  jwk.set("kid", id_);
  jwk.set("use", "sig");
  jwk.set("alg", std::string(algorithm_));
  jwk.set("key_ops", json::Value::array({"verify"}));
  return jwk;
}

std::string base64url(std::string_view bytes) {
  constexpr std::string_view letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
  std::string out;
  out.reserve((bytes.size() * 4 + 2) / 3);
  unsigned held = 0;
  int bits = 0;
  for (const char c : bytes) {
    held = held << 8U | static_cast<unsigned char>(c);
    for (bits += 8; bits >= 6; bits -= 6) out += letters[held >> static_cast<unsigned>(bits - 6) & 63U];
    held &= (1U << static_cast<unsigned>(bits)) - 1U;
  }
  if (bits > 0) out += letters[held << static_cast<unsigned>(6 - bits) & 63U];
  return out;
}

json::Value key_set(const std::vector<SigningKey>& keys) {
  json::Value list = json::Value::array();
  for (const auto& key : keys) list.push(key.public_jwk());
  return json::Value::object({{"keys", std::move(list)}});
}

}  // namespace auth
