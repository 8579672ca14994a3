#include <algorithm>
#include <atomic>
#include <chrono>
#include <mutex>

#include "auth/credentials.h"

namespace auth {
namespace {

class Fixed final : public Credentials {
 public:
  using Now = std::function<std::chrono::steady_clock::time_point()>;
  Fixed(std::string kind, std::function<std::string()> read, Now now) : kind_(std::move(kind)), read_(std::move(read)), now_(std::move(now)), value_(read_()) {}

  void header(std::function<void(Header)> then) override {
    Header answer;
    {
      const std::scoped_lock lock(mutex_);
      if (refused_ || value_.empty()) take(read_());
      if (value_.empty()) answer = transport::Failure{transport::FailureKind::not_sent, "The credentials for the record cannot be read."};
      else if (refused_ && now_() < not_before_) answer = transport::Failure{transport::FailureKind::not_sent, "The record refuses these credentials; they are tried again later."};
      else answer = value_;
    }
    then(std::move(answer));
  }

  bool refused(const std::string& header) override {
    const std::scoped_lock lock(mutex_);
    if (value_ != header) return !value_.empty();
    take(read_());
    if (value_ != header) return !value_.empty();
    refused_ = true;
    not_before_ = now_() + pause_;
    pause_ = std::min(pause_ * 2, longest);
    return false;
  }

  void accepted(const std::string& header) override {
    const std::scoped_lock lock(mutex_);
    if (value_ == header) refused_ = false, pause_ = first;
  }

  AccessState state() const override {
    const std::scoped_lock lock(mutex_);
    AccessState state{kind_, !value_.empty() && !refused_, {}, {}, -1};
    if (value_.empty()) state.trouble = "the file with the credentials cannot be read, or is empty";
    else if (refused_) state.trouble = "the record refuses these credentials";
    return state;
  }

 private:
  static constexpr std::chrono::seconds first{5}, longest{300};

  void take(std::string value) {
    if (value == value_) return;
    value_ = std::move(value);
    refused_ = false, pause_ = first;
  }

  const std::string kind_;
  const std::function<std::string()> read_;
  const Now now_;
  mutable std::mutex mutex_;
  std::string value_;
  bool refused_ = false;
  std::chrono::seconds pause_ = first;
  std::chrono::steady_clock::time_point not_before_{};
};

class None final : public Credentials {
 public:
  void header(std::function<void(Header)> then) override { then(std::string{}); }
  bool refused(const std::string&) override {
    refused_ = true;
    return false;
  }
  void accepted(const std::string&) override { refused_ = false; }
  AccessState state() const override {
    return {"none", !refused_, refused_ ? "the record asks for credentials, and none are configured" : "", {}, -1};
  }

 private:
  std::atomic<bool> refused_{false};
};

std::string base64(std::string_view bytes) {
  std::string out = base64url(bytes);
  for (char& c : out) c = c == '-' ? '+' : c == '_' ? '/' : c;
  out.append((4 - out.size() % 4) % 4, '=');
  return out;
}

}  // namespace

std::unique_ptr<Credentials> no_credentials() { return std::make_unique<None>(); }

std::unique_ptr<Credentials> fixed_credentials(std::string kind, std::function<std::string()> read, std::function<std::chrono::steady_clock::time_point()> now) {
  return std::make_unique<Fixed>(std::move(kind), std::move(read), std::move(now));
}

std::string basic_header(std::string_view user, std::string_view password) { return "Basic " + base64(std::string(user) + ":" + std::string(password)); }

}  // namespace auth
