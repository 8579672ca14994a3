// The addresses that our own Subscriptions call, and the secret that each call must carry. Thread-safe: asked on the server's threads before a body is read.
#pragma once

#include <map>
#include <mutex>
#include <set>
#include <span>
#include <string>
#include <string_view>

#include "app/intake_path.h"
#include "transport/http_message.h"

namespace app {

class Hooks {
 public:
  enum class Verdict {
    not_ours,  ///< another sender's address: the intake's own rules decide
    genuine,
    unknown,   ///< it has the form of ours, and there is none of that name
    forged     ///< the secret is missing or wrong
  };
  struct Hook {
    std::string secret;
    bool r5 = false;
  };

  /// `source`: of the record; `prefix`: how the names of ours begin; `header`: the field that carries the secret.
  void name(std::string source, std::string prefix, std::string header);
  void put(const std::string& name, Hook hook);
  void drop(const std::string& name);

  /// Compares in a time that does not tell how much was right.
  Verdict judge(const IntakePath&, const transport::Headers&) const;
  /// Calls with a wrong secret came there, and none with the right one after them; asked, it is forgotten.
  bool shut_out(const std::string& name);
  bool ours(const IntakePath& path) const;
  /// FHIR versions in which that hook may be told something.
  std::span<const std::string_view> versions(const std::string& name) const;

 private:
  bool has_our_form(const IntakePath&) const;

  mutable std::mutex mutex_;  ///< guards what follows
  std::string source_, prefix_, header_;
  std::map<std::string, Hook> hooks_;
  mutable std::set<std::string> shut_out_;  ///< names
};

/// 256 random bits as text; empty where the machine has none to give. Never to be logged.
std::string fresh_secret();

}  // namespace app
