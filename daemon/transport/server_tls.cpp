#include "transport/server_tls.h"
#include "transport/file_stamp.h"
#include "transport/http_client.h"

#include <openssl/bio.h>
#include <openssl/pem.h>
#include <openssl/ssl.h>
#include <openssl/x509.h>

#include <algorithm>
#include <ctime>

namespace ssl = boost::asio::ssl;
using boost::system::error_code;

namespace transport {
namespace {

struct BioFree {
  void operator()(BIO* bio) const { BIO_free(bio); }
};
struct CertificateFree {
  void operator()(X509* certificate) const { X509_free(certificate); }
};

/// The parts of a subject without regard to their order, to spaces around them and to the case of their names.
std::vector<std::string> normal_subject(std::string_view subject) {
  std::vector<std::string> parts{""};
  for (std::size_t i = 0; i < subject.size(); ++i) {
    if (subject[i] == '\\' && i + 1 < subject.size()) parts.back() += subject[i], parts.back() += subject[++i];
    else if (subject[i] == ',') parts.emplace_back();
    else parts.back() += subject[i];
  }
  for (auto& part : parts) {
    part.erase(0, std::min(part.size(), part.find_first_not_of(' ')));
    while (part.ends_with(' ')) part.pop_back();
    auto equals = part.find('=');
    for (std::size_t i = 0; i < std::min(part.size(), equals); ++i) part[i] = part[i] >= 'a' && part[i] <= 'z' ? static_cast<char>(part[i] - 32) : part[i];
    if (equals == std::string::npos) continue;
    while (equals > 0 && part[equals - 1] == ' ') part.erase(--equals, 1);
    while (equals + 1 < part.size() && part[equals + 1] == ' ') part.erase(equals + 1, 1);
  }
  std::ranges::sort(parts);
  return parts;
}

std::int64_t end_of(X509 const* certificate) {
  std::tm end{};
  if (certificate == nullptr || ASN1_TIME_to_tm(X509_get0_notAfter(certificate), &end) != 1) return 0;
  return static_cast<std::int64_t>(::timegm(&end));
}

bool is_in_force(X509 const* certificate) {
  return certificate != nullptr && X509_cmp_current_time(X509_get0_notBefore(certificate)) < 0 && X509_cmp_current_time(X509_get0_notAfter(certificate)) > 0;
}

}  // namespace

boost::system::result<std::shared_ptr<ServerTls>, StartError> ServerTls::load(ServerTlsFiles files, std::function<void(std::string_view)> on_trouble) {
  std::shared_ptr<ServerTls> tls(new ServerTls(std::move(files), std::move(on_trouble)));
  tls->stamp_ = tls->stamp();
  if (auto read = tls->read(); !read) return read.error();
  tls->looked_ = std::chrono::steady_clock::now();
  return tls;
}

boost::system::result<void, StartError> ServerTls::read() {
  auto context = std::make_shared<ssl::context>(ssl::context::tls_server);
  error_code error;
  auto const fault = [&](std::string const& what, std::string const& file) { return StartError{what + " (" + file + "): " + error.message() + "."}; };
  context->set_options(ssl::context::default_workarounds | ssl::context::no_tlsv1 | ssl::context::no_tlsv1_1, error);
  SSL_CTX_set_options(context->native_handle(), SSL_OP_NO_RENEGOTIATION | SSL_OP_CIPHER_SERVER_PREFERENCE);
  // A key behind a password would wait for a terminal that a daemon does not have.
  context->set_password_callback([](std::size_t, ssl::context::password_purpose) { return std::string(); }, error);
  context->use_certificate_chain_file(files_.certificate, error);
  if (error) return fault("The certificate cannot be read", files_.certificate);
  context->use_private_key_file(files_.key, ssl::context::pem, error);
  if (error) return fault("The key cannot be read, or does not belong to the certificate", files_.key);
  if (asks_for_certificate()) {
    context->load_verify_file(files_.client_authorities, error);
    if (error) return fault("The authorities of clients cannot be read", files_.client_authorities);
    if (auto* const names = SSL_load_client_CA_file(files_.client_authorities.c_str())) SSL_CTX_set_client_CA_list(context->native_handle(), names);
    context->set_verify_mode(ssl::verify_peer | ssl::verify_fail_if_no_peer_cert, error);
  }
  // Sessions are not resumed: a client whose certificate is no longer admitted must not come in by an old one.
  SSL_CTX_set_session_cache_mode(context->native_handle(), SSL_SESS_CACHE_OFF);
  SSL_CTX_set_num_tickets(context->native_handle(), 0);
  auto const* const certificate = SSL_CTX_get0_certificate(context->native_handle());
  // At the start there is nothing better; a renewal that nobody would accept does not take the place of one that is accepted.
  if (context_ && is_in_force(SSL_CTX_get0_certificate(context_->native_handle())) && !is_in_force(certificate))
    return StartError{"The new certificate is not in force: it has ended, or has not begun (" + files_.certificate + ")."};
  expires_ = end_of(certificate);
  context_ = std::move(context);
  return {};
}

std::string ServerTls::stamp() const { return stamp_of({files_.certificate, files_.key, files_.client_authorities}); }

std::optional<std::int64_t> certificate_end(std::string const& pem_file) {
  std::unique_ptr<BIO, BioFree> const file(BIO_new_file(pem_file.c_str(), "r"));
  std::unique_ptr<X509, CertificateFree> const certificate(file ? PEM_read_bio_X509(file.get(), nullptr, nullptr, nullptr) : nullptr);
  return certificate ? std::optional(end_of(certificate.get())) : std::nullopt;
}

std::shared_ptr<ssl::context> ServerTls::current() {
  std::string trouble;
  std::shared_ptr<ssl::context> context;
  {
    std::lock_guard const lock(mutex_);
    auto const now = std::chrono::steady_clock::now();
    if (now - looked_ >= std::chrono::seconds{1}) {
      looked_ = now;
      if (auto const seen = stamp(); seen != stamp_) {
        stamp_ = seen;
        auto const read_again = read();
        trouble_ = read_again ? std::string() : read_again.error().text + " The certificate read before stays in use.";
        trouble = trouble_;
      }
    }
    context = context_;
  }
  if (!trouble.empty() && on_trouble_) on_trouble_(trouble);
  return context;
}

std::string ServerTls::trouble() {
  current();
  std::lock_guard const lock(mutex_);
  return trouble_;
}

std::int64_t ServerTls::expires() {
  current();
  std::lock_guard const lock(mutex_);
  return expires_;
}

bool ServerTls::in_force() {
  std::lock_guard const lock(mutex_);
  return is_in_force(SSL_CTX_get0_certificate(context_->native_handle()));
}

bool ServerTls::admits(std::string_view subject) const {
  return files_.client_subjects.empty() || std::ranges::any_of(files_.client_subjects, [&](auto const& one) { return normal_subject(one) == normal_subject(subject); });
}

std::string subject_of_peer(SSL* connection) {
  std::unique_ptr<X509, CertificateFree> const certificate(SSL_get1_peer_certificate(connection));
  std::unique_ptr<BIO, BioFree> const text(BIO_new(BIO_s_mem()));
  if (!certificate || !text) return {};
  X509_NAME_print_ex(text.get(), X509_get_subject_name(certificate.get()), 0, XN_FLAG_RFC2253 & ~ASN1_STRFLGS_ESC_MSB);
  char* data = nullptr;
  auto const size = BIO_get_mem_data(text.get(), &data);
  return {data, static_cast<std::size_t>(size)};
}

}  // namespace transport
