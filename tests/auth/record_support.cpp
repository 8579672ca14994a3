#include "record_support.h"

#include <jwt.h>
#include <openssl/bio.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rsa.h>

#include <chrono>
#include <ctime>
#include <map>

namespace auth {
namespace {

TestKey pem_of(EVP_PKEY* key) {
  const auto text = [](auto&& write) {
    BIO* bio = BIO_new(BIO_s_mem());
    write(bio);
    char* data = nullptr;
    const long size = BIO_get_mem_data(bio, &data);
    std::string out(data, static_cast<std::size_t>(size));
    BIO_free(bio);
    return out;
  };
  TestKey out{text([&](BIO* bio) { PEM_write_bio_PrivateKey(bio, key, nullptr, nullptr, 0, nullptr, nullptr); }), text([&](BIO* bio) { PEM_write_bio_PUBKEY(bio, key); })};
  EVP_PKEY_free(key);
  return out;
}

std::map<std::string, std::string> form_of(const std::string& body) {
  const auto plain = [](std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i)
      if (text[i] == '%') out += static_cast<char>(std::stoi(std::string(text.substr(i + 1, 2)), nullptr, 16)), i += 2;
      else out += text[i] == '+' ? ' ' : text[i];
    return out;
  };
  std::map<std::string, std::string> form;
  std::string_view rest = body;
  while (!rest.empty()) {
    const auto pair = rest.substr(0, rest.find('&'));
    form[plain(pair.substr(0, pair.find('=')))] = plain(pair.substr(pair.find('=') + 1));
    rest.remove_prefix(std::min(rest.size(), pair.size() + 1));
  }
  return form;
}

}  // namespace

TestKey rsa_key(int bits) { return pem_of(EVP_RSA_gen(static_cast<unsigned>(bits))); }
TestKey p384_key() { return pem_of(EVP_EC_gen("P-384")); }

Record::Record(std::string client_key) : client_key_(std::move(client_key)) {
  transport::ServerOptions options;
  options.address = "127.0.0.1:0";
  server_ = std::make_unique<transport::HttpServer>(io_, options, [this](transport::Request request, transport::Reply reply) { answer(std::move(request), std::move(reply)); });
  if (auto started = server_->start(); !started) ADD_FAILURE() << started.error().text;
  io_.start();
}

void Record::fault(std::string text) {
  const std::scoped_lock lock(mutex_);
  faults_.push_back(std::move(text));
}
std::vector<std::string> Record::faults() {
  const std::scoped_lock lock(mutex_);
  return faults_;
}
std::string Record::last_authorization() {
  const std::scoped_lock lock(mutex_);
  return last_;
}
void Record::revoke() {
  const std::scoped_lock lock(mutex_);
  taken_.clear();
}
void Record::release() {
  hold_tokens = false;
  const std::scoped_lock lock(mutex_);
  for (auto& [reply, response] : held_) reply(response);
  held_.clear();
}

transport::Response Record::token(const transport::Request& request) {
  ++asked;
  transport::Headers json{{"Content-Type", "application/json"}};
  const std::time_t here = std::time(nullptr) + clock_apart;
  char date[40];
  if (std::tm parts{}; clock_apart != 0 && std::strftime(date, sizeof date, "%a, %d %b %Y %H:%M:%S GMT", ::gmtime_r(&here, &parts)) > 0) json.set("Date", date);
  auto form = form_of(request.body);
  if (request.headers.get("Content-Type") != "application/x-www-form-urlencoded") fault("content type");
  if (form["grant_type"] != "client_credentials") fault("grant_type " + form["grant_type"]);
  if (form["client_assertion_type"] != "urn:ietf:params:oauth:client-assertion-type:jwt-bearer") fault("client_assertion_type");
  if (client_unknown) return {401, json, R"({"error":"invalid_client"})"};
  if (token_status != 200) return {token_status, json, R"({"error":"server_error"})"};
  jwt_t* jwt = nullptr;
  const std::string assertion = form["client_assertion"];
  if (jwt_decode(&jwt, assertion.c_str(), reinterpret_cast<const unsigned char*>(client_key_.data()), static_cast<int>(client_key_.size())) != 0) {
    fault("libjwt does not verify the assertion");
    return {400, json, R"({"error":"invalid_client"})"};
  }
  const auto grant = [&](const char* name) { return std::string(jwt_get_grant(jwt, name) ? jwt_get_grant(jwt, name) : ""); };
  const long now = static_cast<long>(here), ends = jwt_get_grant_int(jwt, "exp");
  if (clock_apart != 0 && (ends <= now || ends > now + 300)) {
    jwt_free(jwt);
    return {401, json, R"({"error":"invalid_client","error_description":"exp"})"};
  }
  if (grant("iss") != "aftersheath-7" || grant("sub") != grant("iss")) fault("iss and sub");
  if (grant("aud") != token_url()) fault("aud " + grant("aud"));
  if (ends <= now || ends > now + 300) fault("exp " + std::to_string(ends - now));
  if (!jwt_get_header(jwt, "kid") || std::string(jwt_get_header(jwt, "typ") ? jwt_get_header(jwt, "typ") : "") != "JWT") fault("header");
  {
    const std::scoped_lock lock(mutex_);
    if (grant("jti").size() < 22 || !ids_.insert(grant("jti")).second) faults_.push_back("jti used before or short: " + grant("jti"));
  }
  jwt_free(jwt);
  const std::string made = "token-" + std::to_string(++tokens);
  {
    const std::scoped_lock lock(mutex_);
    taken_.insert("Bearer " + made);
  }
  return {200, json, R"({"access_token":")" + made + R"(","token_type":"bearer","expires_in":)" + std::to_string(life) + R"(,"scope":")" + (granted.empty() ? form["scope"] : granted) + "\"}"};
}

void Record::answer(transport::Request request, transport::Reply reply) {
  if (request.target == "/fhir/.well-known/smart-configuration") {
    ++discovered;
    return reply({200, {{"Content-Type", "application/json"}}, R"({"token_endpoint":")" + token_url() + "\"" + configuration_more + "}"});
  }
  if (request.target == "/token") {
    auto made = token(request);
    if (hold_tokens) {
      const std::scoped_lock lock(mutex_);
      held_.emplace_back(std::move(reply), std::move(made));
      return;
    }
    return reply(std::move(made));
  }
  const std::scoped_lock lock(mutex_);
  last_ = std::string(request.headers.get("Authorization").value_or(""));
  if (takes_none || !taken_.contains(last_)) return reply({401, {{"WWW-Authenticate", "Bearer"}}, ""});
  ++served;
  reply({200, {}, request.method + " " + request.target + " " + request.body});
}

}  // namespace auth
