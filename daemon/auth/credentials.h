// What is written into Authorization for the record system, and where it comes from.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <variant>
#include <vector>

#include "auth/signing_key.h"
#include "transport/network.h"

namespace auth {

/// How it stands, for /status and the log. Never a secret.
struct AccessState {
  std::string kind;                    ///< "none", "bearer", "basic", "backend-services"
  bool usable = true;                  ///< a header is there, or nothing says that there will be none
  std::string trouble;                 ///< why there is none: a sentence for people; empty: none
  std::vector<std::string> not_granted;///< scopes asked for and not given
  std::int64_t valid_seconds = -1;     ///< of the token in use, from now; -1: not known
};

/// One for a record. Thread-safe; callbacks run on the network's thread or inside the call.
struct Credentials {
  virtual ~Credentials() = default;
  using Header = std::variant<std::string, transport::Failure>;
  /// The whole value of Authorization (empty: the field is left out), or why there is none: then nothing may be sent.
  virtual void header(std::function<void(Header)> then) = 0;
  /// The record answered 401 to this value: it is not given out again where a new one can be had. False: there is no other.
  virtual bool refused(const std::string& header) = 0;
  /// The record took this value: whatever was wrong is over.
  virtual void accepted(const std::string& header) = 0;
  virtual AccessState state() const = 0;
};

/// No Authorization at all.
std::unique_ptr<Credentials> no_credentials();
/// The same value always. `read` is asked anew after a refusal, so that a replaced file counts at once; empty answer: it cannot be read. A value that was refused is
/// given out again only after a pause, 5 s and doubling to five minutes: a wrong password locks an account.
std::unique_ptr<Credentials> fixed_credentials(std::string kind, std::function<std::string()> read,
                                               std::function<std::chrono::steady_clock::time_point()> now = std::chrono::steady_clock::now);
/// RFC 7617; user and password in UTF-8.
std::string basic_header(std::string_view user, std::string_view password);

struct BackendServiceOptions {
  std::string base_url;      ///< of the record: its .well-known/smart-configuration names the token endpoint
  std::string token_url;     ///< empty: discovered
  std::string client_id;
  std::string scope;         ///< as asked for: "system/Patient.rs system/Task.crus"
  std::function<std::int64_t()> now;        ///< seconds since 1970, UTC: for the assertion alone; lifetimes are counted on a clock that never jumps
  std::function<std::string()> fresh_id;    ///< at least 128 random bits, another each time
  std::chrono::milliseconds timeout = std::chrono::seconds{30};
  std::chrono::milliseconds first_pause = std::chrono::seconds{5};   ///< after a failure; doubles, up to
  std::chrono::milliseconds longest_pause = std::chrono::minutes{5};
  std::function<double()> chance = {};      ///< 0 to 1, spreads the pauses of several clients by a fifth; none: not spread
};
/// HL7 SMART Backend Services: one token for all requests, fetched once however many wait for it, renewed when a fifth of its life or 60 s are left, whichever is
/// less. After a failure requests fail at once until the pause is over, so that an authorisation server is never hammered; where it refuses the client itself
/// (invalid_client) the pause is the longest one from the start. A fresh token that the record refuses as well counts as a failure too. `key` is asked for before
/// each request for a token, so that another one may take over while the program runs.
std::unique_ptr<Credentials> backend_service(transport::Network&, std::function<SigningKey()> key, BackendServiceOptions);

}  // namespace auth
