#include "transport/tls_support.h"

#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/ssl.h>
#include <openssl/x509v3.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>

namespace sockets {
namespace {

template <auto free_it>
struct Free {
  template <class T>
  void operator()(T* value) const {
    free_it(value);
  }
};
using Key = std::unique_ptr<EVP_PKEY, Free<EVP_PKEY_free>>;
using Certificate = std::unique_ptr<X509, Free<X509_free>>;

void add_name(X509* certificate, std::string const& name) {
  auto* const extension = X509V3_EXT_conf_nid(nullptr, nullptr, NID_subject_alt_name, ("DNS:" + name).c_str());
  X509_add_ext(certificate, extension, -1);
  X509_EXTENSION_free(extension);
}

Certificate self_signed(EVP_PKEY* key, TlsServerOptions const& options) {
  Certificate certificate(X509_new());
  X509_set_version(certificate.get(), 2);
  ASN1_INTEGER_set(X509_get_serialNumber(certificate.get()), 1);
  X509_gmtime_adj(X509_getm_notBefore(certificate.get()), -7200);
  X509_gmtime_adj(X509_getm_notAfter(certificate.get()), options.seconds_valid);
  X509_set_pubkey(certificate.get(), key);
  auto* const name = X509_get_subject_name(certificate.get());
  auto const* const text = reinterpret_cast<unsigned char const*>("invented test server");
  X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_ASC, text, -1, -1, 0);
  X509_set_issuer_name(certificate.get(), name);
  add_name(certificate.get(), options.name);
  X509_sign(certificate.get(), key, EVP_sha256());
  return certificate;
}

std::string write_pem(X509* certificate) {
  char path[] = "/tmp/tls-test-XXXXXX";
  std::FILE* const file = ::fdopen(::mkstemp(path), "w");
  PEM_write_X509(file, certificate);
  std::fclose(file);
  return path;
}

}  // namespace

struct TlsServer::Secrets {
  Key key{EVP_EC_gen("P-256")};
  std::unique_ptr<SSL_CTX, Free<SSL_CTX_free>> context{SSL_CTX_new(TLS_server_method())};
};

TlsServer::TlsServer(std::string answer, TlsServerOptions options) : answer_(std::move(answer)), secrets_(std::make_unique<Secrets>()) {
  auto const certificate = self_signed(secrets_->key.get(), options);
  file_ = write_pem(certificate.get());
  auto* const context = secrets_->context.get();
  SSL_CTX_use_certificate(context, certificate.get());
  SSL_CTX_use_PrivateKey(context, secrets_->key.get());
  if (options.highest_version != 0) {
    SSL_CTX_set_security_level(context, 0);
    SSL_CTX_set_min_proto_version(context, options.highest_version);
    SSL_CTX_set_max_proto_version(context, options.highest_version);
  }
  thread_ = std::thread([this] { serve(); });
}

TlsServer::~TlsServer() {
  if (thread_.joinable()) thread_.join();
  ::unlink(file_.c_str());
}

std::string TlsServer::request() {
  thread_.join();
  return request_;
}

void TlsServer::serve() {
  auto const peer = listener_.accept();
  std::unique_ptr<SSL, Free<SSL_free>> const ssl(SSL_new(secrets_->context.get()));
  SSL_set_fd(ssl.get(), peer.fd());
  if (SSL_accept(ssl.get()) != 1) return;
  if (auto const* const asked = SSL_get_servername(ssl.get(), TLSEXT_NAMETYPE_host_name)) request_ = asked;
  request_ += "\n";
  char bytes[4096];
  for (int count = 1; count > 0 && request_.find("\r\n\r\n") == std::string::npos;) {
    count = SSL_read(ssl.get(), bytes, sizeof bytes);
    if (count > 0) request_.append(bytes, static_cast<std::size_t>(count));
  }
  SSL_write(ssl.get(), answer_.data(), static_cast<int>(answer_.size()));
}

}  // namespace sockets
