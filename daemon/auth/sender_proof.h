// Whether a request really comes from a sender that we know: a shared secret in a header, or a signature over the body.
#pragma once

#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "transport/http_message.h"

namespace auth {

struct SenderRules {
  bool asks_secret = false, asks_signature = false;   ///< asked for also while there is none to compare with: then nobody is let in
  /// Each of them is taken, so that one can follow another without a gap.
  std::vector<std::string> secrets = {};
  std::string secret_header = "X-Sender-Key";  ///< what FHIR's Subscription.channel.header sends along
  /// HMAC-SHA256 keys, taken likewise. A signature covers the body alone: what comes without one and changes something is refused under it.
  std::vector<std::string> signing_secrets = {};
  /// "webhook-signature": the words "v1,BASE64" of HMAC over "ID.TIMESTAMP.BODY" with webhook-id and webhook-timestamp beside it, as the open webhook conventions have it;
  /// any other name: the hexadecimal HMAC of the body alone, with or without "sha256=" before it.
  std::string signature_header = "webhook-signature";
};

/// Compares in a time that does not tell how much was right. Thread-safe.
class SenderProof {
 public:
  explicit SenderProof(SenderRules rules) : rules_(std::move(rules)) {}
  bool asks_for_nothing();
  /// Secrets that have changed.
  void replace(SenderRules rules);
  struct Objection {
    bool taken_before = false;  ///< genuine, and its first copy was taken: it is answered as a success and not taken again
    bool under_way = false;     ///< genuine, and its first copy is not yet answered: it may come again later
    std::string why;
  };
  /// Why the request is not let in; none: it is genuine. Before anything of the body is read. `now`: seconds since 1970, UTC. A signed time may lie 300 s to either side,
  /// and a signed id counts once within that.
  std::optional<Objection> objection(const transport::Request&, std::int64_t now);
  /// Why a request is not let in whatever its body says: the shared secret, where one is asked for. Leaves no trace.
  std::optional<std::string> objection_to_head(const transport::Request&);
  /// The answer to it was no success: the same id may come again.
  void forget(const transport::Request&);
  /// It is durable: a repeat is answered as a success from now on.
  void taken(const transport::Request&);

 private:
  std::optional<std::string> about_secret(const transport::Request&) const;
  std::optional<Objection> about_signature(const transport::Request&, std::int64_t now);

  std::mutex mutex_;  // guards what follows
  SenderRules rules_;
  struct Seen {
    std::int64_t at = 0;  // signed time; a sender that tries again signs another for the same id
    bool taken = false;   // its first copy was
  };
  std::map<std::string, Seen> seen_;  // by id
};

/// One secret a line; spaces at the ends, empty lines and lines that begin with # do not count.
std::vector<std::string> secrets_of(std::string_view text);

}  // namespace auth
