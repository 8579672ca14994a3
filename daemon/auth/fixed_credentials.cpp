#include <mutex>

#include "auth/credentials.h"

namespace auth {
namespace {

class Fixed final : public Credentials {
 public:
  Fixed(std::string kind, std::function<std::string()> read) : kind_(std::move(kind)), read_(std::move(read)), value_(read_()) {}

  void header(std::function<void(Header)> then) override {
    std::string value;
    {
      const std::scoped_lock lock(mutex_);
      value = value_;
    }
    if (value.empty()) then(transport::Failure{transport::FailureKind::not_sent, "The credentials for the record cannot be read."});
    else then(std::move(value));
  }

  bool refused(const std::string& header) override {
    const std::scoped_lock lock(mutex_);
    if (value_ == header) value_ = read_();
    refused_ = value_ == header;
    return !refused_ && !value_.empty();
  }

  AccessState state() const override {
    const std::scoped_lock lock(mutex_);
    AccessState state{kind_, !value_.empty() && !refused_, {}, {}, -1};
    if (value_.empty()) state.trouble = "the file with the credentials cannot be read, or is empty";
    else if (refused_) state.trouble = "the record refuses these credentials";
    return state;
  }

 private:
  const std::string kind_;
  const std::function<std::string()> read_;
  mutable std::mutex mutex_;
  std::string value_;
  bool refused_ = false;
};

class None final : public Credentials {
 public:
  void header(std::function<void(Header)> then) override { then(std::string{}); }
  bool refused(const std::string&) override { return false; }
  AccessState state() const override { return {"none", true, {}, {}, -1}; }
};

std::string base64(std::string_view bytes) {
  std::string out = base64url(bytes);
  for (char& c : out) c = c == '-' ? '+' : c == '_' ? '/' : c;
  out.append((4 - out.size() % 4) % 4, '=');
  return out;
}

}  // namespace

std::unique_ptr<Credentials> no_credentials() { return std::make_unique<None>(); }

std::unique_ptr<Credentials> fixed_credentials(std::string kind, std::function<std::string()> read) { return std::make_unique<Fixed>(std::move(kind), std::move(read)); }

std::string basic_header(std::string_view user, std::string_view password) { return "Basic " + base64(std::string(user) + ":" + std::string(password)); }

}  // namespace auth
